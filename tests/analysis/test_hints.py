"""Hints: converters that did not report themselves, clocks that disagree. Offered, never applied."""

from __future__ import annotations

from datetime import datetime, timedelta
from pathlib import Path

import pytest

from auditor.analysis.hints import BurstLight, clock_hints, converter_hints, hints
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook

START = datetime(2026, 4, 18, 6)
SAMPLE = Path(__file__).parents[2] / "sample_images"


def burst(
    minutes: float,
    light_ev: float | None = 12.0,
    *,
    body: str = "one",
    kit_id: int = 1,
    bare: bool = True,
    zone: str | None = None,
) -> BurstLight:
    first = START + timedelta(minutes=minutes)
    return BurstLight(
        body=body,
        kit_id=kit_id,
        bare=bare,
        first_at=first.isoformat(),
        last_at=(first + timedelta(seconds=2)).isoformat(),
        light_value_ev=light_ev,
        utc_offset=zone,
    )


@pytest.mark.parametrize(("drop_ev", "factor"), [(1.0, "1.4"), (0.8, "1.4"), (2.1, "2")])
def test_a_step_down_of_a_stop_or_two_on_one_body(drop_ev: float, factor: str) -> None:
    (hint,) = converter_hints([burst(0), burst(2, 12 - drop_ev)])
    assert f"--factor {factor} --from 2026-04-18T06:02" in hint.command
    assert '--body "one"' in hint.command


@pytest.mark.parametrize(
    "after",
    [
        burst(2, 11.5),  # half a stop is weather
        burst(2, 13.0),  # brighter is no converter
        burst(20, 11.0),  # too long after: the light may have changed
        burst(2, 11.0, kit_id=2),  # another kit: that is no silent change
        burst(2, 11.0, bare=False),  # its converter is known already
        burst(2, None),
    ],
)
def test_what_is_no_hint(after: BurstLight) -> None:
    assert converter_hints([burst(0), after]) == []


def test_a_second_body_beside_it_tells_the_light() -> None:
    (hint,) = converter_hints([burst(0, body="two", kit_id=9, bare=False), burst(0.5, 11.0)])
    assert hint.text.startswith("one reads about one stop darker")


def test_clocks_in_two_zones() -> None:
    (hint,) = clock_hints(
        [burst(0, zone="+02:00"), burst(1, zone="+02:00"), burst(5, body="two", zone="+01:00")]
    )
    assert hint.command == 'auditor declare clock --body "two" --offset +1:00'


def test_clocks_that_meet_when_shifted() -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    together = [burst(m) for m in minutes] + [burst(m + 0.5 - 180, body="two") for m in minutes]
    (hint,) = clock_hints(sorted(together, key=lambda b: b.first_at))
    assert hint.command == 'auditor declare clock --body "two" --offset +3:00'


def test_clocks_that_agree_or_never_meet() -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    assert clock_hints([burst(m) for m in minutes] + [burst(m + 0.3, body="two") for m in minutes]) == []
    assert clock_hints([burst(m) for m in minutes] + [burst(5000 + 7 * m, body="two") for m in minutes]) == []


def test_the_silent_converter_of_the_sample_trip_is_found_and_nobody_else_is_suspected(
    tmp_path: Path,
) -> None:
    import csv

    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [SAMPLE], Settings())
    with open_logbook(logbook) as book:
        found = hints(book)
    with (SAMPLE / "truth.csv").open(encoding="utf-8", newline="") as stream:
        truth = list(csv.DictReader(stream))
    silent_at = {
        row["taken_at"][:16] for row in truth if (row["body"][-2:], row["converter_factor"]) == ("S2", "1.4")
    }
    suspected = [hint for hint in found if "declare converter" in hint.command]
    assert suspected
    for hint in suspected:
        assert '"S2-10093" --factor 1.4' in hint.command
        first, last = hint.command.split("--from ")[1].split(" --to ")
        assert {first, last} <= silent_at
        bare_between = [
            row
            for row in truth
            if row["body"] == "Saltmark S2"
            and first <= row["taken_at"][:16] <= last
            and row["converter_factor"] != "1.4"
        ]
        assert bare_between == []
    assert [hint for hint in found if "declare clock" in hint.command] == []
