"""What encounters are called in the list of *Choose*, and at the head of each."""

from __future__ import annotations

import re
from pathlib import Path

from auditor.jobs.scan import scan
from auditor.settings import Settings
from tests.desk.conftest import StartDesk, Visitor
from tests.frame_files import Shot, write_card

BRIGHT, DARK = 1 / 4000, 1 / 250
"""Four stops apart: a larger change of light than one encounter has."""


def listed(tmp_path: Path, start_desk: StartDesk, shots: list[Shot]) -> list[str]:
    """The names in the list; each must be that of the page that it leads to."""
    write_card(tmp_path / "card", shots)
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    visitor = Visitor(start_desk(tmp_path / "logbook.sqlite").address).enter()
    found = re.findall(r'href="(/encounters/\d+)">([^<]+)</a>', visitor.get("/trips/1/encounters").text)
    for place, name in found:
        assert f"<h1>{name}</h1>" in visitor.get(place).text
    return [name for _place, name in found]


def test_encounters_of_one_minute_are_told_apart_by_their_seconds(
    tmp_path: Path, start_desk: StartDesk
) -> None:
    shots = [
        Shot(number=1, after_s=0, exposure_time_s=BRIGHT),
        Shot(number=2, after_s=20, exposure_time_s=DARK),
        Shot(number=3, after_s=25, exposure_time_s=DARK),
        Shot(number=4, after_s=1200, exposure_time_s=DARK),
    ]
    assert listed(tmp_path, start_desk, shots) == [
        "18 April 2026, 06:00:00",
        "18 April 2026, 06:00:20 to 06:00:25",
        "18 April 2026, 06:20",
    ]


def test_encounters_of_one_second_are_told_apart_by_their_number(
    tmp_path: Path, start_desk: StartDesk
) -> None:
    """Two bodies at once, one of them in the shade."""
    shots = [
        Shot(number=1, after_s=0, exposure_time_s=BRIGHT),
        Shot(number=2, after_s=0.2, exposure_time_s=DARK, model="Body Two", serial="2002"),
    ]
    assert listed(tmp_path, start_desk, shots) == [
        "18 April 2026, 06:00:00 (encounter 1)",
        "18 April 2026, 06:00:00 (encounter 2)",
    ]
