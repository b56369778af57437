"""Nikon's records of focus areas: where, and whether the camera says that they were in focus.

Phase-detection points are numbered, and their places differ from body to body: only the one in the middle
is placed. Where a contrast-detection or on-sensor area is recorded, it is in pixels.
"""

from __future__ import annotations

from dataclasses import dataclass

from auditor.readers.makernotes import MakerNote, words
from auditor.readers.makernotes.fields import Fields
from auditor.records import FocusArea

_LIKE = 0.02
"""Two sizes that differ by less than this part are alike."""

# Version: bytes in all, where the area in pixels lies, where its being in focus lies.
_LAYOUTS: dict[bytes, tuple[int, int, int | None]] = {
    b"0100": (30, 0x10, 0x1C),
    b"0101": (84, 0x46, 0x52),
    b"0300": (60, 0x2A, None),
    b"0301": (60, 0x2A, None),
    b"0400": (80, 0x3E, None),
}
_ON_SENSOR = (b"0300", b"0301", b"0400")
_CENTRE = 1
"""Number of the middle point, the first of each body's: from memory; exiv2 prints numbers alone."""

_OLD_AREA = {
    0: words.ONE_POINT, 1: words.POINT_GROUP, 2: words.WHOLE_FRAME, 3: words.POINT_GROUP, 4: words.ONE_POINT,
    5: words.POINT_GROUP,
}  # fmt: skip
# The rest of the area modes are from memory: exiv2 prints numbers alone.
_PHASE_AREA = {
    0: words.ONE_POINT, 1: words.POINT_GROUP, 2: words.WHOLE_FRAME, 3: words.POINT_GROUP,
    4: words.POINT_GROUP, 5: words.POINT_GROUP, 6: words.POINT_GROUP, 7: words.TRACKING,
    8: words.WHOLE_FRAME, 9: words.TRACKING, 10: words.ONE_POINT, 11: words.POINT_GROUP,
    12: words.TRACKING, 13: words.POINT_GROUP, 14: words.POINT_GROUP, 15: words.POINT_GROUP,
    128: words.ONE_POINT, 129: words.WHOLE_FRAME, 130: words.TRACKING, 131: words.FACE,
    192: words.ONE_POINT, 193: words.ONE_POINT, 195: words.ZONE, 196: words.ZONE, 197: words.WHOLE_FRAME,
}  # fmt: skip
_CONTRAST_AREA = {1: words.ONE_POINT, 2: words.ZONE, 3: words.FACE, 4: words.TRACKING}


@dataclass(frozen=True, slots=True)
class FocusInfo:
    """`in_focus` is None where the camera does not say."""

    area_mode: str | None = None
    areas: tuple[FocusArea, ...] = ()
    in_focus: bool | None = None


def focus_info(fields: Fields, note: MakerNote) -> FocusInfo:
    """What the note says of its focus area, in the newer record or else in the older."""
    data = fields.data(0x00B7)
    if data:
        return _newer(fields, note, data)
    return _older(fields, fields.data(0x0088), note.model, headerless=fields.block is note.tiff)


def _older(fields: Fields, data: bytes, model: str, headerless: bool) -> FocusInfo:
    """Area mode, chosen point, and a mask of the points in focus."""
    if len(data) != 4:
        return FocusInfo()
    area_mode = _OLD_AREA.get(data[0])
    # Notes without a header write the mask little-endian, also in a big-endian block.
    little = headerless or fields.block.byte_order == "<"
    mask = int.from_bytes(data[2:], "little" if little else "big")
    if mask:
        centre = FocusArea(x=0.5, y=0.5, used=True, in_focus=True)
        return FocusInfo(area_mode, (centre,) if mask == 1 else (), True)
    # Compacts leave it empty whether or not focus was found.
    if not model.startswith("NIKON D"):
        return FocusInfo(area_mode)
    centre = FocusArea(x=0.5, y=0.5, used=True, in_focus=False)
    return FocusInfo(area_mode, (centre,) if data[1] == 0 and area_mode == words.ONE_POINT else (), False)


def _newer(fields: Fields, note: MakerNote, data: bytes) -> FocusInfo:
    version = data[:4]
    if version not in _LAYOUTS or len(data) < _LAYOUTS[version][0]:
        return FocusInfo()
    _, area_at, in_focus_at = _LAYOUTS[version]
    if version in _ON_SENSOR:
        # Byte 7 says whether the place is there; nothing known says whether it was in focus.
        areas = _area_in_pixels(fields, note, data, area_at, None) if data[7] == 1 else ()
        return FocusInfo(_PHASE_AREA.get(data[5]), areas)
    if data[4] == 1 and in_focus_at is not None:
        in_focus = {0: False, 1: True}.get(data[in_focus_at])
        areas = _area_in_pixels(fields, note, data, area_at, in_focus)
        return FocusInfo(_CONTRAST_AREA.get(data[5]), areas, in_focus)
    if data[4] == 0 and data[6]:
        return FocusInfo(_PHASE_AREA.get(data[5]), _middle_point(data))
    return FocusInfo()


def _middle_point(data: bytes) -> tuple[FocusArea, ...]:
    """The middle of the picture, when its point was the main one and was used: that confirms nothing."""
    used = data[7] == _CENTRE and data[8] & 1
    return (FocusArea(x=0.5, y=0.5, used=True),) if used else ()


def _area_in_pixels(
    fields: Fields, note: MakerNote, data: bytes, at: int, in_focus: bool | None
) -> tuple[FocusArea, ...]:
    """Size of the picture, middle of the area, size of the area: six words."""
    full_width, full_height, x, y, width, height = fields.block.unpack("6H", data[at : at + 12])
    if not (0 < x < full_width and 0 < y < full_height):
        return ()
    crop = _crop(fields, full_width)
    if crop is None:
        return ()
    left, top, across, down = crop
    if note.width_px and note.height_px:
        shape = (full_width * across) / (full_height * down) / (note.width_px / note.height_px)
        if abs(shape - 1) > _LIKE:
            return ()
    x_part, y_part = (x / full_width - left) / across, (y / full_height - top) / down
    if not (0 < x_part < 1 and 0 < y_part < 1):
        return ()
    w_part, h_part = width / full_width / across, height / full_height / down
    sized = 0 < w_part <= 1 and 0 < h_part <= 1
    return (
        FocusArea(
            x=x_part,
            y=y_part,
            width=w_part if sized else None,
            height=h_part if sized else None,
            used=True,
            in_focus=in_focus,
        ),
    )


def _crop(fields: Fields, measured_width_px: int) -> tuple[float, float, float, float] | None:
    """Left, top, width and height of the stored picture, as parts of the picture that areas are measured in.

    None when the two do not fit each other.
    """
    values = fields.integers(0x001B, at_least=7)
    if not values:
        return 0.0, 0.0, 1.0, 1.0
    full_width, full_height, width, height, left, top = values[1:7]
    if not (full_width and full_height and width and height):
        return 0.0, 0.0, 1.0, 1.0
    if left + width > full_width or top + height > full_height:
        return None
    if abs(measured_width_px / full_width - 1) <= _LIKE:
        return left / full_width, top / full_height, width / full_width, height / full_height
    return (0.0, 0.0, 1.0, 1.0) if abs(measured_width_px / width - 1) <= _LIKE else None
