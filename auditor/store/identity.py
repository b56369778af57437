"""Which frame a file belongs to: raw and JPEG of one exposure, copies, sidecars, edited copies."""

from __future__ import annotations

import re
from pathlib import PurePath

from auditor.file_names import known_as
from auditor.store.choices import move_choice
from auditor.store.file_rows import FileRow
from auditor.store.logbook import Logbook
from auditor.store.paths import marks, stem, stem_key, without_extension
from auditor.words import FileRole


def frame_of(logbook: Logbook, row: FileRow) -> int | None:
    """The frame that a file belongs to, made if it is new; None for a sidecar without its picture.

    Parameters
    ----------
    row
        Of one file.

    Returns
    -------
    int or None
        Its id.
    """
    if row.role == FileRole.SIDECAR:
        return _frame_beside(logbook, row.path)
    same_bytes = logbook.query(
        "SELECT frame_id FROM files WHERE fingerprint = ? AND role <> 'sidecar' LIMIT 1",
        (row.fingerprint,),
    )
    if same_bytes:
        return int(same_bytes[0][0])
    key = row.exposure_key
    known = logbook.query("SELECT frame_id, body_serial FROM frames WHERE exposure_key = ?", (key,))
    if known:
        serials = (known[0]["body_serial"], row.body_serial)
        if None in serials or serials[0] == serials[1]:
            if serials[0] is None and serials[1] is not None:
                logbook.execute(
                    "UPDATE frames SET body_serial = ? WHERE frame_id = ?", (serials[1], known[0]["frame_id"])
                )
            return int(known[0]["frame_id"])
        key += f"|{row.body_serial}"  # two bodies of one model, at one moment
        known = logbook.query("SELECT frame_id FROM frames WHERE exposure_key = ?", (key,))
        if known:
            return int(known[0]["frame_id"])
    if row.role == FileRole.EDITED:
        original = _original_of(logbook, row)
        if original is not None:
            return original
    # The serial at once: the next file of this batch may be another body's, of the same moment and number.
    return logbook.execute(
        "INSERT INTO frames (exposure_key, body_serial) VALUES (?, ?)", (key, row.body_serial)
    )


def adopt(logbook: Logbook, frame_id: int, row: FileRow) -> list[int]:
    """Give an original the sidecars and edited copies that were read before it, inside `writing()`.

    Parameters
    ----------
    frame_id
        Of the original's frame.
    row
        Of the original.

    Returns
    -------
    list[int]
        Frames that had one of these sidecars, and have it no more.
    """
    robbed = _adopt_sidecars(logbook, frame_id, row)
    if row.moment is None or row.role == FileRole.EDITED:
        return robbed
    for copy in logbook.query(
        "SELECT f.frame_id, f.path FROM files AS f JOIN frames USING (frame_id) "
        "WHERE exposure_key >= ? AND exposure_key < ? AND frame_id <> ? AND NOT EXISTS "
        "(SELECT 1 FROM files AS o WHERE o.frame_id = f.frame_id AND o.role NOT IN ('edited', 'sidecar'))",
        (row.moment, row.moment + "\U0010ffff", frame_id),
    ):
        if _numbers(row.path) & _numbers(copy["path"]):
            logbook.execute("UPDATE files SET frame_id = ? WHERE frame_id = ?", (frame_id, copy["frame_id"]))
            move_choice(logbook, copy["frame_id"], frame_id)
            logbook.execute("DELETE FROM frames WHERE frame_id = ?", (copy["frame_id"],))
    return robbed


def _adopt_sidecars(logbook: Logbook, frame_id: int, picture: FileRow) -> list[int]:
    """Give a picture the sidecars that wait for it, and those that another picture has only by likeness."""
    robbed = []
    exactly = (picture.path, without_extension(picture.path))
    rows = logbook.query(
        "SELECT file_id, frame_id, path FROM files WHERE role = 'sidecar' "
        f"AND stem IN ({marks(picture.sidecar_stems)})",
        picture.sidecar_stems,
    )
    for row in rows:
        of_another = row["frame_id"] is not None and (
            without_extension(row["path"]) not in exactly or _named_by(logbook, row["frame_id"], row["path"])
        )
        if row["frame_id"] != frame_id and not of_another:
            logbook.execute("UPDATE files SET frame_id = ? WHERE file_id = ?", (frame_id, row["file_id"]))
            robbed += [row["frame_id"]] if row["frame_id"] is not None else []
    return robbed


def _named_by(logbook: Logbook, frame_id: int, sidecar_path: str) -> bool:
    """Whether a sidecar bears the very name of one of a frame's pictures."""
    rows = logbook.query("SELECT path FROM files WHERE frame_id = ? AND role <> 'sidecar'", (frame_id,))
    return any(
        without_extension(sidecar_path) in (row["path"], without_extension(row["path"])) for row in rows
    )


def _frame_beside(logbook: Logbook, sidecar_path: str) -> int | None:
    """The frame of the picture that a sidecar names: `name.xmp` and `name.ext.xmp`."""
    named = without_extension(sidecar_path)
    rows = logbook.query(
        "SELECT frame_id, path FROM files WHERE role <> 'sidecar' AND (path = ? OR stem IN (?, ?, ?)) "
        "ORDER BY present DESC, role = 'edited'",
        (named, *(stem_key(one) for one in (named, known_as(named), stem(named)))),
    )
    exactly = [row for row in rows if named in (row["path"], without_extension(row["path"]))]
    alike = [row for row in rows if known_as(named) in (known_as(row["path"]), stem(row["path"]))]
    first = next(iter(exactly or alike), None)
    return None if first is None else int(first["frame_id"])


def _original_of(logbook: Logbook, copy: FileRow) -> int | None:
    """The frame of the same body and moment whose number stands in an edited copy's name."""
    moment = copy.moment
    if moment is None:
        return None
    rows = logbook.query(
        "SELECT frame_id, exposure_key FROM frames WHERE exposure_key >= ? AND exposure_key < ?",
        (moment, moment + "\U0010ffff"),
    )
    numbers = _numbers(copy.path)
    named = [row["frame_id"] for row in rows if _numbers(row["exposure_key"][len(moment) :]) & numbers]
    return int(named[0]) if len(named) == 1 else None


def _numbers(text: str) -> set[str]:
    """Runs of four digits, as cameras number their files."""
    return set(re.findall(r"(?<!\d)\d{4}(?!\d)", PurePath(text).stem))
