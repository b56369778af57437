"""Boxes of ISO base media files: what HEIF, AVIF and CR3 files are made of.

Reference: ISO/IEC 14496-12, 4.2 (boxes) and 8.7 (sample tables).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from auditor.errors import CorruptFileError
from auditor.readers.source import ByteSource

MOST_BOXES = 2000
"""Side by side in one box; no file seen has a tenth of this."""


class Box(NamedTuple):
    """One box: `offset` and `size_bytes` are those of its payload."""

    kind: bytes
    offset: int
    size_bytes: int

    @property
    def end(self) -> int:
        """Where the payload ends."""
        return self.offset + self.size_bytes


def boxes(source: ByteSource, start: int, end: int) -> Iterator[Box]:
    """The boxes that lie side by side between two offsets; one that leads outside is cut, and the last."""
    position = start
    for _ in range(MOST_BOXES):
        header = source.read_up_to(position, min(16, max(0, end - position)))
        if len(header) < 8:
            return
        size, kind, header_bytes = int.from_bytes(header[:4]), header[4:8], 8
        if size == 1 and len(header) == 16:
            size, header_bytes = int.from_bytes(header[8:16]), 16
        elif size == 0:
            size = end - position
        if size < header_bytes:
            return
        available = min(size, end - position)
        yield Box(kind, position + header_bytes, available - header_bytes)
        position += size


def stated_end(source: ByteSource) -> int:
    """Where the last of the outermost boxes says that it ends, bytes from the start of the file."""
    position = 0
    for _ in range(MOST_BOXES):
        header = source.read_up_to(position, 16)
        if len(header) < 8:
            return position
        size = int.from_bytes(header[:4])
        if size == 1 and len(header) == 16:
            size = int.from_bytes(header[8:16])
        if size < 8:  # 0: to the end of the file
            return source.size_bytes
        position += size
    return position


def children(source: ByteSource, box: Box, skip_bytes: int = 0) -> Iterator[Box]:
    """The boxes inside a box, after `skip_bytes` of its own."""
    return boxes(source, box.offset + skip_bytes, box.end)


def child(source: ByteSource, box: Box | None, kind: bytes, skip_bytes: int = 0) -> Box | None:
    """The first box of a kind inside a box."""
    if box is None:
        return None
    return next((inner for inner in children(source, box, skip_bytes) if inner.kind == kind), None)


def payload(source: ByteSource, box: Box, limit_bytes: int) -> bytes:
    """A box's payload. Raises CorruptFileError for one that is larger than it can need to be."""
    if box.size_bytes > limit_bytes:
        name = box.kind.decode("ascii", errors="replace")
        raise CorruptFileError(source.path, f"a box {name!r} of {box.size_bytes} bytes", stage="container")
    return source.read_at(box.offset, box.size_bytes)


class Cursor:
    """Big-endian numbers read one after another from a box's payload.

    Raises
    ------
    CorruptFileError
        where the payload ends too soon.
    """

    def __init__(self, data: bytes, path: str) -> None:
        self._data = data
        self._path = path
        self.position = 0

    def number(self, size_bytes: int) -> int:
        """The next number; 0 where it has no bytes."""
        return int.from_bytes(self.take(size_bytes))

    def take(self, count: int) -> bytes:
        """The next bytes."""
        end = self.position + count
        if end > len(self._data):
            raise CorruptFileError(self._path, "a box ends too soon", stage="container")
        piece = self._data[self.position : end]
        self.position = end
        return piece
