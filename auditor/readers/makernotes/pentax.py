"""Pentax's maker note, in its Pentax, Asahi and Ricoh years."""

from __future__ import annotations

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.readers.tiff import ByteOrder, TiffBlock
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

# Distinct real files on which the value was the same as exiv2 0.28 gave (its raw numbers where it only
# names a field), counted by tests/reference/test_other_makers_against_exiv2.py.
CHECKED: dict[str, int] = {
    "body_serial": 1,
    "camera_word": 2,
    "drive_mode": 15,
    "focus_areas": 6,
    "focus_mode": 16,
}

_BYTE_ORDERS: dict[bytes, ByteOrder] = {b"II": "<", b"MM": ">"}

_MODEL_ID = 0x0005
"""Every note holds it."""

_FOCUS_MODE = {
    0: words.AUTOFOCUS, 1: words.AUTOFOCUS, 3: words.MANUAL, 4: words.AUTOFOCUS, 16: words.SINGLE,
    17: words.CONTINUOUS, 18: words.AUTOMATIC, 32: words.SINGLE, 33: words.CONTINUOUS, 288: words.AUTOFOCUS,
}  # fmt: skip
_AREA = {
    0xFFFF: words.WHOLE_FRAME, 0xFFFE: words.ONE_POINT, 0xFFFD: words.TRACKING, 0xFFFC: words.FACE,
    0xFFFB: words.ONE_POINT,
}  # fmt: skip
_CENTRE_POINTS = (0xFFFE, 6)
"""Selected points that lie in the middle of the picture; of the others only names are known, not places."""
_CENTRE_IN_FOCUS = 5
_POINTS_IN_FOCUS = range(1, 10)
_NONE_IN_FOCUS = 0xFFFF

_DRIVE = {
    (0, 0, 0): words.SINGLE_FRAME, (1, 0, 0): words.BURST, (2, 0, 0): words.BURST_FAST,
    (3, 0, 0): words.BURST, (0, 1, 0): words.SELF_TIMER, (0, 2, 0): words.SELF_TIMER,
    (0, 16, 0): words.SINGLE_FRAME, (0, 0, 1): words.REMOTE, (0, 0, 2): words.REMOTE, (0, 0, 4): words.REMOTE,
}  # fmt: skip
_STABILISER = {0: words.OFF, 1: words.ON}


def decode(note: MakerNote) -> MakerFacts:
    """What Pentax's note says of focus, lens and drive.

    References
    ----------
    exiv2 0.28, tag group Pentax.
    """
    fields = _directory(note)
    if not fields:
        return MakerFacts()
    focus_mode = fields.word(0x000D, _FOCUS_MODE)
    word = _camera_word(fields, focus_mode)
    return MakerFacts(
        camera_word=word,
        focus_mode=focus_mode,
        area_mode=_area_mode(fields),
        drive_mode=_drive_mode(fields),
        focus_areas=() if focus_mode in (None, words.MANUAL) else _focus_areas(fields, word),
        body_serial=fields.text(0x0229),
        stabiliser=_stabiliser(fields),
        # The note holds a number of the maker's own for the lens, and no name.
        missing={"lens_name": "not_read_yet"} if fields.integers(0x003F) else {},
    )


def _directory(note: MakerNote) -> Fields:
    start = note_start(note.tiff, note.offset, 12)
    if start.startswith(b"AOC\0"):
        return _whichever_order_reads(note, start[4:6])
    if start.startswith(b"PENTAX \0") and start[8:10] in _BYTE_ORDERS:
        return Fields(TiffBlock(note.tiff.source, note.offset, _BYTE_ORDERS[start[8:10]]), 10)
    return Fields(note.tiff, None)


def _whichever_order_reads(note: MakerNote, stated: bytes) -> Fields:
    """The directory in the stated byte order, or in that of the file: software that turns a file round leaves
    the stated one as it was."""
    for order in (_BYTE_ORDERS.get(stated, note.tiff.byte_order), note.tiff.byte_order):
        block = TiffBlock(note.tiff.source, note.tiff.base, order)
        fields = Fields(block, note.offset + 6 - note.tiff.base)
        if fields.entry(_MODEL_ID) is not None:
            return fields
    return Fields(note.tiff, None)


def _points_in_focus(fields: Fields) -> int | None:
    """The point in focus, in the form that numbers them (newer bodies write a mask in a LONG)."""
    entry = fields.entry(0x000F)
    return fields.integer(0x000F) if entry is not None and entry.type == 3 else None


def _camera_word(fields: Fields, focus_mode: str | None) -> CameraWord | None:
    if focus_mode is None:
        return None
    if focus_mode == words.MANUAL:
        return CameraWord.MANUAL
    point = _points_in_focus(fields)
    if point in _POINTS_IN_FOCUS:
        return CameraWord.CONFIRMED
    # 0 is "fixed centre or multiple": written whether or not focus was found, so it says nothing.
    return CameraWord.NOT_CONFIRMED if point == _NONE_IN_FOCUS else CameraWord.SILENT


def _area_mode(fields: Fields) -> str | None:
    point = fields.integer(0x000E)
    if point in range(1, 12):
        return words.ONE_POINT
    return None if point is None else _AREA.get(point)


def _focus_areas(fields: Fields, word: CameraWord | None) -> tuple[FocusArea, ...]:
    in_focus = {CameraWord.CONFIRMED: True, CameraWord.NOT_CONFIRMED: False}.get(word) if word else None
    if word == CameraWord.CONFIRMED and _points_in_focus(fields) == _CENTRE_IN_FOCUS:
        return (FocusArea(x=0.5, y=0.5, used=True, in_focus=True),)
    if word != CameraWord.CONFIRMED and fields.integer(0x000E) in _CENTRE_POINTS:
        return (FocusArea(x=0.5, y=0.5, used=True, in_focus=in_focus),)
    return ()


def _drive_mode(fields: Fields) -> str | None:
    values = fields.integers(0x0034, at_least=3)
    return _DRIVE.get((values[0], values[1], values[2])) if values else None


def _stabiliser(fields: Fields) -> str | None:
    """The second byte is the switch: from memory; exiv2 names the tag alone."""
    values = fields.integers(0x005C, at_least=2)
    return _STABILISER.get(values[1]) if values else None
