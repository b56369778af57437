"""Numbers of frames come back as they were, and damage to them is told."""

from __future__ import annotations

import shutil
import sqlite3
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from auditor.jobs.opening import up_to_date
from auditor.store import damage, trip_numbers
from auditor.store.logbook import open_logbook
from auditor.store.packed_numbers import COLUMNS, numbers_packed, numbers_unpacked
from benchmarks.simulated_logbook import Trip, write

ITS_MIGRATION = "0016_packed_numbers"
NUMBERS = "SELECT light, detail FROM trip_numbers ORDER BY trip_id"


@pytest.fixture(scope="module")
def summed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("numbers") / "logbook.sqlite"
    write(path, Trip(encounters=200))
    with up_to_date(path):
        pass
    return path


@given(arrays("<f8", st.tuples(st.integers(0, 40), st.just(COLUMNS)), elements=st.floats()))
def test_numbers_come_back_to_the_last_bit(rows: np.ndarray) -> None:
    back = numbers_unpacked(numbers_packed(rows.tobytes()))
    assert back.shape == (COLUMNS, len(rows))
    np.testing.assert_array_equal(back.T.view("<u8") if len(rows) else back.T, rows.view("<u8"))


def test_numbers_of_a_trip_take_a_third_of_their_room_at_most(summed: Path) -> None:
    with open_logbook(summed) as book:
        rows = book.query("SELECT length(light) + length(detail) FROM trip_numbers")
        frames = book.query("SELECT count(*) FROM frames")[0][0]
    assert 0 < 3 * sum(row[0] for row in rows) < 2 * 8 * COLUMNS * frames


def test_an_older_logbook_tells_the_same_numbers(summed: Path, tmp_path: Path) -> None:
    older = tmp_path / "older.sqlite"
    shutil.copy(summed, older)
    connection = sqlite3.connect(older, isolation_level=None)
    connection.create_function("rows", 1, lambda value: numbers_unpacked(value).T.astype("<f8").tobytes())
    connection.execute("UPDATE trip_numbers SET light = rows(light), detail = rows(detail)")
    connection.execute("DELETE FROM _sqlite_migrations WHERE name >= ?", (ITS_MIGRATION,))
    connection.execute("DROP TABLE encounter_columns")
    connection.execute("ALTER TABLE membership DROP COLUMN shift_s")
    connection.close()
    with open_logbook(older) as one, open_logbook(summed) as other:
        rows, same = ([tuple(row) for row in book.query(NUMBERS)] for book in (one, other))
    assert len(rows) > 1
    for row, other_row in zip(rows, same, strict=True):
        for value, other_value in zip(row, other_row, strict=True):
            np.testing.assert_array_equal(numbers_unpacked(value), numbers_unpacked(other_value))


def test_changed_numbers_are_told_as_damage(summed: Path, tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    shutil.copy(summed, path)
    with open_logbook(path) as book:
        assert not damage.is_damaged(book)
        with book.writing():
            (value,) = book.query("SELECT light FROM trip_numbers WHERE trip_id = 1")[0]
            changed = value[:40] + bytes([value[40] ^ 0x10]) + value[41:]
            book.execute("UPDATE trip_numbers SET light = ? WHERE trip_id = 1", (changed,))
        with pytest.raises(ValueError, match="cannot be unpacked"):
            trip_numbers.light(book, None)
        assert damage.is_damaged(book)
