"""One file: what it tells by itself, and what a logbook knows of it besides."""

from __future__ import annotations

from dataclasses import asdict
from pathlib import Path
from typing import Any

from auditor.errors import UnreadableFileError
from auditor.file_names import as_text
from auditor.frames.facts import frame_facts
from auditor.frames.kit_names import identity, names_of, short_names
from auditor.frames.verdicts import criterion_px
from auditor.readers.frame import found_file, read_file
from auditor.records import REASONED, CriterionFacts, KnownKit
from auditor.store import readings, tables
from auditor.store.derived import kits_in_use
from auditor.store.logbook import Logbook


def inspect_file(path: Path) -> dict[str, Any]:
    """The columns of frame_facts that need no logbook, and `path`; `error` and `reason` when unreadable."""
    try:
        recorded = read_file(found_file(path)).recorded
    except UnreadableFileError as error:
        return {"path": as_text(path), "error": type(error).__name__, "reason": error.reason}
    kit, facts = frame_facts(recorded)
    as_recorded = {name: getattr(recorded, name) for name in REASONED} | {
        "utc_offset_source": recorded.utc_offset_source
    }
    row: dict[str, Any] = {"path": as_text(path)} | as_recorded | asdict(facts)
    row["flags"] = list(facts.flags)
    row["keywords"] = list(recorded.keywords) or None
    only = KnownKit(kit_id=0, kit_name="", **asdict(identity(recorded, kit)))
    row["kit_name"] = names_of([only])[0]
    row["focal_length_recorded_mm"] = recorded.focal_length_mm
    row["f_number_recorded"] = recorded.f_number
    return row


def known_of_file(logbook: Logbook, path: Path, *, crop: float = 1.0) -> dict[str, Any] | None:
    """What a logbook knows of the frame that a file belongs to; None for a file that was not scanned.

    Parameters
    ----------
    crop
        The crop that the photographer means to make: it sets the limit of a hit.

    Returns
    -------
    A row of frame_facts, with kit_short_name; trip_name; blur_low_px and blur_high_px, the ends of the
    blur's interval, px; limit_px, the largest blur that is a hit, px of the picture that was measured;
    files, the paths of all its files; inspected_path; not_decoded, why its picture could not be decoded.
    """
    real_path = path.resolve()
    frame_id = tables.frame_of(logbook, real_path)
    if frame_id is None:
        return None
    (row,) = tables.rows_of(logbook, [frame_id])
    facts = CriterionFacts(**{name: row[name] for name in CriterionFacts._fields})
    reading = readings.of_frames(logbook, [frame_id]).get(frame_id)
    trip = next((trip for trip in tables.trips(logbook) if trip.trip_id == row["trip_id"]), None)
    files = [str(file) for file in tables.files_of(logbook, [frame_id])[0]]
    reasons = [bad.reason for bad in tables.unreadable(logbook) if bad.path in files]
    return row | {
        "kit_short_name": short_names(kits_in_use(logbook))[row["kit_id"]],
        "trip_name": trip and trip.name,
        "blur_low_px": reading and reading.sigma_low_px,
        "blur_high_px": reading and reading.sigma_high_px,
        "limit_px": criterion_px(reading, facts, crop),
        "files": files,
        "inspected_path": str(real_path),
        "not_decoded": reasons[0] if reasons else None,
    }
