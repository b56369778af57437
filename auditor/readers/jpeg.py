"""JPEG files: the segments before the picture.

References
----------
ITU-T T.81, annex B; Exif 2.3, 4.7.2; Adobe XMP specification part 3, 1.1.3.
"""

from __future__ import annotations

from collections.abc import Iterator

from auditor.errors import AuditorError, CorruptFileError
from auditor.readers.contents import Contents, ExifBlock
from auditor.readers.source import ByteSource
from auditor.words import FileRole

START = b"\xff\xd8"
MOST_SEGMENTS = 2000
"""Colour profiles and previews come in pieces of 64 KiB: no file seen has a tenth of this."""

_APP1, _START_OF_SCAN, _END = 0xE1, 0xDA, 0xD9
_EXIF = b"Exif\0"
_EXIF_HEADER_BYTES = 6
_MOST_PACKETS = 4
_LONGEST_RUBBISH = 4096
_TIFF_ORDERS = (b"II", b"MM")
_XMP = b"http://ns.adobe.com/xap/1.0/\0"
_WITHOUT_LENGTH = frozenset([0x01, *range(0xD0, 0xD9)])
_SHOWABLE = frozenset([0xC0, 0xC1, 0xC2])
_FRAME_HEADERS = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}


def contents(source: ByteSource, start: int = 0) -> Contents:
    """Exif block, XMP packet and size of the JPEG at `start`.

    Raises
    ------
    CorruptFileError
        where there is no JPEG at `start`. One that breaks off later is read as far as it goes.
    """
    held = Contents(role=FileRole.JPEG)
    for marker, offset, size_bytes in segments(source, start):
        if marker == _APP1:
            _take_app1(held, source, offset, size_bytes)
        elif marker in _FRAME_HEADERS and size_bytes >= 5:
            header = source.read_at(offset, 5)
            held.height_px = int.from_bytes(header[1:3]) or None
            held.width_px = int.from_bytes(header[3:5]) or None
    return held


def size_px(source: ByteSource, start: int) -> tuple[int, int] | None:
    """Width and height of the JPEG at `start`; None where there is none that can be shown.

    Raws hold their sensor data as lossless JPEG (SOF3): that is no picture yet.
    """
    try:
        for marker, offset, size_bytes in segments(source, start):
            if marker in _SHOWABLE and size_bytes >= 5:
                header = source.read_at(offset, 5)
                return int.from_bytes(header[3:5]), int.from_bytes(header[1:3])
    except AuditorError:
        return None
    return None


def segments(source: ByteSource, start: int = 0) -> Iterator[tuple[int, int, int]]:
    """Marker, offset of the payload and its length, up to the start of the picture."""
    if source.read_up_to(start, 2) != START:
        raise CorruptFileError(source.path, f"no JPEG at byte {start}", stage="container")
    position = start + 2
    for _ in range(MOST_SEGMENTS):
        header = source.read_up_to(position, 4)
        if len(header) < 4:
            return
        if header[0] != 0xFF:  # rubbish between segments: decoders look for the next marker
            rubbish = source.read_up_to(position, _LONGEST_RUBBISH).find(b"\xff")
            if rubbish < 0:
                return
            position += rubbish
            continue
        marker = header[1]
        if marker == 0xFF:  # a fill byte
            position += 1
            continue
        if marker in _WITHOUT_LENGTH:
            position += 2
            continue
        length = int.from_bytes(header[2:4])
        if marker in (_START_OF_SCAN, _END) or length < 2:
            return
        available = min(length - 2, source.size_bytes - position - 4)
        yield marker, position + 4, available
        position += 2 + length


def _take_app1(held: Contents, source: ByteSource, offset: int, size_bytes: int) -> None:
    # Only what is known is read whole: phones put megabytes of other things into such segments.
    start = source.read_at(offset, min(size_bytes, len(_XMP)))
    if start.startswith(_EXIF) and held.main is None and size_bytes > _EXIF_HEADER_BYTES:
        block = source.read_at(offset + _EXIF_HEADER_BYTES, size_bytes - _EXIF_HEADER_BYTES)
        if block.startswith(_TIFF_ORDERS):
            held.main = ExifBlock(ByteSource.of_bytes(block, source.path))
    elif start == _XMP and len(held.xmp) < _MOST_PACKETS:
        held.xmp.append(source.read_at(offset + len(_XMP), size_bytes - len(_XMP)))
