"""Canon's maker note."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.canon_points import FocusPoints, focus_points, signed
from auditor.readers.makernotes.fields import Fields
from auditor.readers.tiff import ByteOrder, TiffBlock
from auditor.records import MakerFacts
from auditor.words import CameraWord

# Distinct real exposures on which the value was that of exiv2 0.28 (the widest f-number within 4 %, which
# exiv2 prints as marked; the ISO within 12 % of the Exif one; the focus distance between the two that exiv2
# prints; the direction of y on compacts from metadata-extractor), counted by
# tests/reference/test_canon_nikon_against_exiv2.py.
CHECKED: dict[str, int] = {
    "area_mode": 28,
    "auto_iso": 9,
    "body_serial": 9,
    "camera_word": 30,
    "drive_mode": 46,
    "file_number": 12,
    "focus_areas": 26,
    "focus_distance_m": 23,
    "focus_mode": 46,
    "iso": 41,
    "lens_long_mm": 46,
    "lens_name": 31,
    "lens_short_mm": 46,
    "shot_in_burst": 4,
    "stabiliser": 7,
    "widest_f_number": 45,
}

_SETTINGS, _SHOT, _FILE = 0x0001, 0x0004, 0x0093

_FOCUS_MODE = {
    0: words.SINGLE, 1: words.CONTINUOUS, 2: words.AUTOMATIC, 3: words.MANUAL, 4: words.SINGLE,
    5: words.CONTINUOUS, 6: words.MANUAL, 512: words.SINGLE, 519: words.CONTINUOUS,
    # Live view: 256 and the mode. exiv2 calls 256 "AF + MF", as older compacts mean it: focus is found
    # once, then the ring may correct it. 257 and 258 are from memory; exiv2 has no name for them.
    256: words.SINGLE, 257: words.CONTINUOUS, 258: words.AUTOMATIC,
}  # fmt: skip
_AREA = {
    1: words.POINT_GROUP, 2: words.ONE_POINT, 4: words.WHOLE_FRAME, 5: words.FACE, 6: words.TRACKING,
    7: words.ZONE, 8: words.POINT_GROUP, 9: words.ONE_POINT, 10: words.POINT_GROUP, 11: words.WHOLE_FRAME,
    12: words.ZONE, 13: words.ONE_POINT, 14: words.ZONE,
}  # fmt: skip
_DRIVE = {
    0: words.SINGLE_FRAME, 1: words.BURST, 3: words.BURST, 4: words.BURST_SLOW, 5: words.BURST_FAST,
    6: words.SINGLE_FRAME, 9: words.SINGLE_FRAME, 10: words.BURST,
    8: words.BURST_FAST,  # "high +": from memory, exiv2 has no name for it
}  # fmt: skip
_BURSTS = (words.BURST, words.BURST_SLOW, words.BURST_FAST)
_STABILISER = {0: words.OFF, 1: words.ON, 2: words.ON, 3: words.PANNING, 4: words.ON}
_COMPACT = 250
_AUTO_ISO = (14, 15)
_EXPLICIT_ISO = range(16, 26)

_LONGEST_MM = 10_000
"""No lens is longer."""
_BEYOND_SCALE_CM = frozenset({0xFFFF, 0x1FFF, 6553})
"""Distances that mark the end of the scale: infinity, and the greatest the field can hold in two forms."""


def decode(note: MakerNote) -> MakerFacts:
    """What Canon's note says of focus, lens and drive.

    The lens range and the widest f-number hold a converter already, where the body saw one.

    References
    ----------
    exiv2 0.28, tag groups Canon, CanonCs, CanonSi, CanonFi; for the direction of the focus points'
    vertical axis, metadata-extractor 2.11 (CanonMakernoteDirectory).
    """
    fields = _directory(note)
    settings, shot, file_info = (_block(fields, tag) for tag in (_SETTINGS, _SHOT, _FILE))
    compact = _at(shot, 0x1A) == _COMPACT
    focus_mode = _FOCUS_MODE.get(_at(settings, 0x07, -1))
    points = focus_points(fields, note, y_down=compact)
    drive_mode = _drive_mode(settings)
    short_mm, long_mm = _lens_range(settings)
    return MakerFacts(
        camera_word=_camera_word(focus_mode, points),
        focus_mode=focus_mode,
        area_mode=None if points is None else _AREA.get(points.area_mode or 0),
        drive_mode=drive_mode,
        focus_areas=() if points is None or focus_mode == words.MANUAL else points.areas,
        focus_distance_m=_distance(file_info, 0x14) or _distance(shot, 0x13),
        lens_name=fields.text(0x0095),
        lens_short_mm=short_mm,
        lens_long_mm=long_mm,
        widest_f_number=_f_number(_at(settings, 0x1A)),
        body_serial=_serial(fields, note.model),
        iso=_iso(shot),
        auto_iso=_auto_iso(settings) if compact else None,
        file_number=_file_number(fields),
        shot_in_burst=(_at(shot, 0x09) or None) if drive_mode in _BURSTS else None,
        stabiliser=_stabiliser(settings),
    )


def _directory(note: MakerNote) -> Fields:
    """The note's directory, in the block's byte order or in the other: software that turns a file round
    leaves the note as it was."""
    block = note.tiff
    orders: tuple[ByteOrder, ...] = (block.byte_order, ">" if block.byte_order == "<" else "<")
    for order in orders:
        fields = Fields(TiffBlock(block.source, block.base, order), note.offset - block.base)
        if fields.entry(_SETTINGS) is not None or fields.entry(_SHOT) is not None:
            return fields
    return Fields(block, None)


def _block(fields: Fields, tag: int) -> tuple[int, ...]:
    """A block of words that starts with its own size in bytes; empty when the size is another (as in a note
    whose values were left behind when it was moved)."""
    data = tuple(value & 0xFFFF for value in fields.integers(tag))
    return data if data and data[0] == 2 * len(data) else ()


def _at(data: Sequence[int], index: int, otherwise: int = 0) -> int:
    return data[index] if index < len(data) else otherwise


def _camera_word(focus_mode: str | None, points: FocusPoints | None) -> CameraWord | None:
    if focus_mode == words.MANUAL:
        return CameraWord.MANUAL
    if points is not None and points.in_focus is not None:
        return CameraWord.CONFIRMED if points.in_focus else CameraWord.NOT_CONFIRMED
    return CameraWord.SILENT if focus_mode or points is not None else None


def _drive_mode(settings: Sequence[int]) -> str | None:
    mode = _DRIVE.get(_at(settings, 0x05, -1))
    return words.SELF_TIMER if mode == words.SINGLE_FRAME and _at(settings, 0x02) else mode


def _stabiliser(settings: Sequence[int]) -> str | None:
    value = _at(settings, 0x22, -1)
    return _STABILISER.get(value - 0x100 if 0x100 <= value < 0x200 else value)


def _distance(block: Sequence[int], index: int) -> float | None:
    """Distance in metres from the two ends of a range in centimetres, the far end first.

    The middle in 1/distance, in which the steps of a focus drive are even.
    """
    far, near = _at(block, index), _at(block, index + 1)
    if not far or far in _BEYOND_SCALE_CM or near > far:
        return None
    return round(0.02 / (1 / far + 1 / (near or far)), 3)


def _lens_range(settings: Sequence[int]) -> tuple[float | None, float | None]:
    long, short, units_per_mm = (_at(settings, index) for index in (0x17, 0x18, 0x19))
    if not units_per_mm or not 0 < short <= long < _LONGEST_MM * units_per_mm:
        return None, None
    return short / units_per_mm, long / units_per_mm


def _stops(word: int) -> float:
    """Stops from 32nds, where 12 and 20 of them stand for a third and two thirds."""
    value = signed(word)
    whole, part = divmod(abs(value), 32)
    size = whole + {12: 1 / 3, 20: 2 / 3}.get(part, part / 32)
    return -size if value < 0 else size


def _f_number(word: int) -> float | None:
    # 400 is f/76, beyond any lens wide open; greater words are marks.
    return round(2 ** (_stops(word) / 2), 2) if 0 < word <= 400 else None


def _iso(shot: Sequence[int]) -> float | None:
    """The base ISO with the camera's own raise over it."""
    raised, base = signed(_at(shot, 0x01)), signed(_at(shot, 0x02))
    if not 0 < base <= 640 or not -64 <= raised <= 320:
        return None
    return float(f"{100 / 32 * 2 ** (_stops(base) + raised / 32):.4g}")


def _auto_iso(settings: Sequence[int]) -> bool | None:
    """The ISO setting of compacts; on other bodies the field says "auto" whatever the setting."""
    setting = _at(settings, 0x10)
    if setting in _AUTO_ISO:
        return True
    explicit = setting in _EXPLICIT_ISO or (setting & 0x4000 and setting != 0x7FFF)
    return False if explicit else None


def _serial(fields: Fields, model: str) -> str | None:
    number = fields.integer(0x000C)
    if not number:
        return None
    # The first body's plate shows the upper half in hexadecimal.
    return f"{number >> 16:04x}{number & 0xFFFF:05d}" if model.endswith("EOS D30") else str(number)


def _file_number(fields: Fields) -> int | None:
    """The last four digits of a number such as 1171771, file 1771 of folder 117."""
    number = fields.integer(0x0008) or 0
    return (number % 10_000 or None) if 1_000_000 <= number < 10_000_000 else None
