"""The note of the invented maker: how it is written, and how a decoder reads it.

The decoder is the worked example of docs/adding-a-camera.md. The note begins with a header of its
own and holds one small directory; its offsets count from the start of the note, little-endian.
"""

from __future__ import annotations

import struct

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.tiff import TiffBlock
from auditor.records import MakerFacts
from auditor.words import CameraWord

HEADER = b"SALTMARK\0\1"
FOCUS_WORD, FOCUS_MODE, AREA_MODE, DRIVE_MODE, SHOT, SERIAL, FILE_NUMBER, AUTO_ISO, DISTANCE, CONVERTER = (
    range(1, 11)
)

_WORDS: dict[int, CameraWord] = {
    0: CameraWord.SILENT,
    1: CameraWord.CONFIRMED,
    2: CameraWord.NOT_CONFIRMED,
    3: CameraWord.MANUAL,
}
_FOCUS_MODES = {1: words.SINGLE, 2: words.CONTINUOUS, 3: words.MANUAL}
_AREA_MODES = {1: words.ONE_POINT, 2: words.TRACKING}
_DRIVE_MODES = {1: words.SINGLE_FRAME, 2: words.BURST}


def decode(note: MakerNote) -> MakerFacts:
    """What a Saltmark note says; nothing at all for a note with another header."""
    source = note.tiff.source
    if source.read_up_to(note.offset, len(HEADER)) != HEADER:
        return MakerFacts()
    block = TiffBlock(source, note.offset, "<")
    entries = block.directory(len(HEADER))

    def number(tag: int) -> int | None:
        values = block.integers(entries[tag], limit=1) if tag in entries else ()
        return values[0] if values else None

    distance_cm, converter_percent = number(DISTANCE), number(CONVERTER)
    automatic = number(AUTO_ISO)
    return MakerFacts(
        camera_word=_WORDS.get(number(FOCUS_WORD) or 0) if FOCUS_WORD in entries else None,
        focus_mode=_FOCUS_MODES.get(number(FOCUS_MODE) or 0),
        area_mode=_AREA_MODES.get(number(AREA_MODE) or 0),
        drive_mode=_DRIVE_MODES.get(number(DRIVE_MODE) or 0),
        shot_in_burst=number(SHOT),
        body_serial=block.text(entries[SERIAL]) or None if SERIAL in entries else None,
        file_number=number(FILE_NUMBER),
        auto_iso=None if automatic is None else automatic == 1,
        focus_distance_m=distance_cm / 100 if distance_cm else None,
        converter_factor=converter_percent / 100 if converter_percent else None,
    )


def encode(numbers: dict[int, int], serial: str) -> bytes:
    """A note as the invented camera writes it: numbers by tag, and the body's serial."""
    text = serial.encode("ascii") + b"\0"
    entries = {tag: (4, 1, struct.pack("<I", value)) for tag, value in numbers.items()}
    entries[SERIAL] = (2, len(text), text)
    start_of_values = len(HEADER) + 2 + 12 * len(entries) + 4
    table, values = struct.pack("<H", len(entries)), b""
    for tag, (kind, count, value) in sorted(entries.items()):
        if len(value) > 4:
            field = struct.pack("<I", start_of_values + len(values))
            values += value
        else:
            field = value.ljust(4, b"\0")
        table += struct.pack("<HHI", tag, kind, count) + field
    return HEADER + table + struct.pack("<I", 0) + values
