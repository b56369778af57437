"""One file in, what it recorded out: the whole of reading, for any kind of file.

Where several sources tell the same fact, the order is: the standard tags; the maker's note
for what they lack (its own word first for the focus: mode, areas, camera word); XMP for rating,
keywords and, where the note has none, focus areas.
"""

from __future__ import annotations

import os
from hashlib import blake2b
from pathlib import Path

from auditor.errors import (
    AuditorError,
    CorruptFileError,
    FileAccessError,
    UnsupportedFileError,
    show_when_debugging,
)
from auditor.readers import folder, sidecar
from auditor.readers.containers import contents
from auditor.readers.kinds import role_of_name
from auditor.readers.merging import recorded
from auditor.readers.source import ByteSource, open_source
from auditor.records import FileReading, FoundFile, Recorded
from auditor.words import FileRole

UNFORESEEN = "damaged in a way that was not foreseen"
"""Reason of a file over which the readers themselves failed; the tests see to it that none is known."""
FINGERPRINT_BYTES = 64 * 1024
"""Read at each end of a file: enough to know it again, and quick whatever its size."""


def found_file(path: Path) -> FoundFile:
    """The record of a single file, as the walk would find it.

    Raises
    ------
    UnreadableFileError
        where there is none.
    """
    absolute = os.path.abspath(path)  # noqa: PTH100 - Path.absolute keeps ".." parts
    try:
        facts = Path(absolute).stat()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileAccessError(path, reason, stage="open") from error
    if not Path(absolute).is_file():
        raise UnsupportedFileError(path, "not a file", stage="open")
    # The bytes decide what a file is; only a sidecar is known by its name.
    return folder.found(absolute, role_of_name(Path(absolute).name) or FileRole.JPEG, facts)


def read_file(found: FoundFile) -> FileReading:
    """Everything that one file recorded.

    Raises
    ------
    UnreadableFileError
        (or a subclass) for a file that cannot be read, whatever is wrong with it.
    """
    with open_source(found.path) as source:
        try:
            return _read(found, source)
        except AuditorError:
            raise
        except OSError:  # open_source says which
            raise
        except Exception as error:  # no bytes may stop a scan, not even those nobody foresaw
            show_when_debugging()
            raise CorruptFileError(found.path, f"{UNFORESEEN} ({type(error).__name__})") from error


def _read(found: FoundFile, source: ByteSource) -> FileReading:
    fingerprint = fingerprint_of(source)
    if found.role == FileRole.SIDECAR:
        return FileReading(found=found, fingerprint=fingerprint, recorded=sidecar.recorded(source))
    inside = contents(source)
    if inside.main is None and not inside.xmp and inside.width_px is None:
        raise CorruptFileError(found.path, "it holds neither a picture nor metadata")
    # Of raws built like TIFF some show it in their name alone.
    if inside.role != found.role and (inside.role, found.role) != (FileRole.TIFF, FileRole.RAW):
        found = FoundFile(
            path=found.path, role=inside.role, size_bytes=found.size_bytes, modified_at=found.modified_at
        )
    facts: Recorded = recorded(inside)
    return FileReading(found=found, fingerprint=fingerprint, recorded=facts)


def fingerprint_of(source: ByteSource) -> str:
    """A name for a file's bytes: BLAKE2b over its size, its first and its last 64 KiB (RFC 7693)."""
    size = source.size_bytes
    digest = blake2b(str(size).encode(), digest_size=16)
    digest.update(source.read_up_to(0, FINGERPRINT_BYTES))
    if size > FINGERPRINT_BYTES:
        last = min(FINGERPRINT_BYTES, size - FINGERPRINT_BYTES)
        digest.update(source.read_at(size - last, last))
    return digest.hexdigest()
