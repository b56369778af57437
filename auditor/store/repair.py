"""Saving what can be saved of a damaged logbook, into a new one; the damaged one is only read."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import LogbookError, OutputError
from auditor.store import damage
from auditor.store.logbook import Logbook, open_logbook

WINDOW = 1000
"""Rows asked for at once; where one of them cannot be read, they are asked for in halves."""
FARTHEST = 4
"""Where the last row cannot be found, rows are looked for up to so many times the last that was."""
NOT_COPIED = (
    "_sqlite_migrations", "touched", "inferred", "membership", "bursts", "scenes", "encounters", "trips",
    "verdicts", "camera_blur", "scene_blur",
)  # fmt: skip
"""What follows from frames is made anew: a part of it would contradict the rest."""


@dataclass(frozen=True, slots=True)
class Saved:
    """What was saved of one table."""

    table: str
    rows: int
    complete: bool
    """False where a part of it could not be read, or made no sense."""


def repair(path: Path, place: Path) -> list[Saved]:
    """Copy every row that can be read into a new logbook, and have what follows from them made anew.

    Parameters
    ----------
    path
        The damaged logbook.
    place
        The new one.

    Returns
    -------
    What was saved, table by table.

    Raises
    ------
    OutputError
        for a place that is taken.
    LogbookError
        where nothing of it can be read.
    """
    if place.exists():
        raise OutputError(f"{place}: exists already. Choose another name for the new logbook.")
    with closing(_opened(path)) as broken, open_logbook(place, create=True) as whole:
        tables = _tables(path, broken)
        whole.connection.execute("PRAGMA foreign_keys = OFF")
        with whole.writing():
            saved = [
                _copied(broken, whole, table)
                for table in _tables(place, whole.connection)
                if table in tables and table not in NOT_COPIED
            ]
            dropped = _drop_what_makes_no_sense(whole)
            whole.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames")
        whole.connection.execute("PRAGMA foreign_keys = ON")
    return [
        Saved(row.table, row.rows - dropped.get(row.table, 0), row.complete and row.table not in dropped)
        for row in saved
    ]


def _opened(path: Path) -> sqlite3.Connection:
    """The damaged file, to be read alone: with the log beside it, where that can be had."""
    refused: sqlite3.Error | None = None
    for way in ("mode=ro", "mode=ro&immutable=1"):
        connection = sqlite3.connect(f"{path.absolute().as_uri()}?{way}", uri=True)
        try:
            # Otherwise SQLite refuses a file that is shorter than it states (btree.c, lockBtree).
            connection.execute("PRAGMA writable_schema = ON")
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
            return connection
        except sqlite3.Error as error:
            connection.close()
            refused = error
    raise LogbookError(f"{path}: nothing of it can be read ({refused}).") from refused


def _tables(path: Path, connection: sqlite3.Connection) -> list[str]:
    try:
        rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
        return [row[0] for row in rows]
    except sqlite3.Error as error:
        raise LogbookError(f"{path}: its list of tables cannot be read ({error}).") from error


def _copied(broken: sqlite3.Connection, whole: Logbook, table: str) -> Saved:
    there = {row[1] for row in broken.execute(f"PRAGMA table_info({table})")}
    columns = [row[1] for row in whole.query(f"PRAGMA table_info({table})") if row[1] in there]
    names = ", ".join(columns)
    insert = f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({', '.join('?' * len(columns))})"
    rows = 0
    reader = _Reader(broken, table, names)
    for part in reader.rows():
        for row in part:
            try:
                whole.connection.execute(insert, row)
                rows += 1
            except sqlite3.Error:  # of another type than its column: a value that was overwritten
                reader.complete = False
    return Saved(table, rows, reader.complete)


class _Reader:
    """The rows of one table, around those that cannot be read."""

    def __init__(self, connection: sqlite3.Connection, table: str, names: str) -> None:
        self._connection, self._table = connection, table
        self._sql = f"SELECT {names} FROM {table} WHERE rowid BETWEEN ? AND ?"
        self.complete = True

    def rows(self) -> Iterator[list[tuple[object, ...]]]:
        first, last = self._end("min", 0), self._end("max", self._last_reached())
        for start in range(first, last + 1, WINDOW):
            yield from self._window(start, min(start + WINDOW - 1, last))

    def _window(self, first: int, last: int) -> Iterator[list[tuple[object, ...]]]:
        try:
            yield self._connection.execute(self._sql, (first, last)).fetchall()
        except (sqlite3.Error, UnicodeDecodeError):
            self.complete = False
            if first < last:
                middle = (first + last) // 2
                yield from self._window(first, middle)
                yield from self._window(middle + 1, last)

    def _end(self, which: str, otherwise: int) -> int:
        try:
            (value,) = self._connection.execute(f"SELECT {which}(rowid) FROM {self._table}").fetchone()
        except sqlite3.Error:
            self.complete = False
            return otherwise
        return int(value) if value is not None else otherwise

    def _last_reached(self) -> int:
        """Beyond the last row that reading from the start comes to."""
        last = 0
        with suppress(sqlite3.Error):
            for (rowid,) in self._connection.execute(f"SELECT rowid FROM {self._table} ORDER BY rowid"):
                last = rowid
            return last
        return FARTHEST * last + 10 * WINDOW


def _drop_what_makes_no_sense(whole: Logbook) -> dict[str, int]:
    """Rows that hold no JSON or time where there must be one, and rows that others are gone for; by table."""
    dropped: dict[str, int] = {}

    def delete(table: str, condition: str) -> None:
        gone = whole.connection.execute(f"DELETE FROM {table} WHERE {condition}").rowcount
        if gone:
            dropped[table] = dropped.get(table, 0) + gone

    for table, columns in damage.JSON_COLUMNS.items():
        for column in columns:
            delete(table, f"{column} IS NOT NULL AND NOT json_valid({column})")
    for table, columns in damage.TIME_COLUMNS.items():
        for column in columns:
            delete(table, f"{column} IS NOT NULL AND datetime({column}) IS NULL")
    while orphans := whole.query("PRAGMA foreign_key_check"):
        for table, rowid, _parent, _number in orphans:
            delete(table, f"rowid = {int(rowid)}")
    return dropped
