"""Which frame a file belongs to: raw and JPEG of one exposure, copies, sidecars, edited copies."""

from __future__ import annotations

import os
import re
from pathlib import PurePath

from auditor.file_names import known_as
from auditor.records import FileReading
from auditor.store.choices import move_choice
from auditor.store.exposure_identity import exposure_key, is_edited, moment_key
from auditor.store.logbook import Logbook
from auditor.store.paths import stem_key
from auditor.words import FileRole


def role_of(reading: FileReading) -> str:
    """The role that a file plays for its frame.

    Parameters
    ----------
    reading
        Of one file.

    Returns
    -------
    str
        A word of FileRole.
    """
    return FileRole.EDITED if is_edited(reading.found.role, reading.recorded) else reading.found.role


def frame_of(logbook: Logbook, reading: FileReading) -> int | None:
    """The frame that a file belongs to, made if it is new; None for a sidecar without its picture.

    Parameters
    ----------
    reading
        Of one file.

    Returns
    -------
    int or None
        Its id.
    """
    if reading.found.role == FileRole.SIDECAR:
        return _frame_beside(logbook, reading.found.path)
    same_bytes = logbook.query(
        "SELECT frame_id FROM files WHERE fingerprint = ? AND role <> 'sidecar' LIMIT 1",
        (reading.fingerprint,),
    )
    if same_bytes:
        return int(same_bytes[0][0])
    key = exposure_key(reading)
    known = logbook.query("SELECT frame_id, body_serial FROM frames WHERE exposure_key = ?", (key,))
    if known:
        serials = (known[0]["body_serial"], reading.recorded.body_serial)
        if None in serials or serials[0] == serials[1]:
            if serials[0] is None and serials[1] is not None:
                logbook.execute(
                    "UPDATE frames SET body_serial = ? WHERE frame_id = ?", (serials[1], known[0]["frame_id"])
                )
            return int(known[0]["frame_id"])
        key += f"|{reading.recorded.body_serial}"  # two bodies of one model, at one moment
        known = logbook.query("SELECT frame_id FROM frames WHERE exposure_key = ?", (key,))
        if known:
            return int(known[0]["frame_id"])
    if role_of(reading) == FileRole.EDITED:
        original = _original_of(logbook, reading)
        if original is not None:
            return original
    # The serial at once: the next file of this batch may be another body's, of the same moment and number.
    return logbook.execute(
        "INSERT INTO frames (exposure_key, body_serial) VALUES (?, ?)", (key, reading.recorded.body_serial)
    )


def adopt(logbook: Logbook, frame_id: int, reading: FileReading) -> list[int]:
    """Give an original the sidecars and edited copies that were read before it, inside `writing()`.

    Parameters
    ----------
    frame_id
        Of the original's frame.
    reading
        Of the original.

    Returns
    -------
    list[int]
        Frames that had one of these sidecars, and have it no more.
    """
    path = reading.found.path
    robbed = _adopt_sidecars(logbook, frame_id, path)
    moment = moment_key(reading.recorded)
    if moment is None or role_of(reading) == FileRole.EDITED:
        return robbed
    for row in logbook.query(
        "SELECT f.frame_id, f.path FROM files AS f JOIN frames USING (frame_id) "
        "WHERE exposure_key >= ? AND exposure_key < ? AND frame_id <> ? AND NOT EXISTS "
        "(SELECT 1 FROM files AS o WHERE o.frame_id = f.frame_id AND o.role NOT IN ('edited', 'sidecar'))",
        (moment, moment + "\U0010ffff", frame_id),
    ):
        if _numbers(path) & _numbers(row["path"]):
            logbook.execute("UPDATE files SET frame_id = ? WHERE frame_id = ?", (frame_id, row["frame_id"]))
            move_choice(logbook, row["frame_id"], frame_id)
            logbook.execute("DELETE FROM frames WHERE frame_id = ?", (row["frame_id"],))
    return robbed


def stem(path: str) -> str:
    """A path without its last extension, as names are compared: what a sidecar is known by.

    Parameters
    ----------
    path
        Absolute, as text.

    Returns
    -------
    str
        Without upper case, its accents composed: programs write the sidecar of IMG_1.JPG as img_1.xmp, too.
    """
    return known_as(_stem(path))


def _stem(path: str) -> str:
    return os.path.splitext(path)[0]  # noqa: PTH122  # a text of this system, kept as a text


def _adopt_sidecars(logbook: Logbook, frame_id: int, path: str) -> list[int]:
    """Give a picture the sidecars that wait for it, and those that another picture has only by likeness."""
    robbed = []
    exactly = (path, _stem(path))
    rows = logbook.query(
        "SELECT file_id, frame_id, path FROM files WHERE role = 'sidecar' AND stem IN (?, ?, ?, ?)",
        [stem_key(one) for one in (*exactly, *map(known_as, exactly))],
    )
    for row in rows:
        of_another = row["frame_id"] is not None and (
            _stem(row["path"]) not in exactly or _named_by(logbook, row["frame_id"], row["path"])
        )
        if row["frame_id"] != frame_id and not of_another:
            logbook.execute("UPDATE files SET frame_id = ? WHERE file_id = ?", (frame_id, row["file_id"]))
            robbed += [row["frame_id"]] if row["frame_id"] is not None else []
    return robbed


def _named_by(logbook: Logbook, frame_id: int, sidecar_path: str) -> bool:
    """Whether a sidecar bears the very name of one of a frame's pictures."""
    rows = logbook.query("SELECT path FROM files WHERE frame_id = ? AND role <> 'sidecar'", (frame_id,))
    return any(_stem(sidecar_path) in (row["path"], _stem(row["path"])) for row in rows)


def _frame_beside(logbook: Logbook, sidecar_path: str) -> int | None:
    """The frame of the picture that a sidecar names: `name.xmp` and `name.ext.xmp`."""
    named = _stem(sidecar_path)
    rows = logbook.query(
        "SELECT frame_id, path FROM files WHERE role <> 'sidecar' AND (path = ? OR stem IN (?, ?, ?)) "
        "ORDER BY present DESC, role = 'edited'",
        (named, *(stem_key(one) for one in (named, known_as(named), stem(named)))),
    )
    exactly = [row for row in rows if named in (row["path"], _stem(row["path"]))]
    alike = [row for row in rows if known_as(named) in (known_as(row["path"]), stem(row["path"]))]
    first = next(iter(exactly or alike), None)
    return None if first is None else int(first["frame_id"])


def _original_of(logbook: Logbook, reading: FileReading) -> int | None:
    """The frame of the same body and moment whose number stands in an edited copy's name."""
    moment = moment_key(reading.recorded)
    if moment is None:
        return None
    rows = logbook.query(
        "SELECT frame_id, exposure_key FROM frames WHERE exposure_key >= ? AND exposure_key < ?",
        (moment, moment + "\U0010ffff"),
    )
    numbers = _numbers(reading.found.path)
    named = [row["frame_id"] for row in rows if _numbers(row["exposure_key"][len(moment) :]) & numbers]
    return int(named[0]) if len(named) == 1 else None


def _numbers(text: str) -> set[str]:
    """Runs of four digits, as cameras number their files."""
    return set(re.findall(r"(?<!\d)\d{4}(?!\d)", PurePath(text).stem))
