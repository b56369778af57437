"""The values of the standard tags.

The exifread library reads them through a stream that shows it one TIFF block with nothing but what is used
here, and stops it where a file states counts without end. It gives up on a damaged block as a whole: that
one is read directory by directory by the reader that maker notes have, so that a broken directory loses no
other.

Reference: Exif 2.3, 4.6.2 (types and counts of values).
"""

from __future__ import annotations

import logging
import struct
from dataclasses import dataclass, field
from typing import Any, BinaryIO, NamedTuple, cast

from auditor.errors import AuditorError, CorruptFileError
from auditor.readers.contents import Contents
from auditor.readers.tiff import MAX_ENTRIES, IfdEntry, TiffBlock

READ_LIMIT_CALLS = 20_000
"""A real file needs about five short reads an entry: 300 for a JPEG, 2,000 for a busy raw."""
READ_LIMIT_BYTES = 1024 * 1024
LONGEST_TEXT_BYTES = 4096
"""No standard text that is used here comes near it."""
MOST_VALUES = 999
"""Longer values are tables of the sensor and thumbnails."""

MAKE, MODEL, ORIENTATION, SOFTWARE, RATING = 0x010F, 0x0110, 0x0112, 0x0131, 0x4746
EXIF_DIRECTORY = 0x8769
USED = frozenset(
    (
        EXIF_DIRECTORY, MAKE, MODEL, ORIENTATION, SOFTWARE, RATING,
        0x829A, 0x829D, 0x8822, 0x8827, 0x8830, 0x8831, 0x8832, 0x8833,  # exposure and ISO
        0x9003, 0x9004, 0x9010, 0x9011, 0x9012, 0x9291, 0x9292,  # time
        0x9201, 0x9202, 0x9204, 0x9205, 0x9206, 0x9209, 0x920A, 0x9214,
        0xA002, 0xA003, 0xA20E, 0xA210, 0xA214, 0xA402, 0xA405,
        0xA431, 0xA432, 0xA434, 0xC62F, 0xC630,  # body and lens
    )
)  # fmt: skip
"""Tags that `exif` asks for. The others, a thumbnail's and a position's are half of what a camera writes."""

TABLES_AT = 0xFFFF0000
"""Where exifread finds the directories: no file's own offsets lead there but by design."""

_ASCII, _LONGS, _RATIONALS = 2, (4, 13), (5, 10)
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
        assert tag in USED, f"0x{tag:04X} is not read: put it into USED"
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
        number = value[0] if isinstance(value, tuple) and value else value  # floats stay in their tuple
        if isinstance(number, int | float):
            plain.append(number)
        elif hasattr(number, "denominator"):
            plain.append(Quotient(number.numerator, number.denominator))
    return plain


def _used(block: TiffBlock, offset: int) -> list[tuple[int, bytes]]:
    """The tag and the ten bytes behind it of each entry that is used, of the directory at `offset`."""
    start = block.base + offset
    (count,) = block.unpack("H", block.source.read_at(start, 2))
    table = block.source.read_up_to(start + 2, 12 * min(count, MAX_ENTRIES))
    whole = table[: len(table) // 12 * 12]
    return [entry for entry in struct.iter_unpack(f"{block.byte_order}H10s", whole) if entry[0] in USED]


class BlockStream:
    """One TIFF block as a file of its own, as exifread sees it: its reads are counted, and none is long.

    Its two directories stand far behind the block once more, with what is used of them alone: there they are
    read. Values stay where they are.
    """

    def __init__(self, block: TiffBlock, first: int) -> None:
        self._source, self._base = block.source, block.base
        order = b"II" if block.byte_order == "<" else b"MM"
        # Some raws write a magic number of their own: the usual one stands here instead.
        self._header = order + struct.pack(block.byte_order + "HI", 42, TABLES_AT)
        # Nearly all of it lies in what is read of a file at once: served from there, in one slice.
        self._near = self._header + block.source.head[block.base + len(self._header) :]
        self._tables = _tables(block, first)
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
            raise CorruptFileError(
                self._source.path, "its metadata asks for more reading than any file needs"
            )
        if start >= TABLES_AT:
            return self._tables[start - TABLES_AT : end - TABLES_AT]
        if end <= len(self._near):
            return self._near[start:end]
        if start < len(self._header):  # a header at the very end of a file
            rest = self._source.read_up_to(self._base + len(self._header), end - len(self._header))
            return (self._header + rest)[start:end]
        return self._source.read_up_to(self._base + start, end - start)


def _tables(block: TiffBlock, first: int) -> bytes:
    """The main directory and the Exif directory, with the entries that are used; none follows them."""
    main = _used(block, first)
    photo_at = TABLES_AT + _table_bytes(main)
    photo: list[tuple[int, bytes]] = []
    for place, (tag, rest) in enumerate(main):
        if tag == EXIF_DIRECTORY:
            kind, count, offset = block.unpack("HII", rest)
            if count == 1 and kind in _LONGS:
                photo = _used(block, offset)
                main[place] = tag, struct.pack(f"{block.byte_order}HII", kind, count, photo_at)
    return b"".join(_written(block.byte_order, table) for table in (main, photo))


def _table_bytes(table: list[tuple[int, bytes]]) -> int:
    return 2 + 12 * len(table) + 4


def _written(order: str, table: list[tuple[int, bytes]]) -> bytes:
    entries = b"".join([struct.pack(f"{order}H10s", *entry) for entry in table])
    return struct.pack(f"{order}H", len(table)) + entries + bytes(4)


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
