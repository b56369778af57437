"""The preview of an ORF raw: only the maker's note says where it is.

Reference: exiv2 0.28, tag group OlympusCs (PreviewImageStart counts from the note). Compared with exiv2's
values on two real JPEGs; on ORF files only as the tests write them.
"""

from __future__ import annotations

from auditor.errors import AuditorError
from auditor.readers import maker
from auditor.readers.contents import Contents
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.readers.tiff import TiffBlock

_DIRECTORY_AT = {b"OLYMPUS\0": 12, b"OM SYSTE": 16}
_SETTINGS, _START, _LENGTH = 0x2020, 0x0101, 0x0102


def place(contents: Contents) -> tuple[int, int] | None:
    """Absolute offset and length of the preview; None where the note names none."""
    try:
        note = maker.place(contents)
    except AuditorError:
        return None
    if note is None:
        return None
    outer, offset, _ = note
    directory_at = _DIRECTORY_AT.get(note_start(outer, offset, 8))
    if directory_at is None:
        return None
    block = TiffBlock(outer.source, offset, outer.byte_order)
    settings_at = Fields(block, directory_at).integer(_SETTINGS)
    settings = Fields(block, settings_at)
    start, length = settings.integer(_START), settings.integer(_LENGTH)
    return (offset + start, length) if start and length else None
