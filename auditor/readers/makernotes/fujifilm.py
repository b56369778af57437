"""Fujifilm's maker note: always little-endian, its offsets count from the note itself."""

from __future__ import annotations

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields, note_start
from auditor.readers.tiff import TiffBlock
from auditor.records import FocusArea, MakerFacts
from auditor.words import CameraWord

# Distinct real files on which the value was the same as exiv2 0.28 gave (its raw numbers where it only
# names a field), counted by tests/reference/test_other_makers_against_exiv2.py.
CHECKED: dict[str, int] = {
    "area_mode": 22,
    "body_serial": 14,
    "camera_word": 21,
    "drive_mode": 22,
    "focus_areas": 9,
    "focus_mode": 22,
    "lens_long_mm": 9,
    "lens_short_mm": 9,
    "lens_widest_at_long": 9,
    "lens_widest_at_short": 9,
}

_AREA = {0: words.WHOLE_FRAME, 1: words.ONE_POINT, 256: words.ZONE, 512: words.TRACKING}
_DRIVE = {0: words.SINGLE_FRAME, 1: words.BURST_SLOW, 2: words.BURST_FAST}
_CONTINUOUS = {0: words.SINGLE_FRAME, 1: words.BURST}
_STABILISER = {0: words.OFF, 1: words.ON, 2: words.ON}
_KIND_OF_AUTOFOCUS = {1: words.SINGLE, 2: words.CONTINUOUS}


def decode(note: MakerNote) -> MakerFacts:
    """What Fujifilm's note says of focus, lens and drive.

    References
    ----------
    exiv2 0.28, tag group Fujifilm.
    """
    start = note_start(note.tiff, note.offset, 12)
    if len(start) < 12 or not start.startswith(b"FUJIFILM"):
        return MakerFacts()
    block = TiffBlock(note.tiff.source, note.offset, "<")
    fields = Fields(block, int.from_bytes(start[8:12], "little"))
    focus_mode = _focus_mode(fields)
    word = _camera_word(fields, focus_mode)
    range_mm = (fields.positive(0x1404), fields.positive(0x1405))
    widest = (fields.positive(0x1406), fields.positive(0x1407))
    return MakerFacts(
        camera_word=word,
        focus_mode=focus_mode,
        area_mode=fields.word(0x1022, _AREA),
        drive_mode=_drive_mode(fields),
        focus_areas=() if focus_mode in (None, words.MANUAL) else _focus_areas(fields, note, word),
        lens_short_mm=range_mm[0],
        lens_long_mm=range_mm[1],
        lens_widest_at_short=widest[0],
        lens_widest_at_long=widest[1],
        # A number of the body's own, though not the one printed on it.
        body_serial=fields.text(0x0010),
        shot_in_burst=fields.integer(0x1101) or None,
        stabiliser=_stabiliser(fields),
    )


def _focus_mode(fields: Fields) -> str | None:
    mode = fields.integer(0x1021)
    if mode == 1:
        return words.MANUAL
    if mode != 0:
        return None
    # The low four bits name the kind: from memory; exiv2 names the tag alone, and one real file has it (1).
    setting = fields.integer(0x102D)
    return words.AUTOFOCUS if setting is None else _KIND_OF_AUTOFOCUS.get(setting & 0x0F, words.AUTOFOCUS)


def _camera_word(fields: Fields, focus_mode: str | None) -> CameraWord | None:
    if focus_mode is None:
        return None
    if focus_mode == words.MANUAL:
        return CameraWord.MANUAL
    warning = fields.integer(0x1301)
    if warning == 0:
        return CameraWord.CONFIRMED
    return CameraWord.NOT_CONFIRMED if warning == 1 else CameraWord.SILENT


def _focus_areas(fields: Fields, note: MakerNote, word: CameraWord | None) -> tuple[FocusArea, ...]:
    """The focus point, in pixels of the picture as first recorded: of use only while it fits the size."""
    point = fields.integers(0x1023, at_least=2)
    if not point or not note.width_px or not note.height_px:
        return ()
    x, y = point[:2]
    if not (0 < x < note.width_px and 0 < y < note.height_px):
        return ()
    in_focus = {CameraWord.CONFIRMED: True, CameraWord.NOT_CONFIRMED: False}.get(word) if word else None
    return (FocusArea(x=x / note.width_px, y=y / note.height_px, used=True, in_focus=in_focus),)


def _drive_mode(fields: Fields) -> str | None:
    setting = fields.integer(0x1103)
    if setting is None:
        return fields.word(0x1100, _CONTINUOUS)
    return _DRIVE.get(setting & 0xFF)


def _stabiliser(fields: Fields) -> str | None:
    """Kind, then mode (0 off): from memory; exiv2 names the tag alone."""
    values = fields.integers(0x1422, at_least=3)
    if not values:
        return None
    return words.OFF if values[0] == 0 else _STABILISER.get(values[1])
