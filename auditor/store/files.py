"""Files and the frames they belong to: what is known, what is new, what has gone."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NamedTuple

from auditor.file_names import as_path
from auditor.records import FileReading
from auditor.store import identity, reasons, receipts
from auditor.store.crops import remove_crops
from auditor.store.exposure_identity import FRAME_COLUMNS, FrameValues, frame_values
from auditor.store.file_rows import FileRow, file_row
from auditor.store.groups import clear_empty_trips
from auditor.store.logbook import Logbook
from auditor.store.new_exposures import FILE_COLUMNS, NewExposures, file_values
from auditor.store.packed import unpacked
from auditor.store.paths import PLAIN_NAME_FIRST, marks, path_range
from auditor.store.unreadable import forget_unreadable
from auditor.words import FileRole

_UPDATE_FRAME = f"UPDATE frames SET {', '.join(f'{name} = ?' for name in FRAME_COLUMNS)} WHERE frame_id = ?"
_UPDATE_FILE = (
    f"UPDATE files SET {', '.join(f'{name} = ?' for name in FILE_COLUMNS)}, present = 1 WHERE file_id = ?"
)
_ADD_FILE = (
    f"INSERT INTO files ({', '.join(FILE_COLUMNS)}, present) VALUES ({', '.join('?' * len(FILE_COLUMNS))}, 1)"
)
# A sidecar holds the newest rating; the raw is trusted before the JPEG, what is there before what has gone;
# an edited copy is no original, and speaks only where there is none.
_TRUST_ORDER = f"""
SELECT recorded, role, path, fingerprint FROM files WHERE frame_id = ? AND (role <> 'sidecar' OR present = 1)
ORDER BY role = 'sidecar' DESC, role = 'edited', present DESC, role = 'raw' DESC, volume, {PLAIN_NAME_FIRST}
"""


class KnownFile(NamedTuple):
    """What the logbook remembers of a file; a tuple, since a scan looks at every file's."""

    file_id: int
    present: int
    size_bytes: int
    modified_at: str


def known_files(logbook: Logbook, paths: Sequence[str]) -> dict[str, list[KnownFile]]:
    """Files that were read at these paths before, by path; several where one has replaced another.

    Parameters
    ----------
    paths
        Absolute, as text.

    Returns
    -------
    dict[str, list[KnownFile]]
        Paths that were never read are left out.
    """
    sql = f"""SELECT path, file_id, present, size_bytes, modified_at FROM files
              WHERE path IN ({marks(paths)}) ORDER BY present DESC"""
    known: dict[str, list[KnownFile]] = {}
    for path, file_id, present, size_bytes, modified_at in logbook.query(sql, tuple(paths)):
        known.setdefault(path, []).append(KnownFile(file_id, present, size_bytes, modified_at))
    return known


def nothing_changed(
    logbook: Logbook, paths: Sequence[str], sizes_bytes: Sequence[int], modified_at: Sequence[str]
) -> bool:
    """Whether files are all as the logbook has them, and all that it has from the first to the last.

    SQLite strings its columns together: a row in Python for each file would cost as much as to look at the
    file on its disk.

    Parameters
    ----------
    paths
        At least one; rising.
    sizes_bytes, modified_at
        In the order of `paths`; times as the logbook has them.

    Returns
    -------
    bool
        False where anything is new, changed, missing, or in another order: `known_files` tells what.
    """
    sql = """
    SELECT group_concat(path, char(0)), group_concat(size_bytes), group_concat(modified_at)
    FROM (SELECT path, size_bytes, modified_at FROM files
          WHERE present = 1 AND path BETWEEN ? AND ? ORDER BY path LIMIT ?)"""
    ((old_paths, old_sizes, old_times),) = logbook.query(sql, (paths[0], paths[-1], len(paths) + 1))
    return bool(
        old_times == ",".join(modified_at)
        and old_sizes == ",".join(map(str, sizes_bytes))
        and old_paths == "\0".join(paths)
    )


def store_readings(
    logbook: Logbook,
    readings: Iterable[FileReading],
    *,
    volume: str,
    still_there: Callable[[str], bool] = lambda path: as_path(path).exists(),
) -> list[int]:
    """Add files and their frames, inside `writing()`.

    Parameters
    ----------
    readings
        Files that were read.
    volume
        Where the files lie: the mount point of their disk or card.
    still_there
        Tells whether a path exists now: a known file that turns up elsewhere was moved if its old path is
        empty, and copied if not.

    Returns
    -------
    list[int]
        Ids of the file rows, in the order of `readings`.
    """
    return store_rows(
        logbook, [file_row(reading) for reading in readings], volume=volume, still_there=still_there
    )


def store_rows(
    logbook: Logbook,
    rows: Sequence[FileRow],
    *,
    volume: str,
    still_there: Callable[[str], bool] = lambda path: as_path(path).exists(),
) -> list[int]:
    """Add files, made ready where they were read, and their frames, inside `writing()`.

    Parameters
    ----------
    rows
        Of the files.
    volume, still_there
        As `store_readings` has them.

    Returns
    -------
    list[int]
        Ids of the file rows, in the order of `rows`.
    """
    file_ids: list[int] = []
    touched: dict[int, None] = {}
    new = NewExposures(logbook, rows, volume)
    for row in rows:
        if new.take(row):
            continue
        file_ids += new.written()
        old = _row_at(logbook, row.path)
        frame_id = identity.frame_of(logbook, row)
        if old is not None and old["frame_id"] == frame_id:
            file_id = int(old["file_id"])
        else:
            if old is not None:  # another exposure has taken the name, as on a card that was formatted
                logbook.execute("UPDATE files SET present = 0 WHERE file_id = ?", (old["file_id"],))
            file_id = _moved_from(logbook, row, frame_id, volume, still_there) or 0
        file_ids.append(_write_file(logbook, file_id, frame_id, row, volume))
        if frame_id is not None:
            touched[frame_id] = None
            if row.role != FileRole.SIDECAR:
                touched |= dict.fromkeys(identity.adopt(logbook, frame_id, row))
    file_ids += new.written()
    forget_unreadable(logbook, [row.path for row in rows])
    merge_frames(logbook, touched)
    return file_ids


def merge_frames(logbook: Logbook, frame_ids: Iterable[int]) -> None:
    """Write the rows of `frames` anew from what their files recorded, inside `writing()`.

    Parameters
    ----------
    frame_ids
        Of frames whose files have changed.
    """
    frame_ids = list(frame_ids)
    rows = [_merged(logbook, frame_id) for frame_id in frame_ids]
    numbers = reasons.numbers(logbook, (row[-1] for row in rows))
    logbook.execute_many(
        _UPDATE_FRAME,
        [(*row[:-1], numbers[row[-1]], frame_id) for row, frame_id in zip(rows, frame_ids, strict=True)],
    )
    logbook.execute_many("INSERT OR IGNORE INTO touched VALUES (?)", [(frame_id,) for frame_id in frame_ids])


def _merged(logbook: Logbook, frame_id: int) -> FrameValues:
    files = logbook.query(_TRUST_ORDER, (frame_id,))
    originals = [file for file in files if file["role"] != FileRole.EDITED]
    has_original = any(file["role"] != FileRole.SIDECAR for file in originals)
    return frame_values(*(_as_said(logbook, file) for file in (originals if has_original else files)))


def _as_said(logbook: Logbook, file: sqlite3.Row) -> dict[str, Any]:
    """What a file recorded, with the photographer's rating in place of one that the auditor wrote."""
    facts: dict[str, Any] = json.loads(unpacked(file["recorded"]))
    if file["role"] == FileRole.SIDECAR and facts.get("rating") is not None:
        ours = receipts.written_rating(logbook, file["path"], file["fingerprint"], facts["rating"])
        if ours is not None:
            facts["rating"] = ours.before
            if ours.before is None:
                del facts["rating"]
    return facts


def mark_back(logbook: Logbook, file_ids: Iterable[int]) -> None:
    """Files that had gone and are there again, unchanged, inside `writing()`.

    Parameters
    ----------
    file_ids
        Of rows of `files`.
    """
    for file_id in file_ids:
        logbook.execute(
            "UPDATE files SET present = 0 "
            "WHERE present = 1 AND path = (SELECT path FROM files WHERE file_id = ?)",
            (file_id,),
        )
        logbook.execute("UPDATE files SET present = 1 WHERE file_id = ?", (file_id,))
    _touch_frames_of(logbook, file_ids)


def mark_gone(logbook: Logbook, file_ids: Iterable[int]) -> None:
    """Files that are no longer where they were; their frames stay, inside `writing()`.

    Parameters
    ----------
    file_ids
        Of rows of `files`.
    """
    logbook.execute_many(
        "UPDATE files SET present = 0 WHERE file_id = ?", [(file_id,) for file_id in file_ids]
    )
    _touch_frames_of(logbook, file_ids)


def present_under(logbook: Logbook, folder: str) -> list[tuple[int, str]]:
    """(file_id, path) of every file that is thought to be there in a folder.

    Parameters
    ----------
    folder
        Absolute, as text.

    Returns
    -------
    list[tuple[int, str]]
        In no order.
    """
    low, high = path_range(folder)
    sql = "SELECT file_id, path FROM files WHERE present = 1 AND path >= ? AND path < ?"
    return [(row[0], row[1]) for row in logbook.query(sql, (low, high))]


def drop_folder(logbook: Logbook, folder: str) -> tuple[int, int]:
    """Take a folder's files out, and the frames that have no others; inside `writing()`.

    Returns the numbers of files and frames that went.

    Parameters
    ----------
    folder
        Absolute, as text.

    Returns
    -------
    tuple[int, int]
        How many files, and how many frames, were taken out.
    """
    low, high = path_range(folder)
    inside = "path >= ? AND path < ?"
    frame_ids = [
        row[0]
        for row in logbook.query(
            f"SELECT DISTINCT frame_id FROM files WHERE frame_id IS NOT NULL AND {inside}", (low, high)
        )
    ]
    (count,) = logbook.query(f"SELECT count(*) FROM files WHERE {inside}", (low, high))[0]
    # The frames that go are touched first: the groups that they leave must be made anew.
    orphans = [
        frame_id
        for frame_id in frame_ids
        if not logbook.query(
            f"SELECT 1 FROM files WHERE frame_id = ? AND role <> 'sidecar' AND NOT ({inside}) LIMIT 1",
            (frame_id, low, high),
        )
    ]
    neighbours = (
        "INSERT OR IGNORE INTO touched SELECT o.frame_id FROM membership AS m "
        "JOIN membership AS o ON o.trip_id = m.trip_id WHERE m.frame_id = ?"
    )
    logbook.execute_many(neighbours, [(frame_id,) for frame_id in orphans])
    logbook.execute(f"DELETE FROM files WHERE {inside}", (low, high))
    logbook.execute(f"DELETE FROM unreadable WHERE {inside}", (low, high))
    merge_frames(logbook, [frame_id for frame_id in frame_ids if frame_id not in set(orphans)])
    for table in ("touched", "membership", "frames"):
        logbook.execute_many(f"DELETE FROM {table} WHERE frame_id = ?", [(orphan,) for orphan in orphans])
    logbook.execute("DELETE FROM scans WHERE folder = ? OR (folder >= ? AND folder < ?)", (folder, low, high))
    clear_empty_trips(logbook)
    remove_crops(logbook.path, orphans)
    return int(count), len(orphans)


def _row_at(logbook: Logbook, path: str) -> dict[str, int] | None:
    rows = logbook.query("SELECT file_id, frame_id FROM files WHERE path = ? AND present = 1", (path,))
    return dict(rows[0]) if rows else None


def _moved_from(
    logbook: Logbook,
    row: FileRow,
    frame_id: int | None,
    volume: str,
    still_there: Callable[[str], bool],
) -> int | None:
    """The row of the same file at a path where it no longer lies, on the same volume."""
    rows = logbook.query(
        "SELECT file_id, path FROM files "
        "WHERE fingerprint = ? AND frame_id IS ? AND volume = ? AND path <> ? ORDER BY present, file_id",
        (row.fingerprint, frame_id, volume, row.path),
    )
    return next((int(old[0]) for old in rows if not still_there(old[1])), None)


def _write_file(logbook: Logbook, file_id: int, frame_id: int | None, row: FileRow, volume: str) -> int:
    values = file_values(row, frame_id, volume)
    if file_id:
        logbook.execute(_UPDATE_FILE, (*values, file_id))
        return file_id
    return logbook.execute(_ADD_FILE, values)


def _touch_frames_of(logbook: Logbook, file_ids: Iterable[int]) -> None:
    frames: dict[int, None] = {}
    for file_id in file_ids:
        for row in logbook.query("SELECT frame_id FROM files WHERE file_id = ?", (file_id,)):
            if row[0] is not None:
                frames[row[0]] = None
    merge_frames(logbook, frames)
