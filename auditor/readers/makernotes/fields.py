"""The values of one maker-note directory, each read on its own."""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import suppress

from auditor.errors import AuditorError
from auditor.readers.tiff import IfdEntry, TiffBlock

MAX_BLOCK_BYTES = 64 * 1024


class Fields:
    """Reads a directory so that an odd value is None (or empty) and hides none of its neighbours.

    Parameters
    ----------
    block
        The TIFF structure that the directory belongs to.
    offset
        Where the directory lies, counted from `block.base`; None for one that is not there. One that
        cannot be read has no values.
    """

    def __init__(self, block: TiffBlock, offset: int | None) -> None:
        self.block = block
        self._entries: dict[int, IfdEntry] = {}
        if offset is not None:
            with suppress(AuditorError):
                self._entries = block.directory(offset)

    def __bool__(self) -> bool:
        return bool(self._entries)

    def entry(self, tag: int) -> IfdEntry | None:
        """The entry itself."""
        return self._entries.get(tag)

    def integers(self, tag: int, at_least: int = 1) -> tuple[int, ...]:
        """Its integers; empty when there are fewer than `at_least`."""
        entry = self._entries.get(tag)
        if entry is None or entry.count < at_least:
            return ()
        try:
            return self.block.integers(entry)
        except AuditorError:
            return ()

    def integer(self, tag: int) -> int | None:
        """Its first integer."""
        values = self.integers(tag)
        return values[0] if values else None

    def word(self, tag: int, table: Mapping[int, str]) -> str | None:
        """The word that `table` has for its first integer."""
        value = self.integer(tag)
        return None if value is None else table.get(value)

    def numbers(self, tag: int, at_least: int = 1) -> tuple[int | float, ...]:
        """Its numbers, a RATIONAL as two; empty when there are fewer than `at_least`."""
        entry = self._entries.get(tag)
        if entry is None:
            return ()
        try:
            values = self.block.numbers(entry)
        except AuditorError:
            return ()
        return values if len(values) >= at_least else ()

    def quotients(self, tag: int, count: int) -> tuple[float, ...]:
        """The first `count` quotients of a RATIONAL; empty when any of them is missing or divides by 0."""
        entry = self._entries.get(tag)
        if entry is None:
            return ()
        try:
            values = self.block.rationals(entry)[:count]
        except AuditorError:
            return ()
        numbers = tuple(value for value in values if value is not None)
        return numbers if len(numbers) == count else ()

    def positive(self, tag: int) -> float | None:
        """A RATIONAL above 0, such as a focal length or an f-number."""
        values = self.quotients(tag, 1)
        return values[0] if values and values[0] > 0 else None

    def text(self, tag: int) -> str | None:
        """Its text; None when it is empty or is not text."""
        entry = self._entries.get(tag)
        if entry is None or entry.type not in (2, 7):
            return None
        try:
            text = self.block.text(entry)
        except AuditorError:
            return None
        return text if text and text.isprintable() and "\ufffd" not in text else None

    def data(self, tag: int) -> bytes:
        """Its bytes as they are, cut at MAX_BLOCK_BYTES; empty when missing."""
        entry = self._entries.get(tag)
        if entry is None:
            return b""
        try:
            return self.block.raw(entry, MAX_BLOCK_BYTES)
        except AuditorError:
            return b""


def note_start(block: TiffBlock, offset: int, count: int = 16) -> bytes:
    """The first bytes of a note, by which it is known; fewer at the end of the file."""
    try:
        return block.source.read_up_to(offset, count)
    except AuditorError:
        return b""
