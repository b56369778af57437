"""RAF raws: the JPEG inside carries the whole Exif block.

Reference: the header was checked only on files that the tests write; its two numbers are from
memory of public descriptions. The JPEG is told by its first bytes.
"""

from __future__ import annotations

from collections.abc import Iterator

from auditor.readers import jpeg
from auditor.readers.contents import Contents, EmbeddedPicture
from auditor.readers.source import ByteSource
from auditor.words import FileRole

START = b"FUJIFILMCCD-RAW "
_JPEG_AT, _JPEG_BYTES = 84, 88


def contents(source: ByteSource) -> Contents:
    """What the JPEG inside holds."""
    held = jpeg.contents(source, _number(source, _JPEG_AT))
    held.role = FileRole.RAW
    return held


def embedded_pictures(source: ByteSource) -> Iterator[EmbeddedPicture]:
    """The JPEG inside."""
    offset, size_bytes = _number(source, _JPEG_AT), _number(source, _JPEG_BYTES)
    size = jpeg.size_px(source, offset)
    if size and 0 < size_bytes <= source.size_bytes - offset:
        yield EmbeddedPicture(offset=offset, size_bytes=size_bytes, width_px=size[0], height_px=size[1])


def _number(source: ByteSource, offset: int) -> int:
    return int.from_bytes(source.read_at(offset, 4))
