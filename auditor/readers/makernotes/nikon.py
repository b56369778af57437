"""Nikon's maker note.

Only what lies open is read: lens data from version 0200 on and the shot information are enciphered and
stay unread.
"""

from __future__ import annotations

from typing import Any

from auditor.errors import AuditorError
from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.readers.makernotes.lens_range import lens_facts
from auditor.readers.makernotes.nikon_focus import FocusInfo, focus_info
from auditor.readers.tiff import TiffBlock
from auditor.records import MakerFacts
from auditor.words import CameraWord

# Distinct real exposures on which the value was that of exiv2 0.28 (ISO within 12 %, the widest f-number
# within 4 %, for exiv2 prints rounded ones), counted by tests/reference/test_canon_nikon_against_exiv2.py.
CHECKED: dict[str, int] = {
    "area_mode": 6,
    "auto_iso": 24,
    "body_serial": 27,
    "camera_word": 16,
    "drive_mode": 28,
    "file_number": 23,
    "focus_areas": 2,
    "focus_distance_m": 3,
    "focus_mode": 35,
    "iso": 30,
    "lens_long_mm": 29,
    "lens_name": 28,
    "lens_short_mm": 29,
    "lens_widest_at_long": 29,
    "lens_widest_at_short": 29,
    "stabiliser": 24,
    "widest_f_number": 3,
}

_HEADER = b"Nikon\0\2"
_EARLY_HEADER = b"Nikon\0\1"
"""The first compacts: other tags under the same numbers."""

_FOCUS_MODE = {
    "AF-S": words.SINGLE, "AF-C": words.CONTINUOUS, "AF-A": words.AUTOMATIC, "MANUAL": words.MANUAL,
    "AF-F": words.CONTINUOUS,  # full-time, in live view: from memory, exiv2 prints it as it is
}  # fmt: skip
_STABILISER = {b"\1": words.ON, b"\2": words.OFF}

# Bits of the shooting mode.
_CONTINUOUS, _DELAY, _TETHERED, _SELF_TIMER, _AUTO_ISO, _INFRARED = 0x01, 0x02, 0x04, 0x08, 0x20, 0x80
_BRACKETS = 0x10 | 0x40 | 0x100
_KNOWN_BITS = 0x1FF

_LONGEST_MM, _NARROWEST = 10_000, 100
"""No lens is longer, or narrower wide open."""


def decode(note: MakerNote) -> MakerFacts:
    """What Nikon's note says of focus, lens and drive.

    The lens range and f-numbers hold a converter already, where the body saw one.

    References
    ----------
    exiv2 0.28, tag groups Nikon1, Nikon3, NikonAf, NikonAf21, NikonAf22, NikonLd2, NikonVr, NikonIi, NikonFi.
    """
    fields = _directory(note)
    if not fields:
        return MakerFacts()
    focus_mode = _FOCUS_MODE.get((fields.text(0x0007) or "").upper())
    focus = focus_info(fields, note)
    shooting = _shooting_mode(fields)
    distance_m, widest = _open_lens_data(fields)
    return MakerFacts(
        camera_word=_camera_word(focus_mode, focus),
        focus_mode=focus_mode,
        area_mode=focus.area_mode if focus_mode != words.MANUAL else None,
        drive_mode=_drive_mode(shooting),
        focus_areas=focus.areas if focus_mode != words.MANUAL else (),
        focus_distance_m=distance_m,
        widest_f_number=widest,
        body_serial=_serial(fields),
        iso=_iso(fields),
        auto_iso=_auto_iso(fields, shooting),
        file_number=_file_number(fields),
        stabiliser=_STABILISER.get(fields.data(0x001F)[4:5]),
        **_lens(fields),
    )


def _directory(note: MakerNote) -> Fields:
    start = note_start(note.tiff, note.offset)
    if start.startswith(_EARLY_HEADER):
        return Fields(note.tiff, None)
    if not start.startswith(_HEADER):
        return Fields(note.tiff, note.offset - note.tiff.base)
    try:
        # A TIFF header of its own: offsets count from it, and its byte order may not be that of the file.
        return Fields(*TiffBlock.at_header(note.tiff.source, note.offset + 10))
    except AuditorError:
        return Fields(note.tiff, None)


def _camera_word(focus_mode: str | None, focus: FocusInfo) -> CameraWord | None:
    if focus_mode == words.MANUAL:
        return CameraWord.MANUAL
    if focus.in_focus is not None:
        return CameraWord.CONFIRMED if focus.in_focus else CameraWord.NOT_CONFIRMED
    return CameraWord.SILENT if focus_mode else None


def _shooting_mode(fields: Fields) -> int | None:
    entry = fields.entry(0x0089)
    return fields.integer(0x0089) if entry is not None and entry.type == 3 and entry.count == 1 else None


def _drive_mode(shooting: int | None) -> str | None:
    if shooting is None or shooting & _DELAY or shooting & ~_KNOWN_BITS:
        return None
    if shooting & _BRACKETS:
        return words.BRACKETING
    if shooting & _SELF_TIMER:
        return words.SELF_TIMER
    if shooting & (_INFRARED | _TETHERED):
        return words.REMOTE
    return words.BURST if shooting & _CONTINUOUS else words.SINGLE_FRAME


def _auto_iso(fields: Fields, shooting: int | None) -> bool | None:
    """Bodies without ISO information (0x0025) use that bit for something else, or not at all."""
    return None if shooting is None or not fields.data(0x0025) else bool(shooting & _AUTO_ISO)


def _iso(fields: Fields) -> float | None:
    info = fields.data(0x0025)
    if len(info) >= 14 and info[0]:
        return float(f"{100 * 2 ** (info[0] / 12 - 5):.4g}")
    setting = fields.integers(0x0002, at_least=2)
    return float(setting[1]) if setting and setting[1] else None


def _lens(fields: Fields) -> dict[str, Any]:
    values = fields.quotients(0x0084, 4)
    if not values:
        return {}
    short, long, at_short, at_long = values
    if not (0 < short <= long < _LONGEST_MM and 0 < at_short <= at_long < _NARROWEST):
        return {}
    return lens_facts(short, long, at_short, at_long)


def _open_lens_data(fields: Fields) -> tuple[float | None, float | None]:
    """Focus distance in metres and the widest f-number at this focal length, from the one version that holds
    them unenciphered."""
    data = fields.data(0x0098)
    if not data.startswith(b"0101") or len(data) < 19:
        return None, None
    distance, widest = data[9], data[18]
    return (
        round(0.01 * 10 ** (distance / 40), 3) if 0 < distance < 0xFF else None,
        round(2 ** (widest / 24), 2) if widest else None,
    )


def _serial(fields: Fields) -> str | None:
    serial = fields.text(0x001D) or ""
    if serial.isdecimal() and int(serial):
        return serial
    # Older bodies: "NO= 300157a3".
    older = fields.text(0x00A0) or ""
    return older.removeprefix("NO=").strip() or None if older.startswith("NO=") else None


def _file_number(fields: Fields) -> int | None:
    data = fields.data(0x00B8)
    if not data.startswith(b"0100") or len(data) < 10:
        return None
    (number,) = fields.block.unpack("H", data[8:10])
    return number if 0 < number <= 9999 else None
