"""Sums as columns come back as SQL told them, in the order that comparisons rest on; damage is told."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.jobs.opening import up_to_date
from auditor.store import damage, encounter_columns, summed
from auditor.store.encounter_columns import COUNTS, FLOATS, NAMES, TIMES, Words, columns_of, part_of
from auditor.store.logbook import open_logbook
from benchmarks.simulated_logbook import Trip, write

ITS_MIGRATION = "0017_encounter_columns"
VALUES: dict[str, st.SearchStrategy[Any]] = (
    dict.fromkeys(COUNTS, st.none() | st.integers(0, 2**40))
    | dict.fromkeys(FLOATS, st.none() | st.floats(allow_nan=False))
    | dict.fromkeys(TIMES, st.none() | st.sampled_from(["2026-04-18T05:06:07.089", "1826-01-01T00:00:00"]))
)
WORDS = st.none() | st.sampled_from(['["heron"]', "[]", "a / b", "naïve", "\n", "\ud800"])
ROW = st.tuples(*(VALUES.get(name, WORDS) for name in NAMES)).map(list)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("columns") / "logbook.sqlite"
    write(path, Trip(encounters=200))
    with up_to_date(path):
        pass
    return path


@given(st.lists(st.lists(ROW, max_size=4), max_size=3))
def test_sums_come_back_as_they_were(trips: list[list[list[Any]]]) -> None:
    rows = [row for trip in trips for row in trip]
    for number, row in enumerate(rows):  # each kit is once in an encounter
        row[:2] = [number % 2, len(rows) - number]
    columns = columns_of([part_of(trip) for trip in trips])
    rows.sort(key=lambda row: row[:2])
    assert len(columns["kit_id"]) == len(rows)
    for place, name in enumerate(NAMES):
        told = [row[place] for row in rows]
        if name in COUNTS:
            assert columns[name].tolist() == [value or 0 for value in told]
        elif name in FLOATS:
            np.testing.assert_array_equal(columns[name], np.array(told, dtype=float))
        elif name in TIMES:
            np.testing.assert_array_equal(columns[name], np.array(told, dtype="datetime64[us]"))
        else:
            words = columns[name]
            assert [words.names[number] for number in words.number] == told


def test_words_that_rows_have_are_numbered_in_the_order_of_the_alphabet() -> None:
    words = Words.of(["tern", None, "heron", "tern", "otter"], np.array([3, 2, 0, 1, 2]))
    assert words.names == (None, "heron", "tern")
    assert words.number.tolist() == [2, 1, 2, 0, 1]
    some = words[np.array([0, 1])]
    assert some.numbered.tolist() == [1, 0]
    assert some.are([False, False, True]).tolist() == [True, False]


def test_an_older_logbook_is_summed_anew(made: Path, tmp_path: Path) -> None:
    older = tmp_path / "older.sqlite"
    shutil.copy(made, older)
    connection = sqlite3.connect(older, isolation_level=None)
    connection.execute("DELETE FROM _sqlite_migrations WHERE name >= ?", (ITS_MIGRATION,))
    connection.execute("DROP TABLE encounter_columns")
    connection.execute("ALTER TABLE membership DROP COLUMN shift_s")
    connection.close()
    with open_logbook(older) as book:
        assert not summed.all_stand(book)
    with up_to_date(older) as one, up_to_date(made) as other:
        assert summed.all_stand(one)
        columns, same = (columns_of(encounter_columns.kept(book, None)) for book in (one, other))
    assert len(columns["kit_id"]) > 100
    for name in (*COUNTS, *FLOATS, *TIMES):
        np.testing.assert_array_equal(columns[name], same[name])


@pytest.mark.parametrize("column", ["sums", "words"])
def test_changed_sums_are_told_as_damage(made: Path, tmp_path: Path, column: str) -> None:
    path = tmp_path / "logbook.sqlite"
    shutil.copy(made, path)
    with open_logbook(path) as book:
        assert not damage.is_damaged(book)
        with book.writing():
            book.execute(f"UPDATE encounter_columns SET {column} = substr({column}, 1, 9) WHERE trip_id = 1")
        with pytest.raises((ValueError, IndexError)):
            columns_of(encounter_columns.kept(book, None))
        assert damage.is_damaged(book)
