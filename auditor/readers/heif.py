"""HEIF files (HEIC, HIF, AVIF): the items that hold Exif and XMP, and the picture's size and turn.

References
----------
ISO/IEC 23008-12, 6.5 (item properties) and A.2 (Exif items); ISO/IEC 14496-12, 8.11 (meta box).
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass, field

from auditor.errors import AuditorError, CorruptFileError
from auditor.readers.contents import LONGEST_XMP_BYTES, Contents, ExifBlock
from auditor.readers.isobmff import Box, Cursor, boxes, child, children, payload
from auditor.readers.orientation import combined
from auditor.readers.source import ByteSource
from auditor.words import FileRole

_LONGEST_META_BYTES = 256 * 1024
_LONGEST_ITEM_BYTES = 1024 * 1024
_MOST_EXTENTS = 64
_VERSION_BYTES = 4
_TURN = {0: 1, 1: 8, 2: 3, 3: 6}
"""irot counts quarter turns against the clock; here as an Exif orientation."""
_MIRROR = {0: 4, 1: 2}
"""imir: 0 exchanges top and bottom, 1 left and right (as libavif and libheif read it)."""
_TIFF_STARTS = (b"II*\0", b"MM\0*")


@dataclass(slots=True)
class _Item:
    kind: bytes = b""
    method: int = 0
    extents: list[tuple[int, int]] = field(default_factory=list)


def contents(source: ByteSource) -> Contents:
    """Exif block, XMP packets, size and orientation of the primary picture.

    Raises
    ------
    CorruptFileError
        where there is no readable meta box.
    """
    meta = next((box for box in boxes(source, 0, source.size_bytes) if box.kind == b"meta"), None)
    if meta is None:
        raise CorruptFileError(source.path, "no description of its items", stage="container")
    inside = {box.kind: box for box in children(source, meta, skip_bytes=_VERSION_BYTES)}
    held = Contents(role=FileRole.HEIF, orientation=1)
    items = _items(source, inside.get(b"iinf"))
    _locate(source, inside.get(b"iloc"), items)
    for item in items.values():
        data = _data(source, item, inside.get(b"idat"))
        if item.kind == b"Exif" and held.main is None:
            held.main = _exif_block(data, source.path)
        elif item.kind == b"mime" and 0 < len(data) <= LONGEST_XMP_BYTES:
            held.xmp.append(data)
    with suppress(AuditorError):  # without them the Exif block still says all but the turn
        _properties(source, inside, held)
    return held


def _items(source: ByteSource, listing: Box | None) -> dict[int, _Item]:
    """Items that can hold metadata, by their number."""
    items: dict[int, _Item] = {}
    if listing is None:
        return items
    version = source.read_up_to(listing.offset, 1)
    count_bytes = 2 if version == b"\0" else 4
    for box in children(source, listing, skip_bytes=_VERSION_BYTES + count_bytes):
        if box.kind != b"infe":
            continue
        data = source.read_up_to(box.offset, min(box.size_bytes, 128))
        number_bytes = 4 if data[:1] == b"\3" else 2
        kind = data[_VERSION_BYTES + number_bytes + 2 :][:4]
        if data[:1] not in (b"\2", b"\3") or kind not in (b"Exif", b"mime"):
            continue
        if kind == b"mime" and b"application/rdf+xml" not in data:
            continue
        items[int.from_bytes(data[_VERSION_BYTES : _VERSION_BYTES + number_bytes])] = _Item(kind)
    return items


def _locate(source: ByteSource, locations: Box | None, items: dict[int, _Item]) -> None:
    """Fill in where the items' bytes lie."""
    if locations is None or not items:
        return
    cursor = Cursor(payload(source, locations, _LONGEST_META_BYTES), source.path)
    version = cursor.number(4) >> 24
    sizes = cursor.number(2)
    offset_bytes, length_bytes, base_bytes, index_bytes = (sizes >> shift & 15 for shift in (12, 8, 4, 0))
    index_bytes = index_bytes if version in (1, 2) else 0
    wide = 4 if version == 2 else 2
    for _ in range(cursor.number(wide)):
        number = cursor.number(wide)
        method = cursor.number(2) & 15 if version in (1, 2) else 0
        cursor.take(2)  # which file: this one
        base = cursor.number(base_bytes)
        count = cursor.number(2)
        if number not in items:
            cursor.take(count * (index_bytes + offset_bytes + length_bytes))
            continue
        if count > _MOST_EXTENTS:
            raise CorruptFileError(source.path, f"an item in {count} pieces", stage="container")
        items[number].method = method
        for _ in range(count):
            cursor.take(index_bytes)
            offset = base + cursor.number(offset_bytes)
            items[number].extents.append((offset, cursor.number(length_bytes)))


def _data(source: ByteSource, item: _Item, data_box: Box | None) -> bytes:
    """The bytes of an item; empty where they cannot be read."""
    if item.method > 1 or (item.method == 1 and data_box is None):
        return b""
    origin = data_box.offset if item.method == 1 and data_box else 0
    if sum(length for _, length in item.extents) > _LONGEST_ITEM_BYTES:
        return b""
    try:
        return b"".join(source.read_at(origin + offset, length) for offset, length in item.extents)
    except AuditorError:
        return b""


def _exif_block(data: bytes, path: str) -> ExifBlock | None:
    """The block begins with the offset of its TIFF header; some state it wrongly."""
    stated = 4 + int.from_bytes(data[:4])
    if data[stated : stated + 4] in _TIFF_STARTS:
        return ExifBlock(ByteSource.of_bytes(data[stated:], path))
    places = [place for start in _TIFF_STARTS if (place := data[:64].find(start)) >= 0]
    return ExifBlock(ByteSource.of_bytes(data[min(places) :], path)) if places else None


def _properties(source: ByteSource, inside: dict[bytes, Box], held: Contents) -> None:
    """Size and turn of the primary picture."""
    properties = inside.get(b"iprp")
    store = child(source, properties, b"ipco")
    uses = child(source, properties, b"ipma")
    primary = inside.get(b"pitm")
    if store is None or uses is None or primary is None:
        return
    every = list(children(source, store))
    data = source.read_up_to(primary.offset, min(primary.size_bytes, 8))
    number = int.from_bytes(data[4:8] if data[:1] == b"\1" else data[4:6])
    for index in _uses(source, uses, number):
        if not 1 <= index <= len(every):
            continue
        box = every[index - 1]
        value = source.read_up_to(box.offset, min(box.size_bytes, 12))
        if box.kind == b"ispe" and len(value) == 12:
            held.width_px = int.from_bytes(value[4:8]) or None
            held.height_px = int.from_bytes(value[8:12]) or None
        elif box.kind == b"irot" and value:
            held.orientation = combined(held.orientation, _TURN[value[0] & 3])
        elif box.kind == b"imir" and value:
            held.orientation = combined(held.orientation, _MIRROR[value[0] & 1])


def _uses(source: ByteSource, uses: Box, item: int) -> list[int]:
    """Which properties an item has, in the order in which they are applied."""
    cursor = Cursor(payload(source, uses, _LONGEST_META_BYTES), source.path)
    head = cursor.number(4)
    number_bytes = 4 if head >> 24 else 2
    index_bytes = 2 if head & 1 else 1
    marked = 1 << (8 * index_bytes - 1)  # the top bit says "essential"
    for _ in range(cursor.number(4)):
        number = cursor.number(number_bytes)
        indexes = [cursor.number(index_bytes) & (marked - 1) for _ in range(cursor.number(1))]
        if number == item:
            return indexes
    return []
