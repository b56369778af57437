"""Bounded random access to the bytes of one file."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from auditor.errors import CorruptFileError, FileAccessError
from auditor.file_names import as_path, as_text

READ_LIMIT_BYTES = 16 * 1024 * 1024
"""Metadata of one file never needs more; hostile lengths and loops run into this wall."""
READ_LIMIT_CALLS = 100_000
HEAD_BYTES = 256 * 1024
"""Read at once when a file is opened: metadata mostly lies there, and one long read beats many short ones."""


class ByteSource:
    """Bytes of a file (or of a block in memory) by absolute offset.

    No length or offset that a file states is trusted: reading outside the file, or more
    in total than metadata can need, raises CorruptFileError.
    """

    def __init__(self, stream: BinaryIO, path: Path | str, size_bytes: int, head: bytes = b"") -> None:
        self.path = path if isinstance(path, str) else as_text(path)
        self.size_bytes = size_bytes
        self.head = head
        """The first bytes, already read; may be empty."""
        self._stream = stream
        self._bytes_left = READ_LIMIT_BYTES
        self._calls_left = READ_LIMIT_CALLS

    @classmethod
    def of_bytes(cls, data: bytes, path: Path | str) -> ByteSource:
        """A block that is in memory; `path` is the file it came from."""
        return cls(io.BytesIO(), path, len(data), head=data)

    def read_at(self, offset: int, count: int) -> bytes:
        """Exactly `count` bytes from `offset`.

        Raises
        ------
        CorruptFileError
            when that leads outside the file or over the limits.
        """
        if offset < 0 or count < 0 or offset + count > self.size_bytes:
            raise CorruptFileError(self.path, f"an offset leads outside the file ({count} bytes at {offset})")
        self._bytes_left -= count
        self._calls_left -= 1
        if self._bytes_left < 0 or self._calls_left < 0:
            raise CorruptFileError(self.path, "its metadata asks for more reading than any file needs")
        if offset + count <= len(self.head):
            return self.head[offset : offset + count]
        self._stream.seek(offset)
        data = self._stream.read(count)
        if len(data) != count:
            raise CorruptFileError(self.path, f"the file ended while reading {count} bytes at {offset}")
        return data

    def read_up_to(self, offset: int, count: int) -> bytes:
        """Up to `count` bytes from `offset`; fewer (or none) at the end of the file."""
        return self.read_at(
            min(max(offset, 0), self.size_bytes), max(0, min(count, self.size_bytes - max(offset, 0)))
        )


@contextmanager
def open_source(path: Path | str) -> Iterator[ByteSource]:
    """Open a file for bounded reading.

    Raises
    ------
    FileAccessError
        when the file cannot be opened, or the system fails while it is read.
    """
    try:
        stream = open(as_path(path) if isinstance(path, str) else path, "rb")  # noqa: SIM115 - closed below
    except (OSError, ValueError) as error:  # ValueError: a path that no system can have
        raise FileAccessError(path, getattr(error, "strerror", None) or str(error), stage="open") from error
    with stream:
        try:
            size_bytes = stream.seek(0, 2)
            stream.seek(0)
            yield ByteSource(stream, path, size_bytes, head=stream.read(HEAD_BYTES))
        except OSError as error:
            raise FileAccessError(path, error.strerror or str(error), stage="open") from error
