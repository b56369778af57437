"""Sony's maker note.

Only what lies open is read: most blocks numbered 0x94xx and 0x9050 are enciphered and stay unread.
"""

from __future__ import annotations

import struct
from typing import Any

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.readers.makernotes.lens_range import lens_facts
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

# Distinct real files on which the value was the same as exiv2 0.28 gave (its raw numbers where it only
# names a field), counted by tests/reference/test_other_makers_against_exiv2.py.
CHECKED: dict[str, int] = {
    "area_mode": 25,
    "converter_factor": 8,
    "drive_mode": 32,
    "focus_areas": 1,
    "focus_mode": 27,
    "lens_name": 17,
    "shot_in_burst": 2,
    "stabiliser": 33,
}

_HEADERS = (b"SONY DSC ", b"SONY CAM ")

_FOCUS_MODE_2 = {
    0: words.MANUAL,
    2: words.SINGLE,
    3: words.CONTINUOUS,
    4: words.AUTOMATIC,
    6: words.SINGLE,  # DMF: single autofocus that the ring may then correct
    7: words.SINGLE,  # AF-D: the depth map assists
}
_FOCUS_MODE_3 = {0: words.MANUAL, 2: words.SINGLE, 3: words.CONTINUOUS, 6: words.SINGLE}
_FOCUS_MODE_1 = {1: words.SINGLE, 2: words.CONTINUOUS, 4: words.CONTINUOUS}
_SETTINGS_FOCUS_MODE = {0: words.MANUAL, 1: words.SINGLE, 2: words.CONTINUOUS, 3: words.AUTOMATIC}
_SETTINGS_AREA = {0: words.WHOLE_FRAME, 1: words.ONE_POINT, 2: words.ONE_POINT}
_SETTINGS_DRIVE = {
    1: words.SINGLE_FRAME, 2: words.BURST_FAST, 4: words.SELF_TIMER, 5: words.SELF_TIMER,
    6: words.BRACKETING, 7: words.BRACKETING, 10: words.REMOTE, 18: words.BURST_SLOW,
}  # fmt: skip
_SETTINGS_SIZES_BYTES = (280, 332, 364)
"""Blocks of big-endian words as exiv2 reads them; other sizes hold another layout."""

_AREA_MIRRORLESS = {
    0: words.WHOLE_FRAME, 1: words.ONE_POINT, 3: words.ONE_POINT, 4: words.ONE_POINT,
    9: words.ONE_POINT, 11: words.ZONE, 12: words.POINT_GROUP,
}  # fmt: skip
_AREA_A_MOUNT = {0: words.WHOLE_FRAME, 4: words.ONE_POINT, 8: words.ZONE, 9: words.ONE_POINT}
_DRIVE = {
    0: words.SINGLE_FRAME, 2: words.BURST, 5: words.BRACKETING, 6: words.BRACKETING, 8: words.BRACKETING,
}  # fmt: skip
_STABILISER = {0: words.OFF, 1: words.ON}

_CONVERTERS = {
    0x04: ("Minolta/Sony AF 1.4x APO (D)", 1.4),
    0x05: ("Minolta/Sony AF 2x APO (D)", 2.0),
    0x48: ("Minolta/Sony AF 2x APO (D)", 2.0),
    0x50: ("Minolta AF 2x APO II", 2.0),
    0x60: ("Minolta AF 2x APO", 2.0),
    0x88: ("Minolta/Sony AF 1.4x APO (D)", 1.4),
    0x90: ("Minolta AF 1.4x APO II", 1.4),
    0xA0: ("Minolta AF 1.4x APO", 1.4),
}
_NO_A_MOUNT_LENS = 0xFFFF

# Bits of the lens specification's first byte (high) and last byte (low), in the order they stand in the name.
_LENS_BEFORE = (
    (0x4000, {0x4000: "PZ"}),
    (0x0300, {0x0100: "DT", 0x0200: "FE", 0x0300: "E"}),
)
_LENS_AFTER = (
    (0x00E0, {0x0020: "STF", 0x0040: "Reflex", 0x0060: "Macro", 0x0080: "Fisheye"}),
    (0x000C, {0x0004: "ZA", 0x0008: "G"}),
    (0x0003, {0x0001: "SSM", 0x0002: "SAM"}),
    (0x8000, {0x8000: "OSS"}),
    (0x2000, {0x2000: "LE"}),
    (0x0800, {0x0800: "II"}),
)


def decode(note: MakerNote) -> MakerFacts:
    """What Sony's note says of focus, lens and drive.

    References
    ----------
    exiv2 0.28, tag groups Sony1, Sony1Cs, Sony1Cs2.
    """
    start = note_start(note.tiff, note.offset)
    header_bytes = 12 if start.startswith(_HEADERS) else 0
    fields = Fields(note.tiff, note.offset + header_bytes - note.tiff.base)
    settings = _settings(fields)
    focus_mode = _focus_mode(fields, settings)
    areas = () if focus_mode == words.MANUAL else _focus_areas(fields, note)
    factor, name = _converter(fields)
    return MakerFacts(
        camera_word=_camera_word(focus_mode, areas),
        focus_mode=focus_mode,
        area_mode=_area_mode(fields, settings, note.model),
        drive_mode=fields.word(0xB049, _DRIVE) or _old_drive_mode(settings),
        focus_areas=areas,
        converter_factor=factor,
        converter_name=name,
        shot_in_burst=_shot_in_burst(fields),
        stabiliser=fields.word(0xB026, _STABILISER),
        **({} if _is_compact(note.model) else _lens(fields)),
    )


def _settings(fields: Fields) -> dict[int, int]:
    """The words of the older bodies' settings block, by index."""
    data = fields.data(0x0114)
    if len(data) not in _SETTINGS_SIZES_BYTES:
        return {}
    return dict(enumerate(struct.unpack(f">{len(data) // 2}H", data)))


def _old_drive_mode(settings: dict[int, int]) -> str | None:
    # The shorter block of 332 bytes holds something else there.
    return _SETTINGS_DRIVE.get(settings[0x04]) if len(settings) in (140, 182) else None


def _focus_mode(fields: Fields, settings: dict[int, int]) -> str | None:
    mode = fields.word(0x201B, _FOCUS_MODE_2)
    mode = mode or _SETTINGS_FOCUS_MODE.get(settings.get(0x10, -1))
    if mode:
        return mode
    # Bodies that write this version leave the older field 0xb042 unused, and the other way round.
    if b"DC7303320222000" in fields.data(0x3000):
        return fields.word(0xB04E, _FOCUS_MODE_3)
    return fields.word(0xB042, _FOCUS_MODE_1)


def _area_mode(fields: Fields, settings: dict[int, int], model: str) -> str | None:
    a_mount = model.strip().upper().startswith(("SLT", "HV", "ILCA"))
    table = _AREA_A_MOUNT if a_mount else _AREA_MIRRORLESS
    return fields.word(0x201C, table) or _SETTINGS_AREA.get(settings.get(0x11, -1))


def _focus_areas(fields: Fields, note: MakerNote) -> tuple[FocusArea, ...]:
    """The focus location: width, height, x, y in the picture as first recorded."""
    place = fields.integers(0x2027, at_least=4)
    if not place:
        return ()
    width, height, x, y = place[:4]
    if not (0 < x < width and 0 < y < height):
        return ()
    if note.width_px and note.height_px:
        # A picture cropped since (or turned) has another shape, and the place would be wrong in it.
        shape = (width / height) / (note.width_px / note.height_px)
        if abs(shape - 1) > 0.02:
            return ()
    frame = _frame_size(fields)
    if frame == (0, 0) and (2 * x, 2 * y) == (width, height):
        return ()  # the camera writes the centre when it has no place, and says so by an empty frame
    size = (
        (frame[0] / width, frame[1] / height)
        if frame and 0 < frame[0] <= width and 0 < frame[1] <= height
        else (None, None)
    )
    return (FocusArea(x=x / width, y=y / height, width=size[0], height=size[1], used=True),)


def _frame_size(fields: Fields) -> tuple[int, int] | None:
    """Size of the focus frame around that location; (0, 0) when the camera marks it as not valid."""
    data = fields.data(0x2037)
    if len(data) < 6:
        return None
    width, height, valid = fields.block.unpack("HHH", data[:6])
    return (width, height) if valid else (0, 0)


def _camera_word(focus_mode: str | None, areas: tuple[FocusArea, ...]) -> CameraWord | None:
    """Whether focus was found lies enciphered: autofocus is `silent`."""
    if focus_mode == words.MANUAL:
        return CameraWord.MANUAL
    return CameraWord.SILENT if focus_mode or areas else None


def _converter(fields: Fields) -> tuple[float | None, str | None]:
    code = fields.integer(0x0105)
    if code in _CONVERTERS:
        name, factor = _CONVERTERS[code]
        return factor, name
    # The field knows A-mount converters alone: its 0 says nothing of an E-mount lens (id 65535).
    lens_id = fields.integer(0xB027)
    if code == 0 and lens_id is not None and lens_id != _NO_A_MOUNT_LENS:
        return 1.0, None
    return None, None


def _is_compact(model: str) -> bool:
    """Compacts state their lens's range as on 35 mm film (DSC-RX100: 28-100 for its 10.4-37.1 mm)."""
    return model.strip().upper().startswith("DSC")


def _lens(fields: Fields) -> dict[str, Any]:
    """Name, range and widest f-numbers from the lens specification (decimal digits in its nibbles)."""
    spec = bytes(value & 0xFF for value in fields.integers(0xB02A, at_least=8)[:8])
    if len(spec) != 8 or not spec[1:7].hex().isdecimal():
        return {}
    digits = spec[1:7].hex()
    short, long = int(digits[0:4]), int(digits[4:8])
    at_short, at_long = int(digits[8:10]) / 10, int(digits[10:12]) / 10
    if not short or not at_short or (long and long < short) or (at_long and at_long < at_short):
        return {}
    long, at_long = long or short, at_long or at_short
    before, after = _lens_words(spec[0] << 8 | spec[7])
    return lens_facts(short, long, at_short, at_long, before=before, after=after)


def _lens_words(flags: int) -> tuple[list[str], list[str]]:
    before = [named[flags & mask] for mask, named in reversed(_LENS_BEFORE) if flags & mask in named]
    after = [named[flags & mask] for mask, named in _LENS_AFTER if flags & mask in named]
    return before, after


def _shot_in_burst(fields: Fields) -> int | None:
    number = fields.integer(0xB04A)
    return number if number and number < 0xFFFF else None
