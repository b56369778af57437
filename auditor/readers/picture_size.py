"""What a picture states of itself, judged before anything is decoded: one limit for every kind of file.

A file of a few hundred bytes can state a picture that takes gigabytes, and one of 30 kB a picture that is
drawn over a thousand times.
"""

from __future__ import annotations

import re
import warnings
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.errors import CorruptFileError, IncompleteFileError, debugging
from auditor.file_names import as_path

if TYPE_CHECKING:
    from PIL.Image import Image

STAGE = "pixels"
MOST_PIXELS = 400_000_000
"""More than any camera writes, and large scans of film with it (chosen)."""
JPEG_PX_A_BYTE = 512
"""A JPEG spends a bit at least on each block of 8 x 8 px (ITU-T T.81, F.1.2.1: a Huffman code has one bit or
more), so a byte holds at most 512 px (D)."""
MOST_PX_A_BYTE = 10_000
"""Of other kinds: an empty picture of 220 million px was written as HEIF in 76 kB, 2,900 px a byte."""
MOST_SCANS = 100
"""Passes over a progressive JPEG. The usual script of its best-known library makes ten (R)."""
MOST_PIXELS_SCANNED = 15 * MOST_PIXELS
"""Pixels times passes: what a decoder spends its time on."""
_MARKER = re.compile(rb"\xff[\x01-\xcf\xd8-\xfe]")
"""In the data of a scan 0xFF is followed by 0 or a restart marker (T.81, B.1.1.5): those do not count."""
_START_OF_SCAN, _END_OF_IMAGE = 0xDA, 0xD9
_WITHOUT_LENGTH = (0x01, 0xD8)
_LIBHEIF_REFUSES_PX = 100_000_000
"""Over this libheif's own limit on memory can refuse a picture that ours allows."""


def check_size(
    path: str, width_px: int, height_px: int, size_bytes: int, *, px_a_byte: int = MOST_PX_A_BYTE
) -> None:
    """Refuse a picture by the size that it states.

    Parameters
    ----------
    size_bytes
        What there is of it.
    px_a_byte
        As many pixels can be in one byte of this kind of picture.

    Raises
    ------
    CorruptFileError
        where it states more than MOST_PIXELS.
    IncompleteFileError
        where so few bytes cannot hold a picture of that size.
    """
    if width_px * height_px > MOST_PIXELS:
        reason = f"it states {width_px} x {height_px} px, more than any camera writes"
        raise CorruptFileError(path, reason, stage=STAGE)
    if width_px * height_px > px_a_byte * size_bytes:
        reason = f"{size_bytes:,} bytes cannot hold the {width_px} x {height_px} px that it states"
        raise IncompleteFileError(path, reason, stage=STAGE)


def check_jpeg(path: str, width_px: int, height_px: int, data: bytes) -> None:
    """Refuse a JPEG by the size that it states and by how often it is drawn over.

    Parameters
    ----------
    data
        All of it.

    Raises
    ------
    CorruptFileError
        where it states too many pixels or too many passes over them.
    IncompleteFileError
        where its bytes cannot hold that many pixels.
    """
    check_size(path, width_px, height_px, len(data), px_a_byte=JPEG_PX_A_BYTE)
    scans = _scans(data)
    if scans > MOST_SCANS or scans * width_px * height_px > MOST_PIXELS_SCANNED:
        often = f"more than {MOST_SCANS}" if scans > MOST_SCANS else str(scans)
        reason = f"it is drawn over {often} times, which no camera does"
        raise CorruptFileError(path, reason, stage=STAGE)


def _scans(data: bytes) -> int:
    """How often a JPEG is drawn over, counted to just beyond MOST_SCANS."""
    scans, position = 0, 2
    while scans <= MOST_SCANS and (found := _MARKER.search(data, position)):
        marker, position = data[found.start() + 1], found.end()
        if marker == _END_OF_IMAGE:
            break
        if marker not in _WITHOUT_LENGTH:
            scans += marker == _START_OF_SCAN
            position += max(2, int.from_bytes(data[position : position + 2]))
    return scans


@contextmanager
def opened_by_pillow(path: str) -> Iterator[Image]:
    """A HEIF, AVIF or TIFF, opened but not decoded, its size judged by our limit alone.

    Raises
    ------
    CorruptFileError, IncompleteFileError
        for a picture that `check_size` refuses.
    """
    import pillow_heif
    from PIL import Image

    pillow_heif.register_heif_opener()
    size_bytes = Path(as_path(path)).stat().st_size
    kept_px, kept_limits = Image.MAX_IMAGE_PIXELS, pillow_heif.options.DISABLE_SECURITY_LIMITS
    Image.MAX_IMAGE_PIXELS = None
    try:
        with warnings.catch_warnings():
            if not debugging():  # Pillow prints what it thinks of damaged files
                warnings.simplefilter("ignore")
            with Image.open(as_path(path)) as picture:
                check_size(path, *picture.size, size_bytes)
                if picture.width * picture.height > _LIBHEIF_REFUSES_PX:
                    pillow_heif.options.DISABLE_SECURITY_LIMITS = True
                yield picture
    finally:
        Image.MAX_IMAGE_PIXELS = kept_px
        pillow_heif.options.DISABLE_SECURITY_LIMITS = kept_limits
