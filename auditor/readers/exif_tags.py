"""The values of the standard tags, read by the exifread library within bounds.

exifread reads whatever counts and offsets a file states, and may raise anything over
them: here it works on a stream that stops it, one directory at a time, so that a broken
directory loses no other.
"""

from __future__ import annotations

import logging
from dataclasses import dataclass, field
from typing import Any, BinaryIO, cast

from exifread.core.exif_header import ExifHeader

from auditor.errors import AuditorError, CorruptFileError, show_when_debugging
from auditor.readers.contents import Contents
from auditor.readers.source import ByteSource
from auditor.readers.tiff import TiffBlock

READ_LIMIT_CALLS = 20_000
"""A real file needs about five short reads an entry: 300 for a JPEG, 2,000 for a busy raw."""
READ_LIMIT_BYTES = 1024 * 1024
LONGEST_READ = 4096
"""No standard text that is used here comes near it."""

MAKE, MODEL, ORIENTATION, SOFTWARE, RATING = 0x010F, 0x0110, 0x0112, 0x0131, 0x4746
EXIF_DIRECTORY = 0x8769

logging.getLogger("exifread").setLevel(logging.CRITICAL + 1)

Values = list[Any] | str | bytes


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
        reader = Directories(block.source, block.base, block.byte_order)
        tags.main = reader.read(first)
        match tags.main.get(EXIF_DIRECTORY):
            case [int(place), *_]:
                tags.photo = reader.read(place)
        tags.damaged |= reader.damaged
    if contents.photo is not None:
        block, first = TiffBlock.at_header(contents.photo.source, contents.photo.base)
        reader = Directories(block.source, block.base, block.byte_order)
        tags.photo = reader.read(first)
        tags.damaged |= reader.damaged
    return tags


class BoundedStream:
    """What exifread sees of a file: reads are counted, and none is long."""

    def __init__(self, source: ByteSource) -> None:
        self._source = source
        self._head = source.head
        self._position = 0
        self._calls_left = READ_LIMIT_CALLS
        self._bytes_left = READ_LIMIT_BYTES

    def seek(self, offset: int) -> None:
        """Where the next read starts."""
        self._position = offset

    def read(self, count: int) -> bytes:
        """Up to `count` bytes; fewer at the end. Raises CorruptFileError over the limits."""
        self._calls_left -= 1
        start = self._position
        if count > LONGEST_READ:
            count = LONGEST_READ
        self._bytes_left -= count
        if self._calls_left < 0 or self._bytes_left < 0:
            raise CorruptFileError(self._source.path, "its metadata asks for more reading than any can need")
        end = start + count
        if end <= len(self._head):
            return self._head[start:end]
        return self._source.read_up_to(start, count)


class Directories:
    """Reads directories of one TIFF block into Tags."""

    def __init__(self, source: ByteSource, base: int, byte_order: str) -> None:
        stream = cast(BinaryIO, BoundedStream(source))
        endian = "I" if byte_order == "<" else "M"
        # The class behind exifread.process_file: it keeps what it has read when a later tag fails, and
        # leaves the walk through further directories (thumbnail, position) to us.
        self._header = ExifHeader(stream, endian, base, 0, strict=False, detailed=False)
        self.damaged = False

    def read(self, offset: int) -> dict[int, Values]:
        """Values by tag number of the directory at `offset`; as far as it can be read."""
        self._header.tags = {}
        try:
            self._header.dump_ifd(offset, "", tag_dict={})
        except Exception:  # noqa: BLE001 - exifread raises anything over a damaged directory
            show_when_debugging()
            self.damaged = True
        return {entry.tag: entry.values for entry in self._header.tags.values()}
