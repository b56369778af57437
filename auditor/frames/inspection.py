"""One file by itself: what a logbook would say of it, without a logbook."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from auditor.errors import UnreadableFileError
from auditor.frames.facts import frame_facts
from auditor.frames.kit_names import names_of
from auditor.readers.frame import found_file, read_file
from auditor.records import REASONED


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
    as_recorded = {name: getattr(recorded, name) for name in REASONED} | {
        "utc_offset_source": recorded.utc_offset_source
    }
    row = {"path": str(path)} | as_recorded | facts
    row["keywords"] = list(recorded.keywords) or None
    row["kit_name"] = names_of([kit_row])[0]
    row["focal_length_recorded_mm"] = recorded.focal_length_mm
    row["f_number_recorded"] = recorded.f_number
    return row
