"""Choosing from a logbook: the same filters from Python, one trip or all."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.derive.rebuild import rebuild
from auditor.jobs.scan import scan
from auditor.keepers.choose import Passed, choose
from auditor.settings import Settings
from auditor.store.conditions import Conditions, moment
from auditor.store.frame_facts import FrameFacts, frames_by_id
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.selection import Selection
from auditor.store.trips import trips_newest_first
from tests.frame_files import Shot, write_card

DAY_S = 86_400.0


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """Two trips of three and two frames; no verdicts but those that are set here."""
    shots = [Shot(number=number, after_s=number / 10) for number in (1, 2, 3)]
    shots += [Shot(number=number, after_s=9 * DAY_S + number * 60) for number in (4, 5)]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        rebuild(book, Settings())
        with book.writing():
            book.execute("UPDATE verdicts SET verdict = 'hit'")
        yield book


def facts(book: Logbook, passed: Passed) -> list[FrameFacts]:
    return frames_by_id(book, [frame.frame_id for frame in passed.kept])


def test_one_trip_or_all(book: Logbook) -> None:
    newest, oldest = trips_newest_first(book)
    found = choose(book, Conditions())
    assert (found.frames, len(found.kept)) == (5, 5)
    for trip, count in ((newest, 2), (oldest, 3)):
        found = choose(book, Conditions(), Selection(trip_id=trip.trip_id))
        assert (found.frames, len(found.kept)) == (count, count)
        assert {frame.trip_id for frame in facts(book, found)} == {trip.trip_id}


def test_the_best_of_each_burst(book: Logbook) -> None:
    for at_most, kept in ((1, 3), (2, 4), (9, 5)):
        found = choose(book, Conditions(), at_most=at_most)
        assert (len(found.kept), found.beyond_best) == (kept, 5 - kept)


def test_a_frame_that_has_gone_gives_its_place_to_the_next_best(book: Logbook) -> None:
    chosen = choose(book, Conditions(), at_most=1).kept
    first = chosen[0]
    Path(first.path or "").unlink()  # not scanned again: the disk alone knows
    again = choose(book, Conditions(), at_most=1)
    assert len(again.kept) == len(chosen)
    assert [frame.frame_id for frame in again.gone] == [first.frame_id]
    assert first.frame_id not in {frame.frame_id for frame in again.kept}
    assert all(Path(frame.path or "").is_file() for frame in again.kept)


@pytest.mark.parametrize(
    "text", ["2026", "2026-04", "2026-04-18", "2026-04-18T09:30", "2026-04-18 09:30:00.25"]
)
def test_days_and_times(text: str) -> None:
    assert moment(text) == text.replace(" ", "T")


@pytest.mark.parametrize(
    "text",
    [
        "",
        "18.4.2026",
        "2026-13-01",
        "2026-02-30",
        "2026-04-18T25:00",
        "yesterday",
        "2026-4-8",
        "2026-04-18T09:30:00Z",
    ],
)
def test_what_is_no_time_is_refused_in_one_clear_line(text: str) -> None:
    with pytest.raises(ValueError, match="is no day or time: write 2026-04-18"):
        Conditions(to_at=text)


def test_a_selection_and_conditions_go_together(book: Logbook) -> None:
    trip_id = trips_newest_first(book)[0].trip_id
    late = Conditions(from_at="2026-04-27T06:05")
    both = choose(book, late, Selection(trip_id=trip_id)).kept
    assert [frame.frame_id for frame in both] == [
        frame.frame_id for frame in facts(book, choose(book, late)) if frame.trip_id == trip_id
    ]
    assert len(both) == 1


def test_a_frame_that_was_gone_when_last_scanned_is_gone_until_it_is_scanned_again(
    book: Logbook, tmp_path: Path
) -> None:
    """Its file is back, but may be another one: what is handed over is what the logbook knows."""
    first = choose(book, Conditions(), at_most=1).kept[0]
    path = Path(first.path or "")
    content = path.read_bytes()
    path.unlink()
    scan(book.path, [tmp_path / "card"], Settings())
    path.write_bytes(content)
    with book.writing():
        book.execute("UPDATE verdicts SET verdict = 'hit'")
    found = choose(book, Conditions(), at_most=1)
    assert [frame.frame_id for frame in found.gone] == [first.frame_id]
    assert len(found.kept) == 3
