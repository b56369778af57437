"""One file for a person: what was read, what was measured, and what was decided and why."""

from __future__ import annotations

from collections.abc import Iterator

from auditor.frames.inspection import Inspection, KnownFrame
from auditor.report.text import values as words
from auditor.report.text.frames import settings
from auditor.report.text.outcomes import why_unclear
from auditor.store.frame_facts import FrameFacts
from auditor.words import (
    CameraWord,
    ConverterSource,
    FrameFlag,
    MissingReason,
    PictureSource,
    ReadingFlag,
    VerdictSource,
)

INDENT = 18
"""Columns that the labels take."""
CAMERA_SAID = {
    CameraWord.CONFIRMED: "the camera said confirmed",
    CameraWord.NOT_CONFIRMED: "the camera said not confirmed",
    CameraWord.MANUAL: "it was focused by hand",
    CameraWord.SILENT: "the camera said nothing",
}
LABELS = {
    "taken_at": "time", "utc_offset": "time zone", "utc_offset_source": "time zone", "body_make": "maker",
    "body_model": "body", "body_serial": "serial", "lens_name": "lens", "focal_length_mm": "focal length",
    "focal_length_recorded_mm": "focal length", "f_number": "f-number", "f_number_recorded": "f-number",
    "iso": "ISO", "auto_iso": "Auto ISO", "exposure_time_s": "shutter", "exposure_bias_ev": "exposure bias",
    "flash_fired": "flash", "settings_ev": "exposure", "light_value_ev": "light",
    "converter_factor": "converter", "lens_widest_f_number": "widest f-number", "crop_factor": "sensor",
    "sensor_diagonal_mm": "sensor", "pixel_pitch_um": "pixel size", "width_px": "width",
    "height_px": "height", "focus_mode": "focus mode", "area_mode": "area mode", "drive_mode": "drive",
    "camera_word": "the camera's word", "af_x": "focus area", "af_y": "focus area",
    "af_width": "size of the focus area", "af_height": "size of the focus area",
    "focus_distance_m": "distance", "rating": "rating", "keywords": "keywords", "verdict": "verdict",
    "verdict_on_subject": "verdict for comparing kits", "forced_push_ev": "forced push",
    "forced_push_low_ev": "forced push", "chosen_ev": "stopped down",
    "iso_without_converter": "ISO without converter", "trip_id": "trip", "encounter_id": "encounter",
    "scene_id": "scene", "burst_id": "burst", "measured_on": "blur", "reading_version": "blur",
    "blur_px": "blur", "blur_um": "blur on the sensor", "blur_urad": "blur as an angle",
    "system_blur_px": "blur", "system_blur_urad": "blur as an angle", "blur_kind": "blur",
    "reading_flags": "blur", "camera_blur_px": "blur",
}  # fmt: skip
"""What columns of frame_facts are called in a sentence."""


def inspected_text(file: Inspection, *, width: int) -> str:
    """What a file says, and what the logbook knows about it, as text.

    Parameters
    ----------
    width
        Columns of the terminal.
    """
    known = file.known
    facts = known.facts if known is not None else file.facts
    lines = [words.plain(file.path)]
    if file.error is not None:
        lines.append(_line("cannot be read", file.error.reason, width))
    elif facts is not None:
        lines += ["Read", *(_line(label, text, width) for label, text in _read(facts, file))]
    if known is not None:
        lines += ["Measured", *(_line(label, text, width) for label, text in _measured(known))]
        lines += ["Decided", *(_line(label, text, width) for label, text in _decided(known))]
    if facts is not None and facts.missing:
        lines += ["Not known", *(_line("", text, width, indent=4) for text in _not_known(facts.missing))]
    return "\n".join(lines)


def why(known: KnownFrame) -> str:
    """A frame's verdict with its reason in words and numbers."""
    camera = CAMERA_SAID[CameraWord(known.facts.camera_word)] if known.facts.camera_word else ""
    limit, blur = known.limit_px, known.facts.blur_px
    source = known.facts.verdict_source
    if source == VerdictSource.CAMERA_WORD:
        return f"{known.facts.verdict}: {camera}; {_pixels_silent(known)}"
    if source == VerdictSource.NOTHING_RECORDED or blur is None or limit is None:
        return "; ".join(part for part in (f"{known.facts.verdict}: {_pixels_silent(known)}", camera) if part)
    sentence = f"blur {blur:.1f} px at the focus area, limit {limit:.1f}"
    if source == VerdictSource.SCENE:
        side = "sharper than a sure hit" if known.facts.verdict == "hit" else "more blurred than a sure miss"
        sentence += f": too near to decide alone, but {side} of its scene"
    elif known.facts.blur_kind == "elsewhere":
        sentence = f"another part of the picture is clearly sharper than the focus area ({sentence})"
    elif known.facts.verdict == "unclear":
        sentence += f", may be {known.blur_low_px:.1f} to {known.blur_high_px:.1f}"
        reason = why_unclear(known.facts.verdict, known.facts.missing)
        sentence += f"; {reason}" if reason else ""
    return "; ".join(part for part in (f"{known.facts.verdict}: {sentence}", camera) if part)


def _pixels_silent(known: KnownFrame) -> str:
    reason = known.facts.missing.get("verdict") or known.facts.missing.get("blur_px")
    if known.facts.measured_on is None:
        return "the picture cannot be decoded" if known.not_decoded else "no pixels were measured yet"
    if reason is None and known.limit_px is None:
        reason = known.facts.missing.get("blur_um", MissingReason.NEEDS_SENSOR)
    if reason is None:
        flag_texts = [ReadingFlag(flag).description for flag in known.facts.reading_flags or ()]
        return f"the pixels cannot tell ({'; '.join(flag_texts) or 'nothing to go by'})"
    return f"the pixels cannot tell ({MissingReason(reason).description})"


def _read(frame: FrameFacts, file: Inspection) -> Iterator[tuple[str, str]]:
    """What is known of a frame; of its files' pictures, that of the one that was looked into."""
    if frame.taken_at:
        zone = f" (UTC{frame.utc_offset})" if frame.utc_offset else ""
        yield "taken", frame.taken_at.replace("T", " ") + zone
    body = frame.body_model or "unknown"
    yield "body", body + (f", serial {frame.body_serial}" if frame.body_serial else "")
    yield "lens", frame.lens_name or "unknown"
    yield "converter", _converter(frame)
    yield "exposure", settings(frame) + _exposure_notes(frame)
    if frame.light_value_ev is not None:
        yield "light", f"EV {frame.light_value_ev:.1f} at ISO 100"
    if frame.forced_push_ev:
        bare = frame.iso_without_converter
        less = "" if bare is None else f"; without it up to ISO {words.whole(bare)}"
        yield "cost in light", f"the converter forced {words.stops_counted(frame.forced_push_ev)}{less}"
    yield from _picture(frame, file)
    yield from _focus(frame)
    if frame.rating is not None:
        yield "your rating", str(frame.rating)
    if frame.keywords:
        yield "keywords", ", ".join(frame.keywords)


def _focus(frame: FrameFacts) -> Iterator[tuple[str, str]]:
    """How it was focused, where, and what the camera said of it."""
    modes = [mode for mode in (frame.focus_mode, frame.area_mode, frame.drive_mode) if mode]
    if frame.focus_distance_m is not None:
        modes.append(f"focused at {frame.focus_distance_m:.3g} m")
    if modes:
        yield "focus", ", ".join(modes)
    if frame.af_x is not None and frame.af_y is not None:
        size = ""
        if frame.af_width is not None and frame.af_height is not None:
            size = f", {100 * frame.af_width:.0f} x {100 * frame.af_height:.0f} % of it"
        across, down = 100 * frame.af_x, 100 * frame.af_y
        yield "focus area", f"{across:.0f} % from the left of the picture, {down:.0f} % from its top{size}"
    if frame.camera_word:
        yield "camera's word", CameraWord(frame.camera_word).description


def _converter(frame: FrameFacts) -> str:
    source = ConverterSource(frame.converter_source or ConverterSource.UNKNOWN)
    if frame.converter_factor is None:
        reason = frame.missing.get("converter_factor")
        return f"unknown: {MissingReason(reason).description}" if reason else "unknown"
    if frame.converter_factor == 1:
        return "none" if source is ConverterSource.NONE else f"none: {source.description}"
    return f"{frame.converter_factor:g}x: {source.description}"


def _exposure_notes(frame: FrameFacts) -> str:
    notes = []
    if frame.auto_iso:
        notes.append("Auto ISO")
    if frame.exposure_bias_ev:
        notes.append(f"exposure bias {frame.exposure_bias_ev:+.1f}")
    if frame.flash_fired:
        notes.append("flash")
    return f" ({', '.join(notes)})" if notes else ""


def _picture(frame: FrameFacts, file: Inspection) -> Iterator[tuple[str, str]]:
    if size := _size(frame):
        own = "" if file.facts is None else _size(file.facts)
        pixel = "" if frame.pixel_pitch_um is None else f", {frame.pixel_pitch_um:.2f} um a pixel"
        if own not in ("", size):  # a copy of another size, or the JPEG beside a raw
            yield "picture", f"{own}; its frame as it was taken: {size}{pixel}"
        elif file.stated_px is not None:
            yield "picture", "{}; its metadata says {} x {} px{}".format(size, *file.stated_px, pixel)
        else:
            yield "picture", f"{size}{pixel}"
    if frame.sensor_diagonal_mm is not None:
        yield "sensor", f"{frame.sensor_diagonal_mm:.1f} mm diagonal, crop factor {frame.crop_factor:.2g}"


def _size(frame: FrameFacts) -> str:
    return f"{frame.width_px} x {frame.height_px} px" if frame.width_px and frame.height_px else ""


def _measured(known: KnownFrame) -> Iterator[tuple[str, str]]:
    if known.facts.measured_on is None:
        reason = known.not_decoded
        yield "", f"not possible: {reason}" if reason else "not yet: auditor measure"
        return
    yield "from", PictureSource(known.facts.measured_on).description
    if known.facts.blur_px is not None:
        ends = f"between {known.blur_low_px:.1f} and {known.blur_high_px:.1f}"
        yield "blur", f"{known.facts.blur_px:.1f} px (sigma), {ends}"
        whole = known.facts.system_blur_urad
        if whole is not None:
            yield (
                "system blur",
                f"{known.facts.system_blur_px:.1f} px with the camera's own, {whole:.1f} microradians",
            )
    if known.facts.blur_kind:
        kind = str(known.facts.blur_kind)
        yield "looks", "sharper elsewhere" if kind == "elsewhere" else kind
    for flag in known.facts.reading_flags or ():
        yield "note", ReadingFlag(flag).description


def _decided(known: KnownFrame) -> Iterator[tuple[str, str]]:
    yield "focus", why(known)
    on_subject = known.facts.verdict_on_subject
    if on_subject and on_subject != known.facts.verdict:
        yield "comparing kits", f"{on_subject}: by one angle for this lens with and without converter"
    for flag in known.facts.flags:
        yield "flag", f"{flag}: {FrameFlag(flag).description}"
    yield "kit", f"{known.facts.kit_id}: {known.kit_short_name} ({known.facts.kit_name})"
    if known.facts.trip_id is not None:
        yield "trip", f"{known.facts.trip_id}: {known.trip_name}; scene {known.facts.scene_id}"
    for path in known.files:
        if path != known.inspected_path:
            yield "other file", path


def _not_known(missing: dict[str, str]) -> Iterator[str]:
    """One line a reason, with what it keeps from being known."""
    by_reason: dict[str, list[str]] = {}
    for column, reason in missing.items():
        label = LABELS.get(column, column.replace("_", " "))
        labels = by_reason.setdefault(reason, [])
        if label not in labels:
            labels.append(label)
    for reason, labels in by_reason.items():
        yield f"{', '.join(labels)}: {MissingReason(reason).description}"


def _line(label: str, text: str, width: int, *, indent: int = INDENT) -> str:
    start = f"  {label}".ljust(indent) if label else "  "
    plain_text = words.plain(text)
    return "\n".join(words.wrapped(plain_text, max(width, 40), first=start, then=" " * indent))
