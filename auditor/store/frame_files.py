"""The files of frames: where they are, which of them are there, and which frame a file belongs to."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator, Sequence
from pathlib import Path

from auditor.file_names import as_path, as_text
from auditor.store.logbook import Logbook
from auditor.store.paths import PLAIN_NAME_FIRST
from auditor.words import FileRole

_CHUNK = 5000


def files_of(logbook: Logbook, frame_ids: Sequence[int]) -> list[list[Path]]:
    """The present files of frames, sidecars included, in the order of the ids; of equal copies one.

    A picture that other software wrote or resized comes only where there is no other.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    list[list[Path]]
        Empty for a frame whose files have gone.
    """
    return [sorted(map(as_path, paths)) for _frame_id, paths in present_paths(logbook, frame_ids)]


def present_paths(logbook: Logbook, frame_ids: Sequence[int]) -> Iterator[tuple[int, list[str]]]:
    """The same as text, some frames at a time: a million may be asked for.

    Parameters
    ----------
    frame_ids
        Of frames.

    Yields
    ------
    int, list[str]
        Each frame's id, and the paths of its files in no order.
    """
    sql = f"""SELECT frame_id, path, fingerprint, role FROM files
             WHERE frame_id IN (SELECT value FROM json_each(?)) AND present = 1
             ORDER BY volume, {PLAIN_NAME_FIRST}"""
    for first in range(0, len(frame_ids), _CHUNK):
        part = frame_ids[first : first + _CHUNK]
        rows_of: dict[int, list[sqlite3.Row]] = {frame_id: [] for frame_id in part}
        for row in logbook.query(sql, (json.dumps(list(rows_of)),)):
            rows_of[row["frame_id"]].append(row)
        for frame_id in part:
            rows = rows_of[frame_id]
            if any(row["role"] not in (FileRole.EDITED, FileRole.SIDECAR) for row in rows):
                rows = [row for row in rows if row["role"] != FileRole.EDITED]
            seen = {(row["role"], row["fingerprint"]): row["path"] for row in reversed(rows)}
            yield frame_id, list(seen.values())


def with_other_files(logbook: Logbook, frame_ids: Sequence[int]) -> list[int]:
    """Frames that have a present file besides the one that `path` of frame_facts names.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    list[int]
        Those of them that have one; frames of a lone picture, as most are, need not be looked at again.
    """
    sql = """SELECT frame_id FROM files WHERE frame_id IN (SELECT value FROM json_each(?)) AND present = 1
             GROUP BY frame_id HAVING count(*) > 1 OR max(role = 'sidecar')"""
    return [row[0] for row in logbook.query(sql, (json.dumps(frame_ids),))]


def files_of_bursts(logbook: Logbook, burst_ids: Sequence[int]) -> list[str]:
    """The paths of every file of some bursts, in order.

    Parameters
    ----------
    burst_ids
        As `membership` has them.

    Returns
    -------
    list[str]
        As text, those that have gone included.
    """
    sql = """SELECT path FROM files JOIN membership USING (frame_id)
             WHERE burst_id IN (SELECT value FROM json_each(?)) ORDER BY path"""
    return [row[0] for row in logbook.query(sql, (json.dumps(list(burst_ids)),))]


def gone_frames(logbook: Logbook) -> set[int]:
    """Frames of which no picture was there when it was last looked for."""
    # By those that have gone, which are few: to look at every file of a million takes seconds.
    sql = """SELECT DISTINCT frame_id FROM files AS g WHERE present = 0 AND role <> 'sidecar' AND NOT EXISTS (
                 SELECT 1 FROM files AS o
                 WHERE o.frame_id = g.frame_id AND o.present = 1 AND o.role <> 'sidecar')"""
    return {row[0] for row in logbook.query(sql)}


def frame_of(logbook: Logbook, path: Path) -> int | None:
    """The frame that a file belongs to; None for a file that was not scanned.

    Parameters
    ----------
    path
        Absolute.

    Returns
    -------
    int or None
        The frame's id.
    """
    rows = logbook.query("SELECT frame_id FROM files WHERE path = ? AND present = 1", (as_text(path),))
    return None if not rows else rows[0][0]
