"""The maker note of Olympus and OM System: a directory of directories."""

from __future__ import annotations

import re

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.readers.tiff import ByteOrder, TiffBlock
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

# Distinct real files on which the value was the same as exiv2 0.28 gave (its raw numbers where it only
# names a field), counted by tests/reference/test_other_makers_against_exiv2.py.
CHECKED: dict[str, int] = {
    "body_serial": 4,
    "converter_factor": 5,
    "drive_mode": 6,
    "focus_areas": 3,
    "focus_distance_m": 3,
    "focus_mode": 5,
    "lens_long_mm": 5,
    "lens_name": 5,
    "lens_short_mm": 5,
    "lens_widest_at_long": 5,
    "lens_widest_at_short": 5,
    "shot_in_burst": 2,
    "stabiliser": 5,
    "widest_f_number": 5,
}

_EQUIPMENT, _SETTINGS, _FOCUS = 0x2010, 0x2020, 0x2050
_BYTE_ORDERS: dict[bytes, ByteOrder] = {b"II": "<", b"MM": ">"}

_FOCUS_MODE = {
    0: words.SINGLE, 1: words.CONTINUOUS, 2: words.CONTINUOUS, 3: words.AUTOFOCUS, 4: words.AUTOFOCUS,
    10: words.MANUAL,
}  # fmt: skip
_OLD_FOCUS_MODE = {0: words.AUTOFOCUS, 1: words.MANUAL}
_S_AF_BIT, _C_AF_BIT, _MF_BIT = 0x01, 0x04, 0x10
_STABILISER = {0: words.OFF, 1: words.ON, 2: words.PANNING, 3: words.PANNING, 4: words.ON}
_DRIVE = {0: words.SINGLE_FRAME, 2: words.BURST}
_BRACKETING_MODES = (2, 3, 4, 5)

# By first and third byte of the extender field; the EX-25 is a tube without glass and no converter.
_CONVERTERS = {(0, 0x04): 1.4, (0, 0x10): 2.0}
_CONVERTER_NAME = re.compile(r"\b(?:MC|EC)-?(14|20)\b")
_BUILT_IN_CONVERTER = re.compile(r"\bTC ?1\.25x?\b", re.IGNORECASE)
_UNKNOWN_DISTANCE = 0xFFFFFFFF
"""Written for infinity, and by some bodies for any distance they do not know."""


def decode(note: MakerNote) -> MakerFacts:
    """What the note of an Olympus or OM System camera says of focus, lens, converter and drive.

    `camera_word` is never `confirmed`: the note says that autofocus ran and was "ready",
    not that the area was sharp.

    References
    ----------
    exiv2 0.28, tag groups Olympus, Olympus2, OlympusEq, OlympusCs, OlympusFi.
    """
    main = _main_directory(note)
    if not main:
        return MakerFacts()
    equipment, settings, focus = (_directory(main, tag) for tag in (_EQUIPMENT, _SETTINGS, _FOCUS))
    focus_mode = _focus_mode(main, settings)
    lens_name = equipment.text(0x0203)
    factor, converter_name = _converter(equipment, lens_name)
    return MakerFacts(
        camera_word=_camera_word(focus_mode),
        focus_mode=focus_mode,
        drive_mode=_drive_mode(main, settings),
        focus_areas=() if focus_mode == words.MANUAL else _focus_areas(settings),
        focus_distance_m=_focus_distance_m(focus),
        converter_factor=factor,
        converter_name=converter_name,
        lens_name=lens_name,
        lens_short_mm=_positive(equipment.integer(0x0207)),
        lens_long_mm=_positive(equipment.integer(0x0208)),
        lens_widest_at_short=_f_number(equipment.integer(0x0205)),
        lens_widest_at_long=_f_number(equipment.integer(0x0206)),
        widest_f_number=_f_number(equipment.integer(0x020A)),
        body_serial=equipment.text(0x0101) or main.text(0x0404),
        shot_in_burst=_shot_in_burst(main),
        stabiliser=settings.word(0x0604, _STABILISER),
    )


def _main_directory(note: MakerNote) -> Fields:
    start = note_start(note.tiff, note.offset, 16)
    source = note.tiff.source
    if start.startswith(b"OLYMPUS\0") and start[8:10] in _BYTE_ORDERS:
        return Fields(TiffBlock(source, note.offset, _BYTE_ORDERS[start[8:10]]), 12)
    if start.startswith(b"OM SYSTEM\0") and start[12:14] in _BYTE_ORDERS:
        return Fields(TiffBlock(source, note.offset, _BYTE_ORDERS[start[12:14]]), 16)
    if start.startswith(b"OLYMP\0"):
        return Fields(note.tiff, note.offset + 8 - note.tiff.base)
    return Fields(note.tiff, None)


def _directory(main: Fields, tag: int) -> Fields:
    """One of the directories that the note points to; each gives its version in tag 0, or it is not one."""
    entry = main.entry(tag)
    if entry is None:
        return Fields(main.block, None)
    if entry.type in (4, 13) and entry.count == 1:
        fields = Fields(main.block, main.integer(tag) or 0)
    else:  # old bodies keep the directory itself as the value
        fields = Fields(main.block, entry.offset - main.block.base)
    version = fields.data(0x0000)
    if len(version) == 4 and version.isdigit():
        return fields
    return Fields(main.block, None)


def _focus_mode(main: Fields, settings: Fields) -> str | None:
    values = settings.integers(0x0301)
    if not values:
        return main.word(0x100B, _OLD_FOCUS_MODE)
    if len(values) == 1:
        return _FOCUS_MODE.get(values[0])
    # The second value has a bit for each way; S-AF + MF is autofocus that the ring may then correct.
    bits = values[1]
    if bits & _C_AF_BIT:
        return words.CONTINUOUS
    if bits & _S_AF_BIT:
        return words.SINGLE
    return words.MANUAL if bits & _MF_BIT else None


def _camera_word(focus_mode: str | None) -> CameraWord | None:
    if focus_mode is None:
        return None
    return CameraWord.MANUAL if focus_mode == words.MANUAL else CameraWord.SILENT


def _focus_areas(settings: Fields) -> tuple[FocusArea, ...]:
    """The areas used (corners left, top, right, bottom in 255ths), else the point that was selected."""
    areas = tuple(
        area for value in settings.integers(0x0304) if (area := _area_from_corners(value)) is not None
    )
    if areas:
        return areas
    # Five quotients, of which the first is 0/0 and means nothing.
    flat = settings.numbers(0x0305, at_least=10)[2:10]
    if not flat or 0 in flat[1::2]:
        return ()
    corners = [above / below for above, below in zip(flat[::2], flat[1::2], strict=True)]
    if not all(0 < value < 1 for value in corners):
        return ()
    return (FocusArea(x=(corners[0] + corners[2]) / 2, y=(corners[1] + corners[3]) / 2),)


def _area_from_corners(packed: int) -> FocusArea | None:
    left, top, right, bottom = (value / 255 for value in packed.to_bytes(4, "big"))
    if not (left < right and top < bottom):
        return None
    return FocusArea(
        x=(left + right) / 2, y=(top + bottom) / 2, width=right - left, height=bottom - top, used=True
    )


def _focus_distance_m(focus: Fields) -> float | None:
    """The numerator in millimetres, whatever stands below it (so exiv2)."""
    values = focus.numbers(0x0305, at_least=2)
    if not values or values[0] in (0, _UNKNOWN_DISTANCE):
        return None
    return values[0] / 1000


def _positive(value: int | None) -> float | None:
    return float(value) if value else None


def _f_number(value: int | None) -> float | None:
    """From 256ths of an APEX aperture value: N = 2 ** (value / 512)."""
    return round(2 ** (value / 512), 2) if value and value < 512 * 8 else None


def _converter(equipment: Fields, lens_name: str | None) -> tuple[float | None, str | None]:
    extender = equipment.integers(0x0301, at_least=6)
    name = equipment.text(0x0303)
    named = _CONVERTER_NAME.search(f"{name or ''} {lens_name or ''}")
    if named:
        return int(named.group(1)) / 10, name or named.group(0)
    if not extender:
        return None, None
    if any(extender) or name:
        return _CONVERTERS.get((extender[0], extender[2])), name
    # A converter built into the lens is not known to show here.
    return (None if _BUILT_IN_CONVERTER.search(lens_name or "") else 1.0), None


def _drive_mode(main: Fields, settings: Fields) -> str | None:
    # Bracketing in 0x0600 is from memory; exiv2 names the tag alone. The rest is exiv2's 0x0200.
    if settings.integer(0x0600) in _BRACKETING_MODES:
        return words.BRACKETING
    return main.word(0x0200, _DRIVE)


def _shot_in_burst(main: Fields) -> int | None:
    values = main.integers(0x0200, at_least=2)
    return values[1] or None if values and values[0] == 2 else None
