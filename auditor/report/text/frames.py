"""One frame in words: its settings, its blur, and why it is flagged."""

from __future__ import annotations

from auditor.report.text import values
from auditor.report.text.outcomes import flag_label, flag_sentence
from auditor.store.frame_facts import FrameFacts, FrameLine
from auditor.words import CameraWord, FrameFlag


def settings(frame: FrameFacts) -> str:
    """Focal length, f-number, exposure time and ISO of a frame, as they are written."""
    focal_mm = frame.focal_length_mm
    return " ".join(
        (
            values.NOT_KNOWN if focal_mm is None else f"{focal_mm:.4g} mm",
            values.f_number(frame.f_number),
            values.exposure_time(frame.exposure_time_s),
            f"ISO {values.iso(frame.iso)}",
        )
    )


def blur(frame: FrameFacts) -> str:
    """The system blur at the focus area, in pixels and as an angle."""
    angle, pixels = frame.system_blur_urad, frame.system_blur_px
    if pixels is None:
        return "no blur read"
    of_angle = "" if angle is None else f", {angle:.1f} microradians"
    return f"system blur {pixels:.1f} px{of_angle}"


def light(frame: FrameFacts) -> str:
    """The light that a frame was taken in."""
    light_ev = frame.light_value_ev
    return "light not known" if light_ev is None else f"light {values.stops(light_ev)} EV"


def flag_words(flag: str, frame: FrameFacts | FrameLine) -> str:
    """A flag of a frame in a few words; where camera and pixels disagree, which of them said what."""
    if flag != FrameFlag.WORDS_DISAGREE:
        return flag_label(flag)
    if frame.camera_word == CameraWord.CONFIRMED:
        return "camera said sharp, pixels say no"
    return "camera said not sharp, pixels say sharp"


def flag_reason(flag: str, frame: FrameFacts) -> str:
    """Why a frame has a flag, in words and numbers."""
    what = flag_sentence(flag)
    if flag == "iso_pushed":
        return (
            f"{what}: ISO {values.iso(frame.iso)}; bare, up to ISO "
            f"{values.typical_iso(frame.iso_without_converter)} "
            f"({values.stops_counted(frame.forced_push_ev or 0.0)})"
        )
    if flag == "converter_unknown":
        focal_mm = frame.focal_length_recorded_mm
        return (
            f"{what}: {values.f_number(frame.f_number_recorded)} at {values.whole(focal_mm)} mm on "
            f"{values.plain(frame.lens_name or 'an unknown lens')}"
        )
    if flag == FrameFlag.WORDS_DISAGREE:
        words = flag_words(flag, frame)
        return f"{words[0].upper()}{words[1:]}"
    return what
