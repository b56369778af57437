"""Writes small Exif blocks with a maker note, and the JPEG around them, for tests."""

from __future__ import annotations

import io
import random
import struct
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from auditor.readers.makernotes import MakerNote
from auditor.readers.source import ByteSource
from auditor.readers.tiff import ByteOrder, TiffBlock

NOTE_AT = 512
"""Offset of the note from the TIFF header: fixed, so that a note counting from there can be built first."""

_KINDS = {
    "BYTE": (1, "B"), "ASCII": (2, "s"), "SHORT": (3, "H"), "LONG": (4, "I"), "RATIONAL": (5, "I"),
    "UNDEFINED": (7, "B"), "SRATIONAL": (10, "i"), "IFD": (13, "I"),
}  # fmt: skip


@dataclass(frozen=True)
class Entry:
    """One directory entry: numbers, bytes, or a directory of its own (as `IFD` or `LONG`)."""

    tag: int
    kind: str
    value: Sequence[int] | bytes | Sequence[Entry]
    count: int | None = None
    """The count to write, when it is not to be the true one."""


def directory(entries: Sequence[Entry], order: ByteOrder, start: int) -> bytes:
    """A directory that lies `start` bytes after the place that its offsets count from."""
    table = struct.pack(order + "H", len(entries))
    values = b""
    values_at = start + 2 + 12 * len(entries) + 4
    for entry in sorted(entries, key=lambda entry: entry.tag):
        number, code = _KINDS[entry.kind]
        place = values_at + len(values)
        data, count = _packed(entry, code, order, place)
        count = count if entry.count is None else entry.count
        if _is_directory(entry):
            values += data
            table += struct.pack(order + "HHII", entry.tag, number, 1, place)
        elif len(data) <= 4:
            table += struct.pack(order + "HHI", entry.tag, number, count) + data.ljust(4, b"\0")
        else:
            table += struct.pack(order + "HHII", entry.tag, number, count, place)
            values += data + b"\0" * (len(data) % 2)
    return table + b"\0\0\0\0" + values


def _is_directory(entry: Entry) -> bool:
    return not isinstance(entry.value, bytes) and bool(entry.value) and isinstance(entry.value[0], Entry)


def _packed(entry: Entry, code: str, order: ByteOrder, place: int) -> tuple[bytes, int]:
    if isinstance(entry.value, bytes):
        return entry.value, len(entry.value)
    if _is_directory(entry):
        inner = [item for item in entry.value if isinstance(item, Entry)]
        return directory(inner, order, place), 1
    numbers = [item for item in entry.value if isinstance(item, int)]
    count = len(numbers) // 2 if entry.kind.endswith("RATIONAL") else len(numbers)
    return struct.pack(f"{order}{len(numbers)}{code}", *numbers), count


def exif(
    note: bytes,
    make: str,
    model: str,
    *,
    order: ByteOrder = "<",
    size_px: tuple[int, int] | None = (6000, 4000),
) -> bytes:
    """An Exif block: TIFF header, main directory, Exif directory, and the note at NOTE_AT."""
    exif_at = 256
    main = [
        Entry(0x010F, "ASCII", make.encode() + b"\0"),
        Entry(0x0110, "ASCII", model.encode() + b"\0"),
        Entry(0x8769, "LONG", (exif_at,)),
    ]
    photo = [Entry(0x9000, "UNDEFINED", b"0231")]
    if size_px:
        photo += [Entry(0xA002, "LONG", (size_px[0],)), Entry(0xA003, "LONG", (size_px[1],))]
    mark = b"II*\0" if order == "<" else b"MM\0*"
    block = mark + struct.pack(order + "I", 8) + directory(main, order, 8)
    photo_bytes = directory([*photo, Entry(0x927C, "UNDEFINED", (0,) * 8)], order, exif_at)
    # The note lies where it is wanted, not where `directory` would put it.
    where = photo_bytes.rindex(struct.pack(order + "HHI", 0x927C, 7, 8))
    pointer = struct.pack(order + "HHII", 0x927C, 7, len(note), NOTE_AT)
    photo_bytes = photo_bytes[:where] + pointer + photo_bytes[where + 12 :]
    block = block.ljust(exif_at, b"\0") + photo_bytes
    assert len(block) <= NOTE_AT
    return block.ljust(NOTE_AT, b"\0") + note


def jpeg(exif_block: bytes) -> bytes:
    """A JPEG of 8 x 8 grey pixels around an Exif block."""
    from PIL import Image

    stream = io.BytesIO()
    Image.new("L", (8, 8), 128).save(stream, "JPEG", exif=b"Exif\0\0" + exif_block)
    return stream.getvalue()


def maker_note(
    exif_block: bytes, *, make: str = "", model: str = "", size_px: tuple[int, int] | None = (6000, 4000)
) -> MakerNote:
    """The note of a block made by `exif`, as the reader would hand it to a decoder."""
    source = ByteSource(io.BytesIO(exif_block), "test.jpg", len(exif_block))
    tiff, _ = TiffBlock.at_header(source, 0)
    width, height = size_px or (None, None)
    return MakerNote(tiff, NOTE_AT, len(exif_block) - NOTE_AT, make, model, width_px=width, height_px=height)


def hostile(block: bytes, seed: int, count: int = 400) -> Iterator[bytes]:
    """The block cut short at every 7th byte of its note, and `count` copies with bytes changed there."""
    for end in range(NOTE_AT, len(block), 7):
        yield block[:end]
    chance = random.Random(seed)
    for _ in range(count):
        changed = bytearray(block)
        for _ in range(chance.choice((1, 2, 4, 16))):
            changed[chance.randrange(NOTE_AT, len(block))] = chance.choice(
                (0, 1, 0x7F, 0x80, 0xFF, chance.randrange(256))
            )
        yield bytes(changed)
