"""Exposure set by hand, ISO left to a body that does not say so: the light is known all the same."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.derive.declaring import declare
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.declared_facts import BodyFacts, Said
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_card

LIGHT = "SELECT light_value_ev, json_extract(missing, '$.light_value_ev') FROM frame_facts ORDER BY taken_at"
BY_HAND = 1


def light_of(tmp_path: Path, shots: list[Shot]) -> list[tuple[float | None, str | None]]:
    write_card(tmp_path / "card", shots)
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    return read_light(tmp_path)


def read_light(tmp_path: Path) -> list[tuple[float | None, str | None]]:
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        return [tuple(row) for row in book.query(LIGHT)]


def burst(*isos: int, apart_s: float = 0.5, first: int = 1, after_s: float = 0.0) -> list[Shot]:
    return [
        Shot(number=first + n, after_s=after_s + n * apart_s, iso=iso, program=BY_HAND)
        for n, iso in enumerate(isos)
    ]


def test_iso_that_moves_from_frame_to_frame_was_left_to_the_body(tmp_path: Path) -> None:
    found = light_of(tmp_path, burst(800, 1000, 800, 1250, 1250))
    lights = [light for light, _why in found if light is not None]
    assert len(lights) == len(found) == 5
    assert lights[3] == pytest.approx(lights[0] - 0.64, abs=0.05)


@pytest.mark.parametrize(
    "shots",
    [
        burst(800, 800, 800, 800, 800),
        burst(400, 800, 1600, 3200, apart_s=60.0),  # time enough to turn a dial
    ],
)
def test_iso_that_stands_or_moves_slowly_was_set_by_hand(tmp_path: Path, shots: list[Shot]) -> None:
    assert {why for _light, why in light_of(tmp_path, shots)} == {"manual_exposure"}


def test_what_a_later_card_shows_counts_for_the_whole_day(tmp_path: Path) -> None:
    assert {why for _light, why in light_of(tmp_path, burst(800, 800, 800))} == {"manual_exposure"}
    write_card(tmp_path / "second", burst(800, 1000, 800, 1250, first=50, after_s=600.0))
    scan(tmp_path / "logbook.sqlite", [tmp_path / "second"], Settings())
    assert {why for _light, why in read_light(tmp_path)} == {None}


def test_where_it_cannot_be_seen_it_can_be_declared(tmp_path: Path) -> None:
    light_of(tmp_path, burst(800, 800, 800))
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        _number, effect = declare(book, Settings(), [Said(facts=BodyFacts(auto_iso=True), body="1001")])
    assert len(effect.changed) == 3
    assert {why for _light, why in read_light(tmp_path)} == {None}
