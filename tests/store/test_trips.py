"""A trip as people name it: by name, by number, or by the beginning of one name."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.errors import LogbookError
from auditor.store.logbook import open_logbook
from auditor.store.trips import find_trip

NAMES = ("2026-04-18 to 2026-04-19", "2026-05-01", "Marsh", "Marsh in autumn", "3")


@pytest.mark.parametrize(
    ("wanted", "trip_id"),
    [
        ("2026-04-18 to 2026-04-19", 1),
        ("2026-04-18", 1),
        ("2", 2),
        ("Marsh", 3),
        ("marsh in", 4),
        ("3", 5),
        (None, 5),
    ],
)
def test_a_trip_is_found(tmp_path: Path, wanted: str | None, trip_id: int) -> None:
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        with book.writing():
            for number, name in enumerate(NAMES, 1):
                book.execute(
                    "INSERT INTO trips (trip_id, name, first_at, last_at, frames, stamp) "
                    "VALUES (?, ?, ?, ?, 1, '')",
                    (number, name, f"2026-0{number}-01T08:00:00", f"2026-0{number}-01T09:00:00"),
                )
        assert find_trip(book, wanted).trip_id == trip_id
        for unclear in ("2026", "mar", "autumn", "", "9"):
            with pytest.raises(LogbookError, match="There is no trip"):
                find_trip(book, unclear)


def test_a_number_that_no_trip_has_is_not_the_beginning_of_a_year(tmp_path: Path) -> None:
    """A logbook with one trip, called by its days: trip 2 is another one, not that of 2026."""
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        with book.writing():
            book.execute(
                "INSERT INTO trips (trip_id, name, first_at, last_at, frames, stamp) "
                "VALUES (1, '2026-04-18', '2026-04-18T08:00:00', '2026-04-18T09:00:00', 1, '')"
            )
        for number in ("2", "20", "202"):
            with pytest.raises(LogbookError, match=f"There is no trip '{number}'"):
                find_trip(book, number)
        for begun in ("2026", "2026-04"):
            assert find_trip(book, begun).trip_id == 1
