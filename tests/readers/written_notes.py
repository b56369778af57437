"""One Exif block of each maker, with the fields that its decoder reads, for tests."""

from __future__ import annotations

from tests.readers.note_builder import NOTE_AT, Entry, directory, exif


def sony() -> bytes:
    """An Exif block with Sony's note."""
    lens = (0xC3, 0x00, 0x70, 0x03, 0x00, 0x45, 0x63, 0x00)
    note = b"SONY DSC \0\0\0" + directory(
        [
            Entry(0x201B, "BYTE", (3,)), Entry(0x201C, "BYTE", (12,)), Entry(0xB026, "LONG", (1,)),
            Entry(0x2027, "SHORT", (6000, 4000, 1500, 3000)), Entry(0xB049, "SHORT", (2,)),
            Entry(0x2037, "UNDEFINED", b"\x80\2\xe0\1\1\1"), Entry(0xB04A, "SHORT", (7,)),
            Entry(0xB02A, "BYTE", lens), Entry(0xB027, "LONG", (128,)), Entry(0x0105, "LONG", (0,)),
        ],
        "<", NOTE_AT + 12,
    )  # fmt: skip
    return exif(note, "SONY", "ILCE-1")


def fujifilm() -> bytes:
    """An Exif block with Fujifilm's note."""
    note = b"FUJIFILM\x0c\0\0\0" + directory(
        [
            Entry(0x0010, "ASCII", b"FF02B4550110\0"), Entry(0x1021, "SHORT", (0,)),
            Entry(0x1022, "SHORT", (256,)), Entry(0x1023, "SHORT", (1500, 3000)),
            Entry(0x1301, "SHORT", (1,)), Entry(0x1101, "SHORT", (4,)),
            Entry(0x1103, "LONG", (2,)), Entry(0x1404, "RATIONAL", (1800, 100)),
            Entry(0x1405, "RATIONAL", (5500, 100)), Entry(0x1406, "RATIONAL", (280, 100)),
            Entry(0x1407, "RATIONAL", (400, 100)),
        ],
        "<", 12,
    )  # fmt: skip
    return exif(note, "FUJIFILM", "X-T3")


def olympus() -> bytes:
    """An Exif block with OM System's note."""
    equipment = [
        Entry(0x0000, "UNDEFINED", b"0100"), Entry(0x0101, "ASCII", b"BJMA03234\0"),
        Entry(0x0203, "ASCII", b"OLYMPUS 300mm F2.8\0"), Entry(0x0205, "SHORT", (761,)),
        Entry(0x0206, "SHORT", (761,)), Entry(0x0207, "SHORT", (300,)), Entry(0x0208, "SHORT", (300,)),
        Entry(0x020A, "SHORT", (1024,)), Entry(0x0301, "BYTE", (0, 0, 4, 0, 0, 0)),
    ]  # fmt: skip
    settings = [
        Entry(0x0000, "UNDEFINED", b"0100"), Entry(0x0301, "SHORT", (2, 68)), Entry(0x0604, "LONG", (2,)),
        Entry(0x0304, "LONG", (0x20406080, 0)),
    ]  # fmt: skip
    focus = [Entry(0x0000, "UNDEFINED", b"0100"), Entry(0x0305, "RATIONAL", (12500, 10))]
    note = b"OM SYSTEM\0\0\0II\4\0" + directory(
        [
            Entry(0x0200, "LONG", (2, 5, 0)), Entry(0x2010, "LONG", equipment),
            Entry(0x2020, "LONG", settings), Entry(0x2050, "LONG", focus),
        ],
        "<", 16,
    )  # fmt: skip
    return exif(note, "OM Digital Solutions", "OM-1")


def panasonic() -> bytes:
    """An Exif block with Panasonic's note."""
    note = b"Panasonic\0\0\0" + directory(
        [
            Entry(0x0007, "SHORT", (7,)), Entry(0x000F, "BYTE", (240, 0)), Entry(0x001A, "SHORT", (5,)),
            Entry(0x0025, "UNDEFINED", b"F651203260376\0\0\0"), Entry(0x002A, "SHORT", (1,)),
            Entry(0x002B, "LONG", (9,)), Entry(0x003C, "SHORT", (65534,)), Entry(0x002E, "SHORT", (1,)),
            Entry(0x004D, "RATIONAL", (64, 256, 192, 256)),
            Entry(0x0051, "ASCII", b"LUMIX G VARIO 100-300/F4.0-5.6\0"),
        ],
        "<", NOTE_AT + 12,
    )  # fmt: skip
    return exif(note, "Panasonic", "DC-G9")


def pentax() -> bytes:
    """An Exif block with Pentax's note."""
    note = b"AOC\0MM" + directory(
        [
            Entry(0x0005, "LONG", (77980,)), Entry(0x000D, "SHORT", (17,)), Entry(0x000E, "SHORT", (65534,)),
            Entry(0x000F, "SHORT", (5,)), Entry(0x0034, "BYTE", (1, 0, 0, 0)),
            Entry(0x003F, "BYTE", (8, 59, 0, 0)), Entry(0x0229, "ASCII", b"6211161\0"),
        ],
        ">", NOTE_AT + 6,
    )  # fmt: skip
    return exif(note, "RICOH IMAGING COMPANY, LTD.", "PENTAX K-3 II", order=">")


ALL = {"sony": sony, "fujifilm": fujifilm, "olympus": olympus, "panasonic": panasonic, "pentax": pentax}
