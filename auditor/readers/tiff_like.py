"""TIFF files, and the raws that are built like one.

References
----------
TIFF 6.0 (Adobe, 1992), section 2; DNG 1.6 (Adobe), sub-directories; TIFF/EP (ISO 12234-2).
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import suppress

from auditor.errors import AuditorError
from auditor.readers import jpeg, note_preview
from auditor.readers.contents import LONGEST_XMP_BYTES, Contents, EmbeddedPicture, ExifBlock
from auditor.readers.source import ByteSource
from auditor.readers.tiff import IfdEntry, TiffBlock
from auditor.words import FileRole

HEADERS = (b"II*\0", b"MM\0*", b"IIRO", b"IIRS", b"MMOR", b"IIU\0")
"""The last four are two makers' own magic numbers; all else is TIFF."""
MOST_DIRECTORIES = 24

_WIDTH, _HEIGHT, _COMPRESSION, _STRIPS, _STRIP_BYTES = 0x0100, 0x0101, 0x0103, 0x0111, 0x0117
_TILES, _TILE_BYTES = 0x0144, 0x0145
_SUB_DIRECTORIES, _JPEG_AT, _JPEG_BYTES, _XMP = 0x014A, 0x0201, 0x0202, 0x02BC
_JPEG_COMPRESSIONS = (6, 7)
_PREVIEW = 0x002E
"""A whole JPEG as the value of a tag, in the raws that start with IIU."""
_RAW_MARKS = (0xC612, 0x828E, 0x9216, _PREVIEW)
"""DNG version, colour filter array, TIFF/EP standard, preview: an ordinary TIFF picture has none."""

_PHOTOMETRIC = 0x0106
_SENSOR_DATA = (32803, 34892)
"""PhotometricInterpretation: colour filter array, and linear raw."""

Directory = dict[int, IfdEntry]


def contents(source: ByteSource) -> Contents:
    """Exif block, XMP packet and full size of the picture.

    Raises
    ------
    CorruptFileError
        where not even the first directory can be read.
    """
    block, first = TiffBlock.at_header(source, 0)
    main = block.directory(first)
    every = [main, *_others(block, main, first)]
    held = Contents(role=_role(source, block, every), main=ExifBlock(source))
    held.width_px, held.height_px = _full_size(block, every)
    xmp = main.get(_XMP)
    if xmp and xmp.size_bytes <= LONGEST_XMP_BYTES:
        held.xmp.append(block.raw(xmp, LONGEST_XMP_BYTES))
    preview = main.get(_PREVIEW)
    if preview and source.read_up_to(0, 4) == b"IIU\0":
        # The preview carries the Exif block with the maker's note; the raw's own has none.
        with suppress(AuditorError):
            inside = jpeg.contents(source, preview.offset)
            held.main = inside.main or held.main
            held.xmp += inside.xmp
    return held


def embedded_pictures(source: ByteSource) -> Iterator[EmbeddedPicture]:
    """Every JPEG in the file's directories that can be shown by itself."""
    block, first = TiffBlock.at_header(source, 0)
    main = block.directory(first)
    places = [place for each in (main, *_others(block, main, first)) for place in _jpeg_places(block, each)]
    in_note = note_preview.place(Contents(role=FileRole.RAW, main=ExifBlock(source)))
    for offset, size_bytes in [*places, in_note] if in_note else places:
        size = jpeg.size_px(source, offset)
        if size and offset + size_bytes <= source.size_bytes:
            yield EmbeddedPicture(offset=offset, size_bytes=size_bytes, width_px=size[0], height_px=size[1])


def stated_end(source: ByteSource) -> int:
    """Where the last strip or tile of any directory ends by what the directories state, in bytes."""
    block, first = TiffBlock.at_header(source, 0)
    main = block.directory(first)
    end = 0
    for directory in (main, *_others(block, main, first)):
        for starts, lengths in ((_STRIPS, _STRIP_BYTES), (_TILES, _TILE_BYTES)):
            both = directory.get(starts), directory.get(lengths)
            if both[0] and both[1]:
                places = zip(block.integers(both[0]), block.integers(both[1]), strict=False)
                end = max([end, *(block.base + start + length for start, length in places)])
    return end


def _jpeg_places(block: TiffBlock, directory: Directory) -> Iterator[tuple[int, int]]:
    preview = directory.get(_PREVIEW)
    if preview:
        yield preview.offset, preview.size_bytes
    where, length = _integer(block, directory, _JPEG_AT), _integer(block, directory, _JPEG_BYTES)
    if where and length:
        yield block.base + where, length
    if _integer(block, directory, _COMPRESSION) in _JPEG_COMPRESSIONS:
        strips, lengths = directory.get(_STRIPS), directory.get(_STRIP_BYTES)
        if strips and lengths and strips.count == lengths.count == 1:
            where, length = (_integer(block, directory, tag) for tag in (_STRIPS, _STRIP_BYTES))
            if where and length:
                yield block.base + where, length


def _others(block: TiffBlock, main: Directory, first: int) -> Iterator[Directory]:
    """The directories after the first, and the sub-directories of each: each once, and not without end."""
    seen = {first}
    waiting = [*_sub_directories(block, main), _next(block, first)]
    while waiting and len(seen) < MOST_DIRECTORIES:
        offset = waiting.pop(0)
        if not offset or offset in seen:
            continue
        seen.add(offset)
        try:
            directory = block.directory(offset)
        except AuditorError:
            continue
        waiting += [*_sub_directories(block, directory), _next(block, offset)]
        yield directory


def _sub_directories(block: TiffBlock, directory: Directory) -> tuple[int, ...]:
    entry = directory.get(_SUB_DIRECTORIES)
    try:
        return block.integers(entry, limit=MOST_DIRECTORIES) if entry else ()
    except AuditorError:
        return ()


def _next(block: TiffBlock, offset: int) -> int:
    try:
        return block.next_directory(offset)
    except AuditorError:
        return 0


def _integer(block: TiffBlock, directory: Directory, tag: int) -> int | None:
    entry = directory.get(tag)
    if entry is None:
        return None
    try:
        values = block.integers(entry, limit=1)
    except AuditorError:
        return None
    return values[0] if values else None


def _role(source: ByteSource, block: TiffBlock, directories: list[Directory]) -> FileRole:
    start = source.read_up_to(0, 10)
    if not start.startswith((b"II*\0", b"MM\0*")) or start[8:10] == b"CR":
        return FileRole.RAW
    for directory in directories:
        if any(mark in directory for mark in _RAW_MARKS):
            return FileRole.RAW
        if _integer(block, directory, _PHOTOMETRIC) in _SENSOR_DATA:
            return FileRole.RAW
    return FileRole.TIFF


def _full_size(block: TiffBlock, directories: list[Directory]) -> tuple[int | None, int | None]:
    sizes = [
        (_integer(block, directory, _WIDTH), _integer(block, directory, _HEIGHT)) for directory in directories
    ]
    complete = [(width, height) for width, height in sizes if width and height]
    return max(complete, key=lambda size: size[0] * size[1], default=(None, None))
