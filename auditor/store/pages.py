"""Rows taken straight from the pages of a database file, where SQLite itself no longer finds its tables.

A table is a tree of pages: leaves hold its rows, inner pages say which leaves belong together. With the list
of tables gone only the way to the root of each tree is lost; the trees are still there.

References
----------
SQLite, Database File Format: 1.3 (header), 1.5 (free pages), 1.6 (trees), 1.7 (overflow), 2.1 (records), 2.6
(the list of tables).
"""

from __future__ import annotations

import mmap
import struct
from collections.abc import Iterator
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Self

USUAL_PAGE_BYTES = 4096
"""SQLite's own choice, taken where the header that states it is gone."""
_HEADER_BYTES = 100
_LEAF, _INNER = 0x0D, 0x05
_LIST_COLUMNS = 5
"""Of the list of tables: type, name, table, root page, SQL."""
_INTEGER_BYTES = (0, 1, 2, 3, 4, 6, 8)

Value = int | float | str | bytes | None
Row = tuple[Value, ...]


@dataclass(frozen=True, slots=True)
class Shape:
    """What the rows of a table look like."""

    types: tuple[str, ...]
    """INTEGER, REAL, TEXT, BLOB or ANY, column by column."""
    needed: tuple[bool, ...]
    """Whether a column is never empty."""
    rowid_column: int | None
    """The column that is the number of the row, and is stored empty."""

    def numbered(self, rowid: int, row: Row) -> Row:
        """A row with its number in the column that is stored empty."""
        place = self.rowid_column
        return row if place is None else (*row[:place], rowid, *row[place + 1 :])

    def fits(self, row: Row) -> bool:
        """Whether a row could be one of this table; columns that came later may be missing."""
        known: dict[str, tuple[type, ...]] = {
            "INTEGER": (int,), "REAL": (int, float), "TEXT": (str,), "BLOB": (bytes,),
            "ANY": (int, float, str, bytes),
        }  # fmt: skip
        if not 1 <= len(row) <= len(self.types) or any(self.needed[len(row) :]):
            return False
        return all(
            not needed if value is None else isinstance(value, known[kind])
            for value, kind, needed in zip(row, self.types, self.needed, strict=False)
        )


class Pages:
    """The pages of a file, which is only read. Leaving the context closes it."""

    def __init__(self, path: Path) -> None:
        with path.open("rb") as file:
            self._data = mmap.mmap(file.fileno(), 0, access=mmap.ACCESS_READ)
        stated = int.from_bytes(self._data[16:18])
        stated = 65536 if stated == 1 else stated
        self._page_bytes = stated if stated >= 512 and not stated & (stated - 1) else USUAL_PAGE_BYTES
        self._count = len(self._data) // self._page_bytes
        self._free = self._free_pages()
        self._children = self._trees()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_error: object) -> None:
        self._data.close()

    def listed_roots(self) -> dict[str, list[int]]:
        """The root page of each table, by what is left of the list of tables; old lists may be among it."""
        roots: dict[str, list[int]] = {}
        for page in range(1, self._count + 1):
            for _rowid, row in self._leaf_rows(page):
                if len(row) == _LIST_COLUMNS and row[0] == "table" and row[1] == row[2]:
                    name, root, sql = row[1], row[3], row[4]
                    if (
                        isinstance(name, str)
                        and isinstance(root, int)
                        and str(sql).startswith("CREATE TABLE")
                    ):
                        roots.setdefault(name, []).append(root)
        return roots

    def tops(self) -> list[int]:
        """Pages of rows that no other page leads to: each the root of a tree, or of what is left of one."""
        below = {child for children in self._children.values() for child in children}
        pages = (page for page in range(1, self._count + 1) if self._kind(page) in (_LEAF, _INNER))
        return [page for page in pages if page not in below and page not in self._free]

    def fits(self, root: int, shape: Shape) -> bool:
        """Whether a tree holds rows, and all of the first page of them are of this shape."""
        for page in self._below(root):
            rows = list(self._leaf_rows(page))
            if rows:
                return all(shape.fits(shape.numbered(*row)) for row in rows)
        return False

    def rows(self, root: int, shape: Shape) -> Iterator[Row]:
        """The rows of one tree that can be read and fit; numbers of rows stand in their column."""
        for page in self._below(root):
            for numbered in self._leaf_rows(page):
                row = shape.numbered(*numbered)
                if shape.fits(row):
                    yield row

    def _below(self, root: int) -> Iterator[int]:
        """The pages of a tree, in the order of its rows; each once, whatever damage made of it."""
        seen, waiting = set(self._free), [root]
        while waiting:
            page = waiting.pop()
            if page not in seen and 0 < page <= self._count:
                seen.add(page)
                waiting += reversed(self._children.get(page, ()))
                yield page

    def _kind(self, page: int) -> int:
        return self._data[self._start(page)]

    def _start(self, page: int) -> int:
        """Where a page's own header begins: on the first page behind that of the file."""
        return (page - 1) * self._page_bytes + (_HEADER_BYTES if page == 1 else 0)

    def _cells(self, page: int, header_bytes: int) -> list[int]:
        """Where the cells of a page begin; none that lead outside it."""
        start, first = self._start(page), (page - 1) * self._page_bytes
        count = int.from_bytes(self._data[start + 3 : start + 5])
        end = start + header_bytes + 2 * count
        if end > first + self._page_bytes:
            return []
        places = struct.unpack(f">{count}H", self._data[start + header_bytes : end])
        return [first + place for place in places if 0 < place < self._page_bytes]

    def _trees(self) -> dict[int, list[int]]:
        """The pages below each inner page, in their order."""
        children = {}
        for page in range(1, self._count + 1):
            if self._kind(page) == _INNER and page not in self._free:
                start = self._start(page)
                below = [int.from_bytes(self._data[cell : cell + 4]) for cell in self._cells(page, 12)]
                below.append(int.from_bytes(self._data[start + 8 : start + 12]))
                children[page] = [child for child in below if 1 < child <= self._count]
        return children

    def _free_pages(self) -> set[int]:
        """Pages that hold what was deleted; none where the way to them is gone."""
        free: set[int] = set()
        trunk = int.from_bytes(self._data[32:36])
        while 1 < trunk <= self._count and trunk not in free:
            free.add(trunk)
            start = (trunk - 1) * self._page_bytes
            following, count = struct.unpack(">II", self._data[start : start + 8])
            if 8 + 4 * count > self._page_bytes:
                break
            free.update(struct.unpack(f">{count}I", self._data[start + 8 : start + 8 + 4 * count]))
            trunk = following
        return free

    def _leaf_rows(self, page: int) -> Iterator[tuple[int, Row]]:
        """(number, row) of what a leaf holds; what makes no sense is left out."""
        if self._kind(page) != _LEAF:
            return
        for cell in self._cells(page, 8):
            with suppress(ValueError, IndexError, struct.error):
                size_bytes, place = self._number(cell)
                rowid, place = self._number(place)
                yield rowid, _row(self._payload(page, place, size_bytes))

    def _payload(self, page: int, place: int, size_bytes: int) -> bytes:
        """The bytes of a record, with those that overflow into other pages."""
        usable = self._page_bytes
        most, least = usable - 35, (usable - 12) * 32 // 255 - 23
        local = size_bytes
        if size_bytes > most:
            local = least + (size_bytes - least) % (usable - 4)
            local = least if local > most else local
        if place + local > page * self._page_bytes or size_bytes > len(self._data):
            raise ValueError("the record leads out of its page")
        parts, missing = [self._data[place : place + local]], size_bytes - local
        following = int.from_bytes(self._data[place + local : place + local + 4]) if missing else 0
        while missing:
            if not 1 < following <= self._count:
                raise ValueError("the record leads out of the file")
            start = (following - 1) * self._page_bytes
            parts.append(self._data[start + 4 : start + 4 + min(missing, usable - 4)])
            missing -= len(parts[-1])
            following = int.from_bytes(self._data[start : start + 4])
        return b"".join(parts)

    def _number(self, place: int) -> tuple[int, int]:
        return _number(self._data, place)


def _number(data: bytes | mmap.mmap, place: int) -> tuple[int, int]:
    """A number of one to nine bytes, signed, and where it ends."""
    value = 0
    for count in range(8):
        byte = data[place + count]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, place + count + 1
    value = value << 8 | data[place + 8]
    return value - 2**64 if value >= 2**63 else value, place + 9


def _row(record: bytes) -> Row:
    """The values of a record."""
    header_bytes, place = _number(record, 0)
    kinds = []
    while place < header_bytes:
        kind, place = _number(record, place)
        kinds.append(kind)
    values = []
    for kind in kinds:
        value, place = _value(record, place, kind)
        values.append(value)
    if place != len(record):
        raise ValueError("the record is longer than it states")
    return tuple(values)


def _value(record: bytes, place: int, kind: int) -> tuple[Value, int]:
    if kind == 0:
        return None, place
    if kind in (8, 9):
        return kind - 8, place
    if kind in (10, 11) or kind < 0:
        raise ValueError("no kind of value")
    size_bytes = 8 if kind == 7 else _INTEGER_BYTES[kind] if kind < 7 else (kind - 12) // 2
    end = place + size_bytes
    if end > len(record):
        raise ValueError("the value is longer than its record")
    data = record[place:end]
    if kind < 7:
        return int.from_bytes(data, signed=True), end
    if kind == 7:
        return struct.unpack(">d", data)[0], end
    return data.decode() if kind % 2 else data, end
