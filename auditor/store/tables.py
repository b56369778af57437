"""Reading the stable views as tables."""

from __future__ import annotations

import json
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from auditor.errors import LogbookError
from auditor.file_names import as_path, as_text
from auditor.store.files import path_range
from auditor.store.logbook import Logbook
from auditor.words import FileRole

if TYPE_CHECKING:
    import pandas as pd

_CHUNK = 500
_TEXTS = ("path", "missing")
_JSON = ("keywords", "flags", "reading_flags")


@dataclass(frozen=True, slots=True)
class Trip:
    """A trip of the logbook."""

    trip_id: int
    name: str
    first_at: str
    """First and last frame: local time of the camera's clock, ISO 8601."""
    last_at: str
    frames: int


@dataclass(frozen=True, slots=True)
class UnreadableFile:
    """A file that cannot be read now."""

    path: str
    stage: str
    reason: str
    error_class: str
    seen_at: str
    """When it was last tried: UTC, ISO 8601."""


def frame_facts(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """The view `frame_facts` in order of time, of one trip or of all; columns as in the logbook."""
    import pandas as pd

    where, parameters = _of_trip(trip_id)
    rows = logbook.query(f"SELECT * FROM frame_facts {where} ORDER BY taken_at, frame_id", parameters)
    columns = [row[1] for row in logbook.query("PRAGMA table_info(frame_facts)")]
    return pd.DataFrame([tuple(row) for row in rows], columns=columns)


def frame_facts_in_parts(
    logbook: Logbook, trip_id: int | None = None, *, rows: int = 20_000
) -> Iterator[pd.DataFrame]:
    """The same, some rows at a time: what is larger than memory can be written so. At least one part."""
    import pandas as pd

    where, parameters = _of_trip(trip_id)
    # Of a narrowed logbook (see store.selection) the frames that are left.
    left = f"{where} {'AND' if where else 'WHERE'} frame_id IN (SELECT frame_id FROM inferred)"
    cursor = logbook.connection.execute(
        f"SELECT * FROM frame_facts {left} ORDER BY taken_at, frame_id", parameters
    )
    columns = [column[0] for column in cursor.description]
    part = cursor.fetchmany(rows)
    while True:
        yield pd.DataFrame([tuple(row) for row in part], columns=columns)
        part = cursor.fetchmany(rows)
        if not part:
            return


def frame_columns(logbook: Logbook) -> dict[str, str]:
    """The columns of frame_facts and their types: INTEGER, REAL or TEXT."""
    declared = {row[1]: row[2] for row in logbook.query("PRAGMA table_info(frame_facts)")}
    # SQLite tells no type of an expression: of these, path and missing are text, the rest are measures.
    return {name: kind or ("TEXT" if name in _TEXTS else "REAL") for name, kind in declared.items()}


def frame_rows(
    logbook: Logbook, trip_id: int | None = None, *, columns: Sequence[str] = ("*",)
) -> list[dict[str, Any]]:
    """The same as plain dictionaries, JSON columns decoded; of all columns or of some."""
    where, parameters = _of_trip(trip_id)
    sql = f"SELECT {', '.join(columns)} FROM frame_facts {where} ORDER BY taken_at, frame_id"
    rows = logbook.query(sql, parameters)
    return [decoded(dict(row)) for row in rows]


def decoded(row: dict[str, Any]) -> dict[str, Any]:
    """A row of frame_facts with its JSON columns as lists and objects, its booleans as such."""
    for name in (*_JSON, "missing"):
        if isinstance(row.get(name), str):
            row[name] = json.loads(row[name])
    for name in ("auto_iso", "flash_fired"):
        if row.get(name) is not None:
            row[name] = bool(row[name])
    return row


def rows_of(logbook: Logbook, frame_ids: list[int]) -> list[dict[str, Any]]:
    """Rows of frame_facts by id, decoded, in the order of the ids."""
    by_id: dict[int, dict[str, Any]] = {}
    for first in range(0, len(frame_ids), _CHUNK):
        part = tuple(frame_ids[first : first + _CHUNK])
        marks = ", ".join("?" * len(part))
        for row in logbook.query(f"SELECT * FROM frame_facts WHERE frame_id IN ({marks})", part):
            by_id[row["frame_id"]] = decoded(dict(row))
    return [by_id[frame_id] for frame_id in frame_ids if frame_id in by_id]


def trips(logbook: Logbook) -> list[Trip]:
    """All trips, the newest first."""
    sql = "SELECT trip_id, name, first_at, last_at, frames FROM trips ORDER BY first_at DESC"
    return [Trip(*row) for row in logbook.query(sql)]


def find_trip(logbook: Logbook, wanted: str | None) -> Trip:
    """A trip by name or number; the newest when none is asked for.

    Raises
    ------
    LogbookError
        where there is no such trip, naming those that there are.
    """
    known = trips(logbook)
    if not known:
        raise LogbookError(f"{logbook.path}: holds no trip yet. Start one: auditor scan FOLDER")
    if wanted is None:
        return known[0]
    for trip in known:
        if wanted in (trip.name, str(trip.trip_id)):
            return trip
    names = "; ".join(f"{trip.trip_id} = {trip.name}" for trip in known[:8])
    raise LogbookError(f"There is no trip {wanted!r}. The newest are: {names}.")


def trips_under(logbook: Logbook, folders: list[str]) -> list[Trip]:
    """The trips that the frames of some folders belong to, the oldest first."""
    ranges = [path_range(folder) for folder in folders]
    where = " OR ".join("(files.path >= ? AND files.path < ?)" for _ in ranges)
    sql = f"""
        SELECT trip_id, name, first_at, last_at, frames FROM trips WHERE trip_id IN (
            SELECT trip_id FROM membership JOIN files USING (frame_id) WHERE present = 1 AND ({where})
        ) ORDER BY first_at"""
    return [Trip(*row) for row in logbook.query(sql, tuple(end for both in ranges for end in both))]


def files_of(logbook: Logbook, frame_ids: list[int]) -> list[list[Path]]:
    """The present files of frames, sidecars included, in the order of the ids; of equal copies one.

    A picture that other software wrote or resized comes only where there is no other.
    """
    files = []
    for frame_id in frame_ids:
        rows = logbook.query(
            "SELECT path, fingerprint, role FROM files "
            "WHERE frame_id = ? AND present = 1 ORDER BY volume, path",
            (frame_id,),
        )
        if any(row["role"] not in (FileRole.EDITED, FileRole.SIDECAR) for row in rows):
            rows = [row for row in rows if row["role"] != FileRole.EDITED]
        seen = {(row["role"], row["fingerprint"]): as_path(row["path"]) for row in reversed(rows)}
        files.append(sorted(seen.values()))
    return files


def files_of_bursts(logbook: Logbook, burst_ids: Sequence[int]) -> list[str]:
    """The paths of every file of some bursts, in order."""
    sql = """SELECT path FROM files JOIN membership USING (frame_id)
             WHERE burst_id IN (SELECT value FROM json_each(?)) ORDER BY path"""
    return [row[0] for row in logbook.query(sql, (json.dumps(list(burst_ids)),))]


def gone_frames(logbook: Logbook) -> set[int]:
    """Frames of which no picture was there when it was last looked for."""
    sql = "SELECT frame_id FROM files WHERE role <> 'sidecar' GROUP BY frame_id HAVING max(present) = 0"
    return {row[0] for row in logbook.query(sql)}


def frame_of(logbook: Logbook, path: Path) -> int | None:
    """The frame that a file belongs to; None for a file that was not scanned."""
    rows = logbook.query("SELECT frame_id FROM files WHERE path = ? AND present = 1", (as_text(path),))
    return None if not rows else rows[0][0]


def counts(logbook: Logbook) -> dict[str, int]:
    """How much the logbook holds."""
    tables = ("frames", "files", "trips", "kits")
    return {table: int(logbook.query(f"SELECT count(*) FROM {table}")[0][0]) for table in tables}


def unreadable(logbook: Logbook) -> list[UnreadableFile]:
    """Every file that cannot be read now, in order of path."""
    sql = "SELECT path, stage, reason, error_class, seen_at FROM unreadable ORDER BY path"
    return [UnreadableFile(*row) for row in logbook.query(sql)]


def _of_trip(trip_id: int | None) -> tuple[str, tuple[int, ...]]:
    return ("", ()) if trip_id is None else ("WHERE trip_id = ?", (trip_id,))
