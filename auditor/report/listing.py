"""Which frames the page lists, and what it says of each."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.report.text import frames, outcomes, values
from auditor.store import tables
from auditor.store.best_frames import best_hits
from auditor.store.logbook import Logbook

Row = dict[str, Any]

MOST_FRAMES = 2000
"""Of more frames the flagged and the best of their bursts come first; the tables beside the page have all."""
MOST_FLAGGED = 200
"""Of more flagged frames only so many are shown with their pictures."""
MOST_BEST = 60
"""Of more bursts the best frames of the first are shown with their focus area."""
LONGEST_NAME = 120

_PLACE = ("x", "y", "width", "height")

_PICK = """
SELECT i.frame_id, i.flags <> '[]' AS flagged,
       i.frame_id IN (SELECT value FROM json_each(:best)) AS best
FROM inferred AS i LEFT JOIN membership AS m USING (frame_id)
WHERE NOT i.excluded {of_trip}
ORDER BY flagged DESC, best DESC, i.taken_at, i.frame_id LIMIT :most
"""
_COUNT = """
SELECT count(*) AS frames, coalesce(sum(i.flags <> '[]'), 0) AS flagged,
       coalesce(sum(i.taken_at IS NULL), 0) AS without_time, min(i.taken_at) AS first_at,
       max(i.taken_at) AS last_at
FROM inferred AS i LEFT JOIN membership AS m USING (frame_id) WHERE NOT i.excluded {of_trip}
"""
_BURSTS = "SELECT burst_id, count(*) AS frames FROM membership WHERE burst_id IN ({marks}) GROUP BY 1"


@dataclass(frozen=True, slots=True)
class ShownFrames:
    """The frames of the page in order of time, and how many there are in all."""

    rows: list[Row]
    flagged: list[Row]
    best: list[Row]
    """The best frames of bursts of two frames or more."""
    frames_in_all: int
    flagged_in_all: int
    without_time: int
    first_at: str | None
    last_at: str | None


def shown_frames(
    logbook: Logbook, trip_id: int | None, folders: list[str], kit_numbers: dict[int, int]
) -> ShownFrames:
    """The frames that the page lists, of one trip or of all."""
    of_trip = "" if trip_id is None else "AND m.trip_id = :trip"
    best = set(best_hits(logbook, trip_id))
    parameters = {"trip": trip_id, "most": MOST_FRAMES, "best": json.dumps(sorted(best))}
    picked = logbook.query(_PICK.format(of_trip=of_trip), parameters)
    facts = tables.rows_of(logbook, [row["frame_id"] for row in picked])
    facts.sort(key=lambda row: (row["taken_at"] or "", row["frame_id"]))
    bursts = _burst_sizes(logbook, facts)
    rows = [_told(row, folders, kit_numbers, row["frame_id"] in best, bursts) for row in facts]
    (count,) = logbook.query(_COUNT.format(of_trip=of_trip), parameters)
    return ShownFrames(
        rows=rows,
        flagged=_with_measured_area(logbook, [row for row in rows if row["flags"]][:MOST_FLAGGED]),
        best=[row for row in rows if row["best"] and row["burst_frames"] > 1][:MOST_BEST],
        frames_in_all=count["frames"],
        flagged_in_all=count["flagged"],
        without_time=count["without_time"],
        first_at=count["first_at"],
        last_at=count["last_at"],
    )


def below(path: str | None, folders: list[str]) -> str:
    """A path as seen from its scanned folder: a page must not depend on the machine."""
    if path is None:
        return ""
    holding = [folder for folder in folders if Path(path).is_relative_to(folder)]
    if not holding:
        return Path(path).name
    return Path(path).relative_to(max(holding, key=len)).as_posix()


def _told(
    row: Row, folders: list[str], kit_numbers: dict[int, int], best: bool, bursts: dict[int, int]
) -> Row:
    """A frame in words, with the plain values that the page sorts and filters by."""
    taken_at = row["taken_at"]
    return {
        "frame_id": row["frame_id"],
        "file_path": row["path"],
        "path": values.shortened(below(row["path"], folders), LONGEST_NAME),
        "taken_at": values.NOT_KNOWN if taken_at is None else taken_at.replace("T", " ")[:19],
        "kit_id": row["kit_id"],
        "kit_number": kit_numbers.get(row["kit_id"], 0),
        "kit_name": values.shortened(row["kit_name"], LONGEST_NAME),
        "scene_id": row["scene_id"],
        "settings": frames.settings(row),
        "iso": row["iso"],
        "exposure_time_s": row["exposure_time_s"],
        "verdict": row["verdict"] or "unclear",
        "verdict_word": outcomes.verdict(row["verdict"]),
        "verdict_source": outcomes.verdict_source(row["verdict_source"]),
        "blur_urad": row["system_blur_urad"],
        "blur": frames.blur(row),
        "light": values.stops(row["light_value_ev"]),
        "flags": row["flags"],
        "flag_words": ", ".join(outcomes.flag_label(flag) for flag in row["flags"]),
        "reasons": [frames.flag_reason(flag, row) for flag in row["flags"]],
        "best": best,
        "burst_frames": bursts.get(row["burst_id"], 1),
        "rating": row["rating"],
        "area": _area(row),
        "area_is": "focus area",
    }


def _area(row: Row) -> tuple[float, float, float, float] | None:
    """Centre and size of the recorded focus area, as fractions of the picture; a point gets a size."""
    if row["af_x"] is None or row["af_y"] is None:
        return None
    return row["af_x"], row["af_y"], row["af_width"] or 0.04, row["af_height"] or 0.04


def _with_measured_area(logbook: Logbook, rows: list[Row]) -> list[Row]:
    """Where no focus area was recorded, the part that was measured stands for it."""
    without = tuple(row["frame_id"] for row in rows if row["area"] is None)
    marks = ", ".join("?" * len(without))
    found = logbook.query(f"SELECT frame_id, region FROM readings WHERE frame_id IN ({marks})", without)
    regions = {row["frame_id"]: json.loads(row["region"]) for row in found}
    return [
        row | {"area": tuple(region[name] for name in _PLACE), "area_is": "measured part"}
        if (region := regions.get(row["frame_id"]))
        else row
        for row in rows
    ]


def _burst_sizes(logbook: Logbook, rows: list[Row]) -> dict[int, int]:
    wanted = sorted({row["burst_id"] for row in rows if row["burst_id"] is not None})
    sizes: dict[int, int] = {}
    for first in range(0, len(wanted), 500):
        part = tuple(wanted[first : first + 500])
        found = logbook.query(_BURSTS.format(marks=", ".join("?" * len(part))), part)
        sizes |= {row["burst_id"]: row["frames"] for row in found}
    return sizes
