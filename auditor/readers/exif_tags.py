"""The values of the standard tags, one directory at a time, so that a broken one loses no other.

Reference: Exif 2.3, 4.6.2 (types and counts of values).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import NamedTuple

from auditor.errors import AuditorError
from auditor.readers.contents import Contents
from auditor.readers.tiff import IfdEntry, TiffBlock

LONGEST_TEXT_BYTES = 4096
"""No standard text that is used here comes near it."""
MOST_VALUES = 999
"""Longer values are tables of the sensor and thumbnails."""

MAKE, MODEL, ORIENTATION, SOFTWARE, RATING = 0x010F, 0x0110, 0x0112, 0x0131, 0x4746
EXIF_DIRECTORY = 0x8769

_ASCII, _RATIONALS = 2, (5, 10)


class Quotient(NamedTuple):
    """A RATIONAL as it is written, not reduced: cameras give meaning to 0/0 and n/0."""

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
        reader = Directories(block)
        tags.main = reader.read(first)
        match tags.main.get(EXIF_DIRECTORY):
            case [int(place), *_]:
                tags.photo = reader.read(place)
        tags.damaged |= reader.damaged
    if contents.photo is not None:
        block, first = TiffBlock.at_header(contents.photo.source, contents.photo.base)
        reader = Directories(block)
        tags.photo = reader.read(first)
        tags.damaged |= reader.damaged
    return tags


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
