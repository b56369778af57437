"""Canon's and Nikon's notes for tests, with the fields that their decoders read."""

from __future__ import annotations

import struct
from collections.abc import Sequence

from auditor.readers.makernotes import MakerNote
from auditor.readers.tiff import ByteOrder
from tests.readers.note_builder import NOTE_AT, Entry, directory, exif, maker_note

CANON_SIZE_PX = (6000, 4000)


def sized(words: Sequence[int]) -> tuple[int, ...]:
    """Words after their own size in bytes, as Canon's blocks start."""
    return (2 * len(words) + 2, *(word & 0xFFFF for word in words))


def canon_settings(**fields: int) -> Entry:
    """The settings block; fields by index in hexadecimal, as `x07=1`."""
    words = [0] * 48
    for name, value in {"x05": 5, "x07": 1, "x17": 500, "x18": 500, "x19": 1, "x1a": 160, **fields}.items():
        words[int(name[1:], 16) - 1] = value
    return Entry(0x0001, "SHORT", sized(words))


def canon_shot(**fields: int) -> Entry:
    words = [0] * 33
    for name, value in {"x02": 256, "x09": 7, "x1a": 248, **fields}.items():
        words[int(name[1:], 16) - 1] = value
    return Entry(0x0004, "SHORT", sized(words))


def canon_file(far_cm: int, near_cm: int) -> Entry:
    words = [0] * 43
    words[0x13:0x15] = [far_cm, near_cm]
    return Entry(0x0093, "SHORT", sized(words))


def canon_points(
    *,
    xs: Sequence[int],
    ys: Sequence[int],
    in_focus: Sequence[int] = (),
    selected: Sequence[int] = (),
    mode: int = 2,
    valid: int | None = None,
    picture: tuple[int, int] = CANON_SIZE_PX,
    field: tuple[int, int] = CANON_SIZE_PX,
    tag: int = 0x0026,
) -> Entry:
    """Points of 300 x 200 px at xs, ys from the middle."""
    count = len(xs)
    words = [mode, count, count if valid is None else valid, *picture, *field]
    words += [300] * count + [200] * count + [*xs] + [*ys]
    for numbers in (in_focus, selected, ()):
        mask = sum(1 << number for number in numbers)
        words += [mask >> 16 * i & 0xFFFF for i in range(-(-count // 16))]
    return Entry(tag, "SHORT", sized([*words, 0xFFFF]))


CANON_ENTRIES = (
    canon_settings(),
    canon_shot(),
    canon_file(3000, 2000),
    canon_points(xs=(-1500, 0, 1500), ys=(1000, 0, -1000), in_focus=(0,), selected=(0, 1)),
    Entry(0x0008, "LONG", (1171771,)),
    Entry(0x000C, "LONG", (570004681,)),
    Entry(0x0095, "ASCII", b"XF500mm f/5.6L\0"),
)


def canon(
    entries: Sequence[Entry] = CANON_ENTRIES, *, order: ByteOrder = "<", note_order: ByteOrder | None = None
) -> bytes:
    """An Exif block with Canon's note."""
    note = directory(entries, note_order or order, NOTE_AT)
    return exif(note, "Canon", "Canon EOS 7X", order=order, size_px=CANON_SIZE_PX)


def canon_note(block: bytes, *, size_px: tuple[int, int] | None = CANON_SIZE_PX) -> MakerNote:
    return maker_note(block, make="Canon", model="Canon EOS 7X", size_px=size_px)


def nikon_area(
    version: bytes, order: ByteOrder, *, head: Sequence[int], area: Sequence[int], last: int = 0
) -> Entry:
    """Focus information: bytes 4 to 9, six words of the area in pixels, and whether it was in focus."""
    size, area_at = {b"0100": (30, 16), b"0101": (84, 70), b"0300": (60, 42), b"0400": (80, 62)}[version]
    data = bytearray(size)
    data[:4] = version
    data[4 : 4 + len(head)] = bytes(head)
    data[area_at : area_at + 12] = struct.pack(order + "6H", *area)
    data[area_at + 12] = last
    return Entry(0x00B7, "UNDEFINED", bytes(data))


def nikon_entries(order: ByteOrder) -> list[Entry]:
    lens_data = bytearray(31)
    lens_data[:4] = b"0101"
    lens_data[9], lens_data[18] = 120, 60
    file_info = b"0100" + bytes(2) + struct.pack(order + "HH", 101, 8437) + bytes(162)
    return [
        Entry(0x0001, "UNDEFINED", b"0211"),
        Entry(0x0002, "SHORT", (0, 800)),
        Entry(0x0007, "ASCII", b"AF-C  \0"),
        Entry(0x001D, "ASCII", b"3004871\0"),
        Entry(0x001F, "UNDEFINED", b"0100\1\1\0\0"),
        Entry(0x0025, "UNDEFINED", bytes((96, 1, 12, 0, 0, 0, 96, 1, 12, 0, 0, 0, 0, 0))),
        Entry(0x0084, "RATIONAL", (2000, 10, 5000, 10, 56, 10, 56, 10)),
        Entry(0x0089, "SHORT", (0x21,)),
        Entry(0x0098, "UNDEFINED", bytes(lens_data)),
        nikon_area(b"0100", order, head=(1, 1), area=(6000, 4000, 1500, 3000, 600, 400), last=1),
        Entry(0x00B8, "UNDEFINED", file_info),
    ]


def nikon(
    entries: Sequence[Entry] | None = None,
    *,
    order: ByteOrder = "<",
    note_order: ByteOrder | None = None,
    model: str = "NIKON D500",
) -> bytes:
    """An Exif block with Nikon's note, which has a TIFF header of its own."""
    inner = note_order or order
    start = b"II*\0\x08\0\0\0" if inner == "<" else b"MM\0*\0\0\0\x08"
    note = (
        b"Nikon\0\2\x11\0\0"
        + start
        + directory(nikon_entries(inner) if entries is None else entries, inner, 8)
    )
    return exif(note, "NIKON CORPORATION", model, order=order)


def nikon_note(
    block: bytes, *, model: str = "NIKON D500", size_px: tuple[int, int] | None = (6000, 4000)
) -> MakerNote:
    return maker_note(block, make="NIKON CORPORATION", model=model, size_px=size_px)
