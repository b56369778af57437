"""Saving what can be saved of a damaged logbook, into a new one; the damaged one is only read."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import closing, suppress
from dataclasses import dataclass
from pathlib import Path

from auditor.errors import LogbookError, OutputError
from auditor.store import damage, files, reasons
from auditor.store.exposure_identity import shortened
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.pages import Pages, Row, Shape
from auditor.store.paths import stem, stem_key
from auditor.store.uri import uri

WINDOW = 1000
"""Rows asked for at once; where one of them cannot be read, they are asked for in halves."""
FARTHEST = 4
"""Where the last row cannot be found, rows are looked for up to so many times the last that was."""
NOT_COPIED = (
    "_sqlite_migrations", "touched", "inferred", "membership", "bursts", "scenes", "encounters", "trips",
    "verdicts", "camera_blur", "scene_blur", "summed", "encounter_columns", "encounter_sums", "flag_sums",
    "trip_numbers",
)  # fmt: skip
"""What follows from frames is made anew: a part of it would contradict the rest."""


@dataclass(frozen=True, slots=True)
class Saved:
    """What was saved of one table."""

    table: str
    rows: int
    complete: bool
    """False where a part of it could not be read, or made no sense."""


@dataclass(frozen=True, slots=True)
class Repair:
    """What was saved of a logbook."""

    tables: list[Saved]
    page_by_page: bool
    """Its list of tables was gone: rows that had been deleted may be among those that were found."""


def repair(path: Path, place: Path) -> Repair:
    """Copy every row that can be read into a new logbook, and have what follows from them made anew.

    Where SQLite no longer finds the tables, their rows are looked for page by page.

    Parameters
    ----------
    path
        The damaged logbook.
    place
        The new one.

    Returns
    -------
    Repair
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
    try:
        with open_logbook(place, create=True) as whole:
            whole.connection.execute("PRAGMA foreign_keys = OFF")
            with whole.writing():
                found = _saved(path, whole)
                _make_keys_anew(whole)
                dropped = _drop_what_makes_no_sense(whole)
                _make_reasons_anew(whole)
                whole.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames")
            whole.connection.execute("PRAGMA foreign_keys = ON")
    except BaseException:  # Ctrl-C too: half a repair would pass for a whole one
        for left in (place, place.with_name(f"{place.name}-wal"), place.with_name(f"{place.name}-shm")):
            with suppress(OSError):  # none could be made there: what is told is why
                left.unlink(missing_ok=True)
        raise
    tables = [
        Saved(row.table, row.rows - dropped.get(row.table, 0), row.complete and row.table not in dropped)
        for row in found.tables
    ]
    return Repair(tables, found.page_by_page)


def _saved(path: Path, whole: Logbook) -> Repair:
    wanted = [table for table in _tables(whole.connection) if table not in NOT_COPIED]
    refused: sqlite3.Error | None = None
    try:
        with closing(_opened(path)) as broken:
            if there := set(_tables(broken)).intersection(wanted):
                tables = [_copied(broken, whole, table) for table in wanted if table in there]
                return Repair(tables, page_by_page=False)
    except sqlite3.Error as error:
        refused = error
    try:
        tables = _found_by_page(path, whole, wanted)
    except (OSError, ValueError) as error:  # no file, or an empty one
        raise LogbookError(f"{path}: nothing of it can be read ({error}).") from error
    if not any(row.rows for row in tables):
        reason = refused or "it has no tables of a logbook"
        raise LogbookError(f"{path}: nothing of it can be read ({reason}).") from refused
    return Repair(tables, page_by_page=True)


def _opened(path: Path) -> sqlite3.Connection:
    """The damaged file, to be read alone: with the log beside it, where that can be had."""
    ways = ["ro", "ro&immutable=1"]
    while True:
        connection = sqlite3.connect(uri(path.absolute(), ways.pop(0)), uri=True)
        try:
            # Otherwise SQLite refuses a file that is shorter than it states (btree.c, lockBtree).
            connection.execute("PRAGMA writable_schema = ON")
            connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
            return connection
        except sqlite3.Error:
            connection.close()
            if not ways:
                raise


def _tables(connection: sqlite3.Connection) -> list[str]:
    rows = connection.execute("SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name")
    return [row[0] for row in rows]


def _columns(connection: sqlite3.Connection, table: str) -> list[sqlite3.Row]:
    return connection.execute(f"PRAGMA table_info({table})").fetchall()


def _copied(broken: sqlite3.Connection, whole: Logbook, table: str) -> Saved:
    there = {row[1] for row in _columns(broken, table)}
    columns = [row[1] for row in _columns(whole.connection, table) if row[1] in there]
    reader = _Reader(broken, table, ", ".join(columns))
    rows, all_kept = _inserted(whole, table, columns, (row for part in reader.rows() for row in part))
    return Saved(table, rows, reader.complete and all_kept)


def _inserted(whole: Logbook, table: str, columns: list[str], rows: Iterable[Row]) -> tuple[int, bool]:
    """How many rows came in, and whether that is all but those that were there already."""
    count, all_kept = 0, True
    for row in rows:
        names = ", ".join(columns[: len(row)])
        sql = f"INSERT OR IGNORE INTO {table} ({names}) VALUES ({', '.join('?' * len(row))})"
        try:
            count += whole.connection.execute(sql, row).rowcount
        except sqlite3.Error:  # of another type than its column: a value that was overwritten
            all_kept = False
    return count, all_kept


def _found_by_page(path: Path, whole: Logbook, wanted: list[str]) -> list[Saved]:
    """What the pages of a file hold whose list of tables is gone."""
    shapes = {table: _shape(whole.connection, table) for table in _tables(whole.connection)}
    saved = []
    with Pages(path) as pages:
        trees = _trees(pages, shapes, _usual_roots(whole.connection))
        for table in wanted:
            columns = [row[1] for row in _columns(whole.connection, table)]
            rows = (row for tree in trees[table] for row in pages.rows(tree, shapes[table]))
            count, _all_kept = _inserted(whole, table, columns, rows)
            saved.append(Saved(table, count, complete=False))
    return saved


def _trees(pages: Pages, shapes: dict[str, Shape], usual: dict[str, int]) -> dict[str, list[int]]:
    """The roots of each table's rows: where they are known to be, then whatever fits one table alone."""
    listed, trees = pages.listed_roots(), {}
    for table, shape in shapes.items():
        roots = [*listed.get(table, []), usual[table]]
        trees[table] = [root for root in roots if pages.fits(root, shape)][:1]
    known = {root for roots in trees.values() for root in roots}
    for top in pages.tops():
        if top not in known:
            fitting = [table for table, shape in shapes.items() if pages.fits(top, shape)]
            if len(fitting) == 1:
                trees[fitting[0]].append(top)
    return trees


def _usual_roots(connection: sqlite3.Connection) -> dict[str, int]:
    """Where the tables of a logbook begin that was made by the present auditor, as most were."""
    return dict(
        connection.execute("SELECT name, rootpage FROM sqlite_master WHERE type = 'table'").fetchall()
    )


def _shape(connection: sqlite3.Connection, table: str) -> Shape:
    columns = _columns(connection, table)
    keys = [row for row in columns if row[5]]
    rowid = keys[0][0] if len(keys) == 1 and keys[0][2] == "INTEGER" else None
    return Shape(
        types=tuple(row[2] for row in columns),
        needed=tuple(bool(row[3]) and row[4] is None for row in columns),
        rowid_column=rowid,
    )


class _Reader:
    """The rows of one table, around those that cannot be read."""

    def __init__(self, connection: sqlite3.Connection, table: str, names: str) -> None:
        self._connection, self._table = connection, table
        self._sql = f"SELECT {names} FROM {table} WHERE rowid BETWEEN ? AND ?"
        self.complete = True

    def rows(self) -> Iterator[list[Row]]:
        # Where the file ends inside the last page, SQLite may find a last row that makes no sense.
        reached = self._last_reached()
        first, last = self._end("min", 0), max(self._end("max", reached), reached)
        for start in range(first, last + 1, WINDOW):
            yield from self._window(start, min(start + WINDOW - 1, last))

    def _window(self, first: int, last: int) -> Iterator[list[Row]]:
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
                last = max(last, rowid)
            return last
        return FARTHEST * last + 10 * WINDOW


def _make_keys_anew(whole: Logbook) -> None:
    """Older auditors wrote whole paths into `stem`, and body and time in full into `exposure_key`."""
    rows = [
        (stem_key(stem(row["path"])), row["file_id"])
        for row in whole.query("SELECT file_id, path FROM files")
    ]
    whole.execute_many("UPDATE files SET stem = ? WHERE file_id = ?", rows)
    whole.connection.create_function("shortened", 1, shortened, deterministic=True)
    whole.execute("UPDATE OR IGNORE frames SET exposure_key = shortened(exposure_key)")


def _make_reasons_anew(whole: Logbook) -> None:
    """Older auditors wrote them beside each frame; where a set of them was lost, the frame's files tell."""
    texts = whole.query("SELECT DISTINCT missing FROM frames WHERE typeof(missing) = 'text'")
    known = reasons.numbers(whole, (row[0] for row in texts if _is_json(row[0])))
    whole.execute_many(
        "UPDATE frames SET missing = ? WHERE missing = ?", [(number, text) for text, number in known.items()]
    )
    unknown = "typeof(missing) <> 'integer' OR missing NOT IN (SELECT reasons_id FROM reasons)"
    lost = [row[0] for row in whole.query(f"SELECT frame_id FROM frames WHERE {unknown}")]
    whole.execute(f"UPDATE frames SET missing = {reasons.NONE} WHERE {unknown}")
    with_files = {row[0] for row in whole.query("SELECT frame_id FROM files WHERE role <> 'sidecar'")}
    files.merge_frames(whole, [frame_id for frame_id in lost if frame_id in with_files])


def _is_json(text: str) -> bool:
    try:
        return isinstance(json.loads(text), dict)
    except ValueError:
        return False


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
