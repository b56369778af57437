"""What the standard Exif tags say of an exposure.

A fact that is absent is not in the result; `missing` says why where the reason is more than
that the file does not say.

References
----------
CIPA DC-008 / JEITA CP-3451 (Exif 2.3), 4.6.4 and 4.6.5.
"""

from __future__ import annotations

import math
import re
from datetime import datetime
from typing import Any

from auditor.readers import exif_tags as tags
from auditor.readers.exif_tags import Quotient, Tags, Values
from auditor.records import FocusArea
from auditor.serials import serial_number

Facts = dict[str, Any]
Missing = dict[str, str]

_DATE = re.compile(r"(\d{4})[:/. -](\d{1,2})[:/. -](\d{1,2})[ T](\d{1,2}):(\d{1,2}):(\d{1,2})")
_BLANK_DATE = re.compile(r"[0\s:/.T-]*")
_OFFSET = re.compile(r"([+-])(\d{2}):?(\d{2})")
_FURTHEST_OFFSET_MIN = 14 * 60
_UNIT_UM = {1: 25400.0, 2: 25400.0, 3: 10000.0, 4: 1000.0, 5: 1.0}
"""FocalPlaneResolutionUnit; 1 ("none") is written by some for inches, which are the default."""
_SATURATED_ISO = 65535
_INFINITE = 0xFFFFFFFF
_NO_NAME = re.compile(r"[-\s.?0]*|n/?a|none|unknown|null|manual lens|[0.]+ ?mm f/?[0.]+", re.IGNORECASE)

# What a value can be at all: beyond lies damage, not photography.
_F_NUMBERS = (0.5, 512.0)
_FOCAL_MM = (0.5, 50_000.0)
_EXPOSURE_S = (1e-7, 7 * 86_400.0)
_BIAS_EV = (-20.0, 20.0)
_ISO = (1.0, 50_000_000.0)
_DISTANCE_M = (1e-3, 1e6)
_PITCH_UM = (0.1, 1000.0)
_SIZE_PX = (1, 1_000_000)


def facts(blocks: Tags) -> tuple[Facts, Missing]:
    """Columns of Recorded that the standard tags fill, and why others stay empty."""
    reader = _Reader(blocks)
    _time(reader)
    _body_and_lens(reader)
    _exposure(reader)
    _picture(reader)
    return reader.facts, reader.missing


class _Reader:
    """Values of tags as plain numbers and text; what cannot be true is noted and left out."""

    def __init__(self, tags: Tags) -> None:
        self.tags = tags
        self.facts: Facts = {}
        self.missing: Missing = {}

    def text(self, tag: int) -> str | None:
        return as_text(self.tags.get(tag))

    def integer(self, tag: int) -> int | None:
        number = first_number(self.tags.get(tag))
        return int(number) if number is not None else None

    def keep(self, column: str, value: float | None, allowed: tuple[float, float]) -> bool:
        """Keep a number that can be true; says whether the column is filled."""
        if column in self.facts:
            return True
        if value is None:
            return False
        if allowed[0] <= value <= allowed[1]:
            self.facts[column] = value
            self.missing.pop(column, None)
            return True
        self.missing[column] = "out_of_range"
        return False

    def keep_number(self, column: str, tag: int, allowed: tuple[float, float]) -> bool:
        number = first_number(self.tags.get(tag))
        return self.keep(column, None if number is None else float(number), allowed)

    def keep_code(self, column: str, tag: int, allowed: tuple[int, int]) -> bool:
        return self.keep(column, self.integer(tag), allowed)


def _time(reader: _Reader) -> None:
    # Never the modify date: it is when a file was edited.
    for date_tag, fraction_tag, offset_tag, source in (
        (0x9003, 0x9291, 0x9011, "offset_time_original"),
        (0x9004, 0x9292, 0x9012, "offset_time_digitized"),
    ):
        taken_at, why = _date(reader.text(date_tag), reader.text(fraction_tag))
        if taken_at is None:
            reader.missing.setdefault("taken_at", why)
            continue
        reader.facts["taken_at"] = taken_at
        reader.missing.pop("taken_at", None)
        for tag, name in ((offset_tag, source), (0x9010, "offset_time")):
            offset = _offset(reader, tag)
            if offset is not None:
                reader.facts |= {"utc_offset": offset, "utc_offset_source": name}
                reader.missing.pop("utc_offset", None)
                return
        return


def _date(text: str | None, fraction: str | None) -> tuple[str | None, str]:
    """Local time as ISO 8601, with the fraction as recorded."""
    if text is None or _BLANK_DATE.fullmatch(text):
        return None, "not_recorded"
    match = _DATE.match(text)
    if match is None:
        return None, "out_of_range"
    try:
        moment = datetime(*(int(part) for part in match.groups()))  # type: ignore[arg-type]  # six numbers, no zone
    except ValueError:
        return None, "out_of_range"
    digits = re.match(r"\d{1,9}", fraction or "")
    return moment.isoformat() + (f".{digits.group()}" if digits else ""), ""


def _offset(reader: _Reader, tag: int) -> str | None:
    text = reader.text(tag)
    if text == "Z":
        return "+00:00"
    match = _OFFSET.fullmatch(text or "")
    if match is None:
        if text and not _BLANK_DATE.fullmatch(text):
            reader.missing.setdefault("utc_offset", "out_of_range")
        return None
    sign, hours, minutes = match.groups()
    if int(minutes) > 59 or int(hours) * 60 + int(minutes) > _FURTHEST_OFFSET_MIN:
        reader.missing.setdefault("utc_offset", "out_of_range")
        return None
    return f"{sign}{hours}:{minutes}"


def _body_and_lens(reader: _Reader) -> None:
    for column, tag in (
        ("body_make", tags.MAKE),
        ("body_model", tags.MODEL),
        ("software", tags.SOFTWARE),
    ):
        text = reader.text(tag)
        if text:
            reader.facts[column] = text
    # BodySerialNumber, else CameraSerialNumber of DNG.
    if serial := serial_number(reader.text(0xA431)) or serial_number(reader.text(0xC62F)):
        reader.facts["body_serial"] = serial
    lens_name = reader.text(0xA434)
    if lens_name and not _NO_NAME.fullmatch(lens_name):
        reader.facts["lens_name"] = lens_name
    _lens_range(reader)


def _lens_range(reader: _Reader) -> None:
    """LensSpecification (or DNG LensInfo): an unknown part is 0/0 by the standard, 0/1 from some bodies."""
    specification = reader.tags.get(0xA432) or reader.tags.get(0xC630)
    if not isinstance(specification, list) or len(specification) < 4:
        return
    columns = ("lens_short_mm", "lens_long_mm", "lens_widest_at_short", "lens_widest_at_long")
    for column, part in zip(columns, specification, strict=False):
        value = as_number(part)
        if value:
            reader.keep(column, value, _FOCAL_MM if column.endswith("mm") else _F_NUMBERS)
    short, long = reader.facts.get("lens_short_mm"), reader.facts.get("lens_long_mm")
    if short and long and short > long:
        for column in columns:
            reader.facts.pop(column, None)
            reader.missing[column] = "out_of_range"


def _exposure(reader: _Reader) -> None:
    reader.keep_number("focal_length_mm", 0x920A, _FOCAL_MM)
    in_35mm = reader.integer(0xA405)
    if in_35mm:  # 0 is unknown
        reader.keep("focal_length_35mm_mm", float(in_35mm), _FOCAL_MM)
    if not reader.keep_number("f_number", 0x829D, _F_NUMBERS):
        reader.keep("f_number", _apex_f_number(reader, 0x9202), _F_NUMBERS)
    reader.keep("widest_f_number", _apex_f_number(reader, 0x9205), _F_NUMBERS)
    _iso(reader)
    if not reader.keep_number("exposure_time_s", 0x829A, _EXPOSURE_S):
        speed = first_number(reader.tags.get(0x9201))
        if speed is not None:
            reader.keep("exposure_time_s", 2.0**-speed if abs(speed) < 64 else 0.0, _EXPOSURE_S)
    reader.keep_number("exposure_bias_ev", 0x9204, _BIAS_EV)
    reader.keep_code("exposure_program", 0x8822, (0, 255))
    reader.keep_code("exposure_mode", 0xA402, (0, 255))
    flash = reader.integer(0x9209)
    if flash is not None:
        reader.facts["flash_fired"] = bool(flash & 1)


def _apex_f_number(reader: _Reader, tag: int) -> float | None:
    """Av = 2 log2 N. An Av of 0 or less is what bodies write for a lens that they do not know."""
    apex = first_number(reader.tags.get(tag))
    return None if apex is None or apex <= 0 else 2.0 ** (min(apex, 64.0) / 2)


def _iso(reader: _Reader) -> None:
    """PhotographicSensitivity; where that is at its end, the figure that SensitivityType names."""
    iso = first_number(reader.tags.get(0x8827))
    if iso and iso != _SATURATED_ISO:
        reader.keep("iso", float(iso), _ISO)
        return
    kind = reader.integer(0x8830)
    # SOS is 0x8831, REI 0x8832, ISOSpeed 0x8833; kinds 4 to 7 name combinations of them.
    named = {1: (0x8831,), 2: (0x8832,), 3: (0x8833,), 4: (0x8832, 0x8831), 5: (0x8831, 0x8833),
             6: (0x8832, 0x8833), 7: (0x8832, 0x8831, 0x8833)}  # fmt: skip
    for tag in named.get(kind or 0, (0x8832, 0x8831, 0x8833)):
        if (value := first_number(reader.tags.get(tag))) and reader.keep("iso", float(value), _ISO):
            return
    if iso is not None:
        reader.missing["iso"] = "out_of_range"


def _picture(reader: _Reader) -> None:
    turned = orientation(reader.tags)
    if turned is not None:
        reader.facts["orientation"] = turned
    for column, tag in (("recorded_width_px", 0xA002), ("recorded_height_px", 0xA003)):
        if reader.integer(tag):
            reader.keep_code(column, tag, _SIZE_PX)
    _pitch(reader)
    _subject(reader)
    rating = reader.integer(tags.RATING)
    if rating is not None:
        reader.keep("rating", rating, (0, 5))


def _pitch(reader: _Reader) -> None:
    resolution = first_number(reader.tags.get(0xA20E))
    unit = _UNIT_UM.get(reader.integer(0xA210) or 2)
    if resolution is None:
        return
    if unit is None or resolution <= 0:
        reader.missing["pixel_pitch_um"] = "out_of_range"
        return
    reader.keep("pixel_pitch_um", unit / resolution, _PITCH_UM)


def _subject(reader: _Reader) -> None:
    distance = reader.tags.get(0x9206)
    if not isinstance(distance, list) or not distance:
        return
    metres = as_number(distance[0])
    # exifread reduces quotients, so the numerator that means infinity is known again by usual denominators.
    if metres is not None and any(round(metres * below) == _INFINITE for below in (1, 10, 100, 1000)):
        reader.missing["focus_distance_m"] = "at_infinity"
    elif metres:  # 0 is unknown
        reader.keep("focus_distance_m", metres, _DISTANCE_M)


def orientation(blocks: Tags) -> int | None:
    """The orientation, 1 to 8."""
    number = first_number(blocks.main.get(tags.ORIENTATION))
    return int(number) if number is not None and number in range(1, 9) else None


def subject_area(block: Tags, width_px: int | None, height_px: int | None) -> FocusArea | None:
    """SubjectArea (or SubjectLocation) as a fraction of the picture as stored; None where it lies outside.

    Two values are a point, three a circle with its diameter, four a rectangle: the centre comes first.
    """
    values = block.get(0x9214) or block.get(0xA214)
    if not isinstance(values, list) or not width_px or not height_px or not 2 <= len(values) <= 4:
        return None
    numbers = [as_number(value) for value in values]
    if any(number is None or number < 0 for number in numbers):
        return None
    x, y, *extent = [number for number in numbers if number is not None]
    if not (0 < x < width_px and 0 < y < height_px):
        return None
    across, down = (extent[0], extent[-1]) if extent and min(extent) > 0 else (None, None)
    return FocusArea(
        x=x / width_px,
        y=y / height_px,
        width=min(across / width_px, 1.0) if across else None,
        height=min(down / height_px, 1.0) if down else None,
        used=True,
    )


def as_text(value: Values | None) -> str | None:
    """Text without its padding; None where nothing is left."""
    if isinstance(value, list):  # some write text as bytes
        value = bytes(byte for byte in value if isinstance(byte, int) and 0 <= byte < 256)
    if isinstance(value, bytes):
        value = value.split(b"\0", 1)[0].decode("utf-8", errors="replace")
    if not value:
        return None
    text = " ".join("".join(c if c.isprintable() else " " for c in value).split())
    return text or None


def as_number(value: float | Quotient) -> float | None:
    """A finite number; None for a quotient by zero."""
    if isinstance(value, Quotient):
        return value.numerator / value.denominator if value.denominator else None
    return value if math.isfinite(value) else None


def first_number(value: Values | None) -> float | None:
    """The first number of a tag's values."""
    return as_number(value[0]) if isinstance(value, list) and value else None
