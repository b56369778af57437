"""One file for a person: what was read, what was measured, and what was decided and why."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator
from typing import Any

from auditor.report.text import outcomes
from auditor.report.text import values as words
from auditor.report.text.frames import settings
from auditor.words import (
    CameraWord,
    ConverterSource,
    FrameFlag,
    MissingReason,
    PictureSource,
    ReadingFlag,
    VerdictSource,
)

Row = dict[str, Any]
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


def inspected_text(document: Row, *, width: int) -> str:
    """What `inspect_file` returned, with `in_logbook` where the logbook knows the file, as text."""
    known = document.get("in_logbook")
    lines = [words.plain(document["path"])]
    if "error" in document:
        lines.append(_line("cannot be read", document["reason"], width))
    else:
        lines += ["Read", *(_line(label, text, width) for label, text in _read(known or document))]
    if known is not None:
        lines += ["Measured", *(_line(label, text, width) for label, text in _measured(known))]
        lines += ["Decided", *(_line(label, text, width) for label, text in _decided(known))]
    missing = (known or document).get("missing", {})
    if missing:
        lines += ["Not known", *(_line("", text, width, indent=4) for text in _not_known(missing))]
    return "\n".join(lines)


def why(row: Row) -> str:
    """A frame's verdict with its reason in words and numbers."""
    camera = CAMERA_SAID.get(row["camera_word"], "")
    limit, blur = row["limit_px"], row["blur_px"]
    source = row["verdict_source"]
    if source == VerdictSource.CAMERA_WORD:
        return f"{row['verdict']}: {camera}; {_pixels_silent(row)}"
    if source == VerdictSource.NOTHING_RECORDED or blur is None or limit is None:
        return "; ".join(part for part in (f"{row['verdict']}: {_pixels_silent(row)}", camera) if part)
    told = f"blur {blur:.1f} px at the focus area, limit {limit:.1f}"
    if source == VerdictSource.SCENE:
        side = "sharper than a sure hit" if row["verdict"] == "hit" else "more blurred than a sure miss"
        told += f": too near to decide alone, but {side} of its scene"
    elif row["blur_kind"] == "elsewhere":
        told = f"another part of the picture is clearly sharper than the focus area ({told})"
    elif row["verdict"] == "unclear":
        told += f", may be {row['blur_low_px']:.1f} to {row['blur_high_px']:.1f}"
        reason = outcomes.why_unclear(row["verdict"], row["missing"])
        told += f"; {reason}" if reason else ""
    return "; ".join(part for part in (f"{row['verdict']}: {told}", camera) if part)


def _pixels_silent(row: Row) -> str:
    reason = row["missing"].get("verdict") or row["missing"].get("blur_px")
    if row["measured_on"] is None:
        return "the picture cannot be decoded" if row["not_decoded"] else "no pixels were measured yet"
    if reason is None and row["limit_px"] is None:
        reason = row["missing"].get("blur_um", MissingReason.NEEDS_SENSOR)
    if reason is None:
        told = [ReadingFlag(flag).description for flag in row["reading_flags"] or ()]
        return f"the pixels do not tell ({'; '.join(told) or 'nothing to go by'})"
    return f"the pixels do not tell ({MissingReason(reason).description})"


def _read(row: Row) -> Iterator[tuple[str, str]]:
    if row["taken_at"]:
        zone = f" (UTC{row['utc_offset']})" if row["utc_offset"] else ""
        yield "taken", row["taken_at"].replace("T", " ") + zone
    body = row["body_model"] or "unknown"
    yield "body", body + (f", serial {row['body_serial']}" if row["body_serial"] else "")
    yield "lens", row["lens_name"] or "unknown"
    yield "converter", _converter(row)
    yield "exposure", settings(row) + _exposure_notes(row)
    if row["light_value_ev"] is not None:
        yield "light", f"EV {row['light_value_ev']:.1f} at ISO 100"
    if row["forced_push_ev"]:
        bare = row["iso_without_converter"]
        less = "" if bare is None else f"; without it up to ISO {words.whole(bare)}"
        yield "cost in light", f"the converter forced {words.stops_counted(row['forced_push_ev'])}{less}"
    yield from _picture(row)
    modes = [row[name] for name in ("focus_mode", "area_mode", "drive_mode") if row[name]]
    if row["focus_distance_m"] is not None:
        modes.append(f"focused at {row['focus_distance_m']:.3g} m")
    if modes:
        yield "focus", ", ".join(modes)
    if row["af_x"] is not None:
        size = ""
        if row["af_width"] is not None and row["af_height"] is not None:
            size = f", {100 * row['af_width']:.0f} x {100 * row['af_height']:.0f} % of it"
        across, down = 100 * row["af_x"], 100 * row["af_y"]
        yield "focus area", f"{across:.0f} % from the left of the picture, {down:.0f} % from its top{size}"
    if row["camera_word"]:
        yield "camera's word", CameraWord(row["camera_word"]).description
    if row["rating"] is not None:
        yield "your rating", str(row["rating"])
    if row["keywords"]:
        yield "keywords", ", ".join(row["keywords"])


def _converter(row: Row) -> str:
    source = ConverterSource(row["converter_source"])
    if row["converter_factor"] is None:
        reason = row["missing"].get("converter_factor")
        return f"unknown: {MissingReason(reason).description}" if reason else "unknown"
    if row["converter_factor"] == 1:
        return "none" if source is ConverterSource.NONE else f"none: {source.description}"
    return f"{row['converter_factor']:g}x: {source.description}"


def _exposure_notes(row: Row) -> str:
    notes = []
    if row["auto_iso"]:
        notes.append("Auto ISO")
    if row["exposure_bias_ev"]:
        notes.append(f"exposure bias {row['exposure_bias_ev']:+.1f}")
    if row["flash_fired"]:
        notes.append("flash")
    return f" ({', '.join(notes)})" if notes else ""


def _picture(row: Row) -> Iterator[tuple[str, str]]:
    if row["width_px"] and row["height_px"]:
        pixel = "" if row["pixel_pitch_um"] is None else f", {row['pixel_pitch_um']:.2f} um a pixel"
        yield "picture", f"{row['width_px']} x {row['height_px']} px{pixel}"
    if row["sensor_diagonal_mm"] is not None:
        yield "sensor", f"{row['sensor_diagonal_mm']:.1f} mm diagonal, crop factor {row['crop_factor']:.2g}"


def _measured(row: Row) -> Iterator[tuple[str, str]]:
    if row["measured_on"] is None:
        reason = row["not_decoded"]
        yield "", f"the picture cannot be decoded: {reason}" if reason else "not yet: auditor measure"
        return
    yield "from", PictureSource(row["measured_on"]).description
    if row["blur_px"] is not None:
        told = (
            f"{row['blur_px']:.1f} px (sigma), between {row['blur_low_px']:.1f} and {row['blur_high_px']:.1f}"
        )
        yield "blur", told
        whole = row["system_blur_urad"]
        if whole is not None:
            yield (
                "system blur",
                f"{row['system_blur_px']:.1f} px with the camera's own, {whole:.1f} microradians",
            )
    if row["blur_kind"]:
        kind = str(row["blur_kind"])
        yield "looks", {"elsewhere": "sharper elsewhere", "undetermined": "undetermined"}.get(kind, kind)
    for flag in row["reading_flags"] or ():
        yield "note", ReadingFlag(flag).description


def _decided(row: Row) -> Iterator[tuple[str, str]]:
    yield "focus", why(row)
    on_subject = row["verdict_on_subject"]
    if on_subject and on_subject != row["verdict"]:
        yield "comparing kits", f"{on_subject}: by one angle for this lens with and without converter"
    for flag in row["flags"]:
        yield "flag", f"{flag}: {FrameFlag(flag).description}"
    yield "kit", f"{row['kit_id']}: {row['kit_short_name']} ({row['kit_name']})"
    if row["trip_id"] is not None:
        yield "trip", f"{row['trip_id']}: {row['trip_name']}; scene {row['scene_id']}"
    others = [path for path in row["files"] if path != row["inspected_path"]]
    for path in others:
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
    told = words.plain(text)
    return textwrap.fill(told, max(width, 40), initial_indent=start, subsequent_indent=" " * indent)
