"""What the logbook takes of a file that was read: all of it that can be worked out without the logbook.

Workers that read files make these rows, so that the one process that writes has little left to do.
"""

from __future__ import annotations

from typing import NamedTuple

from auditor.file_names import known_as
from auditor.records import FileReading, FoundFile
from auditor.store.exposure_identity import (
    FrameValues,
    exposure_key,
    facts_of,
    file_number,
    frame_values,
    is_edited,
    line_of,
    moment_key,
)
from auditor.store.packed import packed
from auditor.store.paths import stem, stem_key, without_extension
from auditor.words import FileRole


class FileRow(NamedTuple):
    """A file that was read; a tuple, since one of every file goes from one process to another."""

    found: FoundFile
    role: str
    """That it plays for its frame."""
    fingerprint: str
    exposure_key: str
    """Equal for files of one exposure, but for those of two bodies of one model."""
    moment: str | None
    """The part of the key that tells body and time."""
    body_serial: str | None
    stem: str
    """Keys of paths, as `paths.stem_key` makes them: of this file's without its last extension ..."""
    sidecar_stems: tuple[str, ...]
    """... and those that a sidecar of it may have."""
    recorded: bytes
    """What it recorded, packed."""
    frame: FrameValues
    """The row of `frames` that it makes alone; its reasons as a text."""

    @property
    def path(self) -> str:
        """Of the file."""
        return self.found.path

    @property
    def is_original(self) -> bool:
        """Whether it came out of a camera: no sidecar, and no edited copy."""
        return self.role not in (FileRole.SIDECAR, FileRole.EDITED)


def file_row(reading: FileReading) -> FileRow:
    """A file's row.

    Parameters
    ----------
    reading
        Of the file.

    Returns
    -------
    FileRow
        Without its ids.
    """
    found, recorded = reading.found, reading.recorded
    number, moment = file_number(found.path), moment_key(recorded)
    facts = facts_of(recorded, number if found.role != FileRole.SIDECAR else None)
    exactly = (found.path, without_extension(found.path))
    return FileRow(
        found=found,
        role=(FileRole.EDITED if is_edited(found.role, recorded) else found.role).value,
        fingerprint=reading.fingerprint,
        exposure_key=exposure_key(reading, moment, number),
        moment=moment,
        body_serial=recorded.body_serial,
        stem=stem_key(stem(found.path)),
        sidecar_stems=tuple(stem_key(one) for one in {*exactly, *map(known_as, exactly)}),
        recorded=packed(line_of(facts)),
        frame=frame_values(facts),
    )
