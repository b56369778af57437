"""One frame in words: its settings, its blur, and why it is flagged. Frames are rows of frame_facts."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from auditor.report.text import values
from auditor.report.text.outcomes import flag_label, flag_sentence
from auditor.words import CameraWord, FrameFlag

Row = Mapping[str, Any]


def settings(row: Row) -> str:
    """Focal length, f-number, exposure time and ISO of a frame, as they are written."""
    focal_mm = row["focal_length_mm"]
    return " ".join(
        (
            values.NOT_KNOWN if focal_mm is None else f"{focal_mm:.4g} mm",
            values.f_number(row["f_number"]),
            values.exposure_time(row["exposure_time_s"]),
            f"ISO {values.iso(row['iso'])}",
        )
    )


def blur(row: Row) -> str:
    """The system blur at the focus area, in pixels and as an angle."""
    angle, pixels = row["system_blur_urad"], row["system_blur_px"]
    if pixels is None:
        return values.NOT_KNOWN
    return f"{pixels:.1f} px" if angle is None else f"{pixels:.1f} px, {angle:.1f} microradians"


def flag_words(flag: str, row: Row) -> str:
    """A flag of a frame in a few words; where camera and pixels disagree, which of them said what."""
    if flag != FrameFlag.WORDS_DISAGREE:
        return flag_label(flag)
    if row["camera_word"] == CameraWord.CONFIRMED:
        return "camera said sharp, pixels say no"
    return "camera said not sharp, pixels say sharp"


def flag_reason(flag: str, row: Row) -> str:
    """Why a frame has a flag, in words and numbers."""
    what = flag_sentence(flag)
    if flag == "iso_pushed":
        return (
            f"{what}: ISO {values.iso(row['iso'])}; bare, up to ISO "
            f"{values.typical_iso(row['iso_without_converter'])} "
            f"({values.stops_counted(row['forced_push_ev'])})"
        )
    if flag == "converter_unknown":
        focal_mm = row["focal_length_recorded_mm"]
        return (
            f"{what}: {values.f_number(row['f_number_recorded'])} at {values.whole(focal_mm)} mm on "
            f"{values.plain(row['lens_name'] or 'an unknown lens')}"
        )
    if flag == FrameFlag.WORDS_DISAGREE:
        told = flag_words(flag, row)
        return f"{told[0].upper()}{told[1:]}"
    return what
