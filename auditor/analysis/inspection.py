"""One file by itself: what a logbook would say of it, without a logbook."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from auditor.analysis.facts import frame_facts
from auditor.analysis.kit_names import names_of
from auditor.errors import UnreadableFileError
from auditor.readers.frame import found_file, read_file

_RECORDED = (
    "utc_offset",
    "utc_offset_source",
    "body_make",
    "body_model",
    "body_serial",
    "iso",
    "auto_iso",
    "exposure_time_s",
    "exposure_bias_ev",
    "flash_fired",
    "width_px",
    "height_px",
    "focus_mode",
    "area_mode",
    "drive_mode",
    "camera_word",
    "af_x",
    "af_y",
    "af_width",
    "af_height",
    "focus_distance_m",
    "rating",
    "keywords",
)


def inspect_file(path: Path) -> dict[str, Any]:
    """The columns of frame_facts that need no logbook, and `path`; `error` and `reason` when unreadable."""
    try:
        recorded = read_file(found_file(path)).recorded
    except UnreadableFileError as error:
        return {"path": str(path), "error": type(error).__name__, "reason": error.reason}
    kit, facts = frame_facts(recorded)
    kit_row = {
        "kit_id": 0,
        "body_make": recorded.body_make,
        "body_model": recorded.body_model,
        "body_serial": recorded.body_serial,
        "lens_name": kit.lens.name,
        "converter_factor": kit.converter_factor,
    }
    row = {"path": str(path)} | facts | {name: getattr(recorded, name) for name in _RECORDED}
    row["keywords"] = list(recorded.keywords) or None
    row["kit_name"] = names_of([kit_row])[0]
    row["focal_length_recorded_mm"] = recorded.focal_length_mm
    row["f_number_recorded"] = recorded.f_number
    return row
