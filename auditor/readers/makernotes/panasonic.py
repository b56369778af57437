"""Panasonic's maker note, and that of the cameras which others sell under their own name."""

from __future__ import annotations

import re

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

# Distinct real files on which the value was the same as exiv2 0.28 gave (its raw numbers where it only
# names a field), counted by tests/reference/test_other_makers_against_exiv2.py.
CHECKED: dict[str, int] = {
    "area_mode": 4,
    "auto_iso": 2,
    "body_serial": 4,
    "drive_mode": 4,
    "focus_areas": 3,
    "focus_mode": 4,
    "stabiliser": 4,
}

_FOCUS_MODE = {
    1: words.AUTOFOCUS,
    2: words.MANUAL,
    4: words.AUTOFOCUS,  # started by the focus button
    5: words.CONTINUOUS,
    6: words.SINGLE,
    7: words.CONTINUOUS,
    8: words.AUTOMATIC,  # AF-F: single, until the subject moves
}
_AREA = {
    (1, 0): words.ONE_POINT, (16, 0): words.ONE_POINT, (16, 16): words.ONE_POINT, (128, 0): words.ONE_POINT,
    (0, 23): words.WHOLE_FRAME, (0, 49): words.WHOLE_FRAME, (0, 225): words.WHOLE_FRAME,
    (64, 0): words.FACE, (240, 0): words.TRACKING,
}  # fmt: skip
_STABILISER = {2: words.ON, 3: words.OFF, 4: words.ON, 5: words.PANNING, 6: words.ON}
_DRIVE = {0: words.SINGLE_FRAME, 1: words.BURST, 2: words.BURST}
_CONVERTER_NAME = re.compile(r"TC-?(14|20)\b", re.IGNORECASE)
_ISO_CHOSEN_BY_CAMERA = 65534


def decode(note: MakerNote) -> MakerFacts:
    """What Panasonic's note says of focus, lens and drive.

    Its conversion lens (0x0035) is screwed on in front of a fixed lens and is no converter.

    References
    ----------
    exiv2 0.28, tag group Panasonic.
    """
    start = note_start(note.tiff, note.offset, 12)
    if not start.startswith(b"Panasonic\0"):
        return MakerFacts()
    fields = Fields(note.tiff, note.offset + 12 - note.tiff.base)
    focus_mode = fields.word(0x0007, _FOCUS_MODE)
    areas = () if focus_mode in (None, words.MANUAL) else _focus_areas(fields)
    factor, name = _converter(fields)
    return MakerFacts(
        camera_word=_camera_word(focus_mode),
        focus_mode=focus_mode,
        area_mode=_area_mode(fields),
        drive_mode=_drive_mode(fields),
        focus_areas=areas,
        converter_factor=factor,
        converter_name=name,
        lens_name=fields.text(0x0051),
        # A number of the body's own, though not the one printed on it.
        body_serial=fields.text(0x0025),
        auto_iso=True if fields.integer(0x003C) == _ISO_CHOSEN_BY_CAMERA else None,
        shot_in_burst=fields.integer(0x002B) or None,
        stabiliser=fields.word(0x001A, _STABILISER),
    )


def _camera_word(focus_mode: str | None) -> CameraWord | None:
    """Whether focus was found is not recorded: autofocus is `silent`."""
    if focus_mode is None:
        return None
    return CameraWord.MANUAL if focus_mode == words.MANUAL else CameraWord.SILENT


def _area_mode(fields: Fields) -> str | None:
    values = fields.integers(0x000F, at_least=2)
    return _AREA.get((values[0], values[1])) if values else None


def _focus_areas(fields: Fields) -> tuple[FocusArea, ...]:
    """The focus point as fractions of the picture; a place outside means that there is none."""
    place = fields.quotients(0x004D, 2)
    if not place or not all(0 < value < 1 for value in place):
        return ()
    return (FocusArea(x=place[0], y=place[1], used=True),)


def _drive_mode(fields: Fields) -> str | None:
    if (fields.integer(0x002E) or 0) > 1:  # self-timer: 1 is off
        return words.SELF_TIMER
    return fields.word(0x002A, _DRIVE)


def _converter(fields: Fields) -> tuple[float | None, str | None]:
    """A converter that the accessory field names; the field's silence says nothing."""
    name = fields.text(0x0053)
    match = _CONVERTER_NAME.search(name) if name else None
    return (int(match.group(1)) / 10, name) if match else (None, None)
