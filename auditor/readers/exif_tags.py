"""The values of the standard tags.

The exifread library reads them through a stream that shows it one TIFF block and stops it where a file states
counts without end. It gives up on a damaged block as a whole: that one is read directory by directory by the
reader that maker notes have, so that a broken directory loses no other.

Reference: Exif 2.3, 4.6.2 (types and counts of values).
"""

from __future__ import annotations

import logging
import struct
from dataclasses import dataclass, field
from typing import Any, BinaryIO, NamedTuple, cast

from auditor.errors import AuditorError, CorruptFileError
from auditor.readers.contents import Contents
from auditor.readers.tiff import IfdEntry, TiffBlock

READ_LIMIT_CALLS = 20_000
"""A real file needs about five short reads an entry: 300 for a JPEG, 2,000 for a busy raw."""
READ_LIMIT_BYTES = 1024 * 1024
LONGEST_TEXT_BYTES = 4096
"""No standard text that is used here comes near it."""
MOST_VALUES = 999
"""Longer values are tables of the sensor and thumbnails."""

MAKE, MODEL, ORIENTATION, SOFTWARE, RATING = 0x010F, 0x0110, 0x0112, 0x0131, 0x4746
EXIF_DIRECTORY = 0x8769

_ASCII, _RATIONALS = 2, (5, 10)
_MAIN, _PHOTO = "Image ", "EXIF "
"""How exifread's names of tags begin, by directory."""

logging.getLogger("exifread").setLevel(logging.CRITICAL + 1)


class Quotient(NamedTuple):
    """A RATIONAL, also one by zero: cameras give meaning to 0/0 and n/0."""

    numerator: int
    denominator: int


Values = list[int | float | Quotient] | str | bytes


@dataclass(slots=True)
class Tags:
    """Raw values by tag number: of the main directory, and of the Exif directory."""

    main: dict[int, Values] = field(default_factory=dict)
    photo: dict[int, Values] = field(default_factory=dict)
    damaged: bool = False
    """A directory could not be read to its end: what is absent may have been recorded."""

    def get(self, tag: int) -> Values | None:
        """From the Exif directory, else from the main one, where TIFF/EP files keep theirs."""
        value = self.photo.get(tag)
        return self.main.get(tag) if value is None else value


def standard_tags(contents: Contents) -> Tags:
    """The tags of a file's Exif block or blocks, as far as they can be read."""
    tags = Tags()
    if contents.main is not None:
        try:
            block, first = TiffBlock.at_header(contents.main.source, contents.main.base)
        except AuditorError:
            tags.damaged = True
            return tags
        _read_block(block, first, tags)
    if contents.photo is not None:
        block, first = TiffBlock.at_header(contents.photo.source, contents.photo.base)
        alone = Tags()
        _read_block(block, first, alone)
        tags.photo = alone.main
        tags.damaged |= alone.damaged
    return tags


def _read_block(block: TiffBlock, first: int, tags: Tags) -> None:
    """The main directory of a block, and the Exif directory that it points to."""
    try:
        tags.main, tags.photo = _by_exifread(block, first)
    except Exception:  # noqa: BLE001 - exifread raises anything over a damaged block
        reader = Directories(block)
        tags.main = reader.read(first)
        match tags.main.get(EXIF_DIRECTORY):
            case [int(place), *_]:
                tags.photo = reader.read(place)
        tags.damaged |= reader.damaged


def _by_exifread(block: TiffBlock, first: int) -> tuple[dict[int, Values], dict[int, Values]]:
    import exifread

    stream = cast(BinaryIO, BlockStream(block, first))
    read = exifread.process_file(stream, details=False, extract_thumbnail=False)
    if not read:
        raise CorruptFileError(block.source.path, "its Exif block holds no tags")
    main, photo = (
        {
            tag.tag: _plain(tag.values)
            for name, tag in read.items()
            if name.startswith(directory) and hasattr(tag, "tag")
        }
        for directory in (_MAIN, _PHOTO)
    )
    return main, photo


def _plain(values: Any) -> Values:
    """What exifread gives, in our own types; its quotients are reduced, and may be by zero."""
    if isinstance(values, str | bytes):
        return values
    plain: list[int | float | Quotient] = []
    for value in values[:MOST_VALUES]:
        part = value[0] if isinstance(value, tuple) and value else value  # floats stay in their tuple
        if isinstance(part, int | float):
            plain.append(part)
        elif hasattr(part, "denominator"):
            plain.append(Quotient(part.numerator, part.denominator))
    return plain


class BlockStream:
    """One TIFF block as a file of its own, as exifread sees it: its reads are counted, and none is long."""

    def __init__(self, block: TiffBlock, first: int) -> None:
        self._source, self._base = block.source, block.base
        order = b"II" if block.byte_order == "<" else b"MM"
        # Some raws write a magic number of their own: the usual one stands here instead.
        self._header = order + struct.pack(block.byte_order + "HI", 42, first)
        # Nearly all of it lies in what is read of a file at once: served from there, in one slice.
        self._near = self._header + block.source.head[block.base + len(self._header) :]
        self._position = 0
        self._calls_left = READ_LIMIT_CALLS
        self._bytes_left = READ_LIMIT_BYTES

    def seek(self, offset: int) -> None:
        """Where the next read starts."""
        self._position = offset

    def read(self, count: int) -> bytes:
        """Up to `count` bytes; fewer at the end. Raises CorruptFileError over the limits."""
        start = self._position
        end = start + (count if count < LONGEST_TEXT_BYTES else LONGEST_TEXT_BYTES)
        self._position = end
        self._calls_left -= 1
        self._bytes_left -= end - start
        if self._calls_left < 0 or self._bytes_left < 0:
            raise CorruptFileError(self._source.path, "its metadata asks for more reading than any can need")
        if end <= len(self._near):
            return self._near[start:end]
        if start < len(self._header):  # a header at the very end of a file
            rest = self._source.read_up_to(self._base + len(self._header), end - len(self._header))
            return (self._header + rest)[start:end]
        return self._source.read_up_to(self._base + start, end - start)


class Directories:
    """Reads directories of one TIFF block into Tags."""

    def __init__(self, block: TiffBlock) -> None:
        self._block = block
        self.damaged = False

    def read(self, offset: int) -> dict[int, Values]:
        """Values by tag number of the directory at `offset`; as far as it can be read."""
        values: dict[int, Values] = {}
        try:
            for tag, entry in self._block.directory(offset).items():
                values[tag] = self._values(entry)
        except AuditorError:
            self.damaged = True
        self.damaged |= self._block.damaged
        return values

    def _values(self, entry: IfdEntry) -> Values:
        if entry.type == _ASCII:
            data = self._block.raw(entry, LONGEST_TEXT_BYTES).split(b"\0", 1)[0]
            try:
                return data.decode("utf-8")
            except UnicodeDecodeError:
                return data
        if entry.count > MOST_VALUES:
            return []
        numbers = self._block.numbers(entry)
        if entry.type in _RATIONALS:
            return [
                Quotient(int(over), int(below))
                for over, below in zip(numbers[::2], numbers[1::2], strict=True)
            ]
        return list(numbers)
