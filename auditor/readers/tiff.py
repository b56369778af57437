"""A bounded walker over TIFF directories (IFDs): the form of Exif and of most maker notes.

Reference: TIFF 6.0 (Adobe, 1992), section 2; Exif 2.3, section 4.6.2.
"""

from __future__ import annotations

import struct
from dataclasses import dataclass
from typing import Literal

from auditor.errors import CorruptFileError
from auditor.readers.source import ByteSource

ByteOrder = Literal["<", ">"]

MAX_ENTRIES = 1024
"""No directory seen in a real file comes near this many entries."""
MAX_VALUE_BYTES = 1024 * 1024

# TIFF type number -> (struct code, bytes); 13 is IFD, written by some makers for LONG.
_TYPES = {
    1: ("B", 1), 2: ("s", 1), 3: ("H", 2), 4: ("I", 4), 5: ("II", 8), 6: ("b", 1), 7: ("B", 1),
    8: ("h", 2), 9: ("i", 4), 10: ("ii", 8), 11: ("f", 4), 12: ("d", 8), 13: ("I", 4),
}  # fmt: skip


@dataclass(slots=True)
class IfdEntry:
    """One directory entry. `offset` is where its value lies in the file (absolute)."""

    tag: int
    type: int
    count: int
    offset: int
    size_bytes: int


class TiffBlock:
    """A TIFF structure inside a file: values found by offsets from `base`.

    Parameters
    ----------
    base
        Absolute offset that the structure's own offsets count from.
    byte_order
        "<" (II) or ">" (MM).
    """

    def __init__(self, source: ByteSource, base: int, byte_order: ByteOrder) -> None:
        self.source = source
        self.base = base
        self.byte_order: ByteOrder = byte_order
        self.damaged = False
        """Whether a directory that was read is cut short, or holds an entry that leads outside the file."""

    @classmethod
    def at_header(cls, source: ByteSource, base: int) -> tuple[TiffBlock, int]:
        """Read the 8-byte TIFF header at `base`; returns the block and its first directory's offset.

        The magic number is not checked: some raws write their own.
        """
        header = source.read_at(base, 8)
        orders: dict[bytes, ByteOrder] = {b"II": "<", b"MM": ">"}
        if header[:2] not in orders:
            raise CorruptFileError(source.path, f"no TIFF header at byte {base}")
        block = cls(source, base, orders[header[:2]])
        return block, block.unpack("I", header[4:])[0]

    def unpack(self, code: str, data: bytes) -> tuple[int, ...]:
        """struct.unpack in the block's byte order."""
        return struct.unpack(self.byte_order + code, data)

    def directory(self, offset: int) -> dict[int, IfdEntry]:
        """The entries of the directory at `offset` (from `base`), by tag; the first of equal tags wins.

        Entries of unknown type, or whose value leads outside the file, are left out: one
        bad entry must not hide its neighbours.

        Raises
        ------
        CorruptFileError
            when the directory itself leads outside or has more than MAX_ENTRIES entries.
        """
        start = self.base + offset
        (count,) = self.unpack("H", self.source.read_at(start, 2))
        if count > MAX_ENTRIES:
            raise CorruptFileError(self.source.path, f"a directory with {count} entries")
        table = self.source.read_up_to(start + 2, 12 * count)
        self.damaged |= len(table) < 12 * count
        entries: dict[int, IfdEntry] = {}
        for position in range(0, len(table) - 11, 12):
            entry = self._entry(start + 2 + position, table[position : position + 12])
            if entry is not None:
                entries.setdefault(entry.tag, entry)
        return entries

    def find(self, offset: int, tag: int) -> IfdEntry | None:
        """One entry of the directory at `offset`; None where it has none. Quicker than all of them."""
        start = self.base + offset
        (count,) = self.unpack("H", self.source.read_at(start, 2))
        if count > MAX_ENTRIES:
            raise CorruptFileError(self.source.path, f"a directory with {count} entries")
        table = self.source.read_up_to(start + 2, 12 * count)
        tag_bytes = tag.to_bytes(2, "little" if self.byte_order == "<" else "big")
        position = table.find(tag_bytes)
        while position >= 0:
            if position % 12 == 0 and position + 12 <= len(table):
                entry = self._entry(start + 2 + position, table[position : position + 12])
                if entry is not None:
                    return entry
            position = table.find(tag_bytes, position + 1)
        return None

    def _entry(self, place: int, data: bytes) -> IfdEntry | None:
        """The entry in the 12 bytes at `place`; None where its type is unknown or it leads outside."""
        tag, kind, length, value = struct.unpack(self.byte_order + "HHII", data)
        if kind not in _TYPES:
            return None
        size = _TYPES[kind][1] * length
        where = place + 8 if size <= 4 else self.base + value
        if where + size > self.source.size_bytes:
            self.damaged = True
            return None
        return IfdEntry(tag, kind, length, where, size)

    def next_directory(self, offset: int) -> int:
        """Offset of the directory that follows the one at `offset`; 0 when it is the last."""
        start = self.base + offset
        (count,) = self.unpack("H", self.source.read_at(start, 2))
        link = self.source.read_up_to(start + 2 + 12 * count, 4)
        return self.unpack("I", link)[0] if len(link) == 4 else 0

    def raw(self, entry: IfdEntry, limit_bytes: int = MAX_VALUE_BYTES) -> bytes:
        """The value's bytes, cut at `limit_bytes`."""
        return self.source.read_at(entry.offset, min(entry.size_bytes, limit_bytes))

    def numbers(self, entry: IfdEntry, limit: int = 4096) -> tuple[int | float, ...]:
        """Numbers of an integer or float entry (at most `limit`); pairs for rationals, flattened."""
        code, size = _TYPES[entry.type]
        if code == "s":
            return ()
        count = min(entry.count, limit)
        data = self.source.read_at(entry.offset, count * size)
        return struct.unpack(f"{self.byte_order}{count * len(code)}{code[0]}", data)

    def integers(self, entry: IfdEntry, limit: int = 4096) -> tuple[int, ...]:
        """Integers of a BYTE, SHORT, LONG, UNDEFINED or signed entry; empty for other types."""
        if _TYPES[entry.type][0] not in "BHIbhi":
            return ()
        return tuple(int(value) for value in self.numbers(entry, limit))

    def rationals(self, entry: IfdEntry, limit: int = 64) -> tuple[float | None, ...]:
        """Quotients of a RATIONAL entry; None where the denominator is 0. Empty for other types."""
        if entry.type not in (5, 10):
            return ()
        flat = self.numbers(entry, limit)
        return tuple(
            above / below if below else None for above, below in zip(flat[::2], flat[1::2], strict=True)
        )

    def text(self, entry: IfdEntry, limit_bytes: int = 1024) -> str:
        """Text up to the first NUL, stripped; bytes that are not UTF-8 are replaced."""
        data = self.raw(entry, limit_bytes).split(b"\0", 1)[0]
        return data.decode("utf-8", errors="replace").strip()
