"""Which frames the page lists, and what it says of each."""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path

from auditor.report.svg import Look
from auditor.report.text import frames, outcomes, values
from auditor.store import listed_frames
from auditor.store.best_frames import best_hits
from auditor.store.frame_facts import FrameFacts, frames_by_id
from auditor.store.logbook import Logbook

MOST_FRAMES = 2000
"""Of more frames the flagged and the best of their bursts come first; the tables beside the page have all."""
MOST_FLAGGED = 150
"""Of more flagged frames only so many are shown with their pictures."""
MOST_BEST = 60
"""Of more bursts the sharpest are shown with their focus area."""
LONGEST_NAME = 120


@dataclass(frozen=True, slots=True, kw_only=True)
class ListedFrame:
    """A frame in words, with the plain values that the page sorts and filters by."""

    frame_id: int
    trip_id: int | None
    at: str
    """When it was taken, as ISO 8601 text to sort by; empty where it is not known."""
    file_path: str | None
    path: str
    """As seen from its scanned folder, shortened."""
    taken_at: str
    """For reading: the day and the time of day, or that it is not known."""
    kit_id: int
    kit_name: str
    kit_look: Look
    scene_id: int | None
    settings: str
    iso: float | None
    exposure_time_s: float | None
    verdict: str
    """hit, miss or unclear, which stands for none as well."""
    verdict_word: str
    why_unclear: str | None
    verdict_source: str
    blur_urad: float | None
    """The system blur; `blur` says it in words."""
    blur: str
    light: str
    """EV in words."""
    flags: list[str]
    flag_words: str
    first_flag: str
    """In words; empty where there is none."""
    reasons: list[str]
    """Why it is flagged, a sentence a flag; what `why_unclear` says is not said again."""
    best: bool
    """The sharpest frame in focus of its burst."""
    burst_frames: int
    """Frames of its burst, itself among them."""
    rating: int | None
    """The photographer's own."""
    area: tuple[float, float, float, float] | None
    """Centre across and down, width and height, as fractions of the picture."""
    area_is: str
    """What the area is: where focus lay, or what was measured."""


@dataclass(frozen=True, slots=True)
class ShownFrames:
    """The frames of the page, and how many in all."""

    rows: list[ListedFrame]
    """The newest trip first, and each in order of time."""
    flagged: list[ListedFrame]
    """The newest trip first, and of each the most blurred."""
    best: list[ListedFrame]
    """The best frames of bursts of two frames or more: the newest trip first, of each the sharpest."""
    frames_in_all: int
    flagged_in_all: int
    without_time: int
    first_at: str | None
    last_at: str | None


def shown_frames(
    logbook: Logbook,
    trip_id: int | None,
    folders: list[str],
    kit_looks: dict[int, Look],
    kit_names: dict[int, str],
) -> ShownFrames:
    """The frames that the page lists, of one trip or of all.

    Parameters
    ----------
    folders
        The folders that were scanned: paths are shown as they lie below them.
    kit_looks, kit_names
        How each kit is drawn, and its short name, by kit_id.
    """
    best = set(best_hits(logbook, trip_id))
    order = listed_frames.picked(logbook, trip_id, best=best, most=MOST_FRAMES)
    facts = {frame.frame_id: frame for frame in frames_by_id(logbook, order)}
    bursts = listed_frames.burst_sizes(
        logbook, {frame.burst_id for frame in facts.values() if frame.burst_id is not None}
    )
    rows = [
        _listed(facts[frame_id], folders, kit_looks, kit_names, frame_id in best, bursts)
        for frame_id in order
        if frame_id in facts
    ]
    flagged = [row for row in rows if row.flags][:MOST_FLAGGED]
    newest = _newest_first(rows)
    best_rows = [row for row in rows if row.best and row.burst_frames > 1]
    best_rows.sort(key=lambda row: (newest[row.trip_id], row.blur_urad or 0.0))
    count = listed_frames.counts(logbook, trip_id)
    return ShownFrames(
        rows=_in_order(rows, newest),
        flagged=_with_measured_area(logbook, sorted(flagged, key=lambda row: _worst_first(row, newest))),
        best=best_rows[:MOST_BEST],
        frames_in_all=count.frames,
        flagged_in_all=count.flagged,
        without_time=count.without_time,
        first_at=count.first_at,
        last_at=count.last_at,
    )


def _newest_first(rows: list[ListedFrame]) -> dict[int | None, int]:
    """The place of each trip, the newest at 0; frames without a time come last."""
    last_at: dict[int | None, str] = {}
    for row in rows:
        last_at[row.trip_id] = max(last_at.get(row.trip_id, ""), row.at)
    ordered = sorted(last_at, key=lambda trip_id: last_at[trip_id], reverse=True)
    return {trip_id: place for place, trip_id in enumerate(ordered)}


def _worst_first(row: ListedFrame, newest: dict[int | None, int]) -> tuple[int, bool, float, str, int]:
    """The newest trip first, and of each the most blurred; what has no reading comes last."""
    blur = row.blur_urad
    return newest[row.trip_id], blur is None, -(blur or 0.0), row.at, row.frame_id


def _in_order(rows: list[ListedFrame], newest: dict[int | None, int]) -> list[ListedFrame]:
    """The newest trip first, and each trip in the order of time."""
    return sorted(rows, key=lambda row: (newest[row.trip_id], row.at, row.frame_id))


def below(path: str | None, folders: list[str]) -> str:
    """A path as seen from its scanned folder: a page must not depend on the machine."""
    if path is None:
        return ""
    holding = [folder for folder in folders if Path(path).is_relative_to(folder)]
    if not holding:
        return Path(path).name
    return Path(path).relative_to(max(holding, key=len)).as_posix()


def _listed(
    frame: FrameFacts,
    folders: list[str],
    kit_looks: dict[int, Look],
    kit_names: dict[int, str],
    best: bool,
    bursts: dict[int, int],
) -> ListedFrame:
    taken_at = frame.taken_at
    unclear = outcomes.why_unclear(frame.verdict, frame.missing)
    return ListedFrame(
        frame_id=frame.frame_id,
        trip_id=frame.trip_id,
        at=taken_at or "",
        file_path=frame.path,
        path=values.shortened(below(frame.path, folders), LONGEST_NAME),
        taken_at=values.NOT_KNOWN if taken_at is None else taken_at.replace("T", " ")[:19],
        kit_id=frame.kit_id,
        kit_name=values.shortened(kit_names[frame.kit_id], LONGEST_NAME),
        kit_look=kit_looks[frame.kit_id],
        scene_id=frame.scene_id,
        settings=frames.settings(frame),
        iso=frame.iso,
        exposure_time_s=frame.exposure_time_s,
        verdict=frame.verdict or "unclear",
        verdict_word=outcomes.verdict(frame.verdict),
        why_unclear=unclear,
        verdict_source=outcomes.verdict_source(frame.verdict_source),
        blur_urad=frame.system_blur_urad,
        blur=frames.blur(frame),
        light=frames.light(frame),
        flags=frame.flags,
        flag_words=", ".join(frames.flag_words(flag, frame) for flag in frame.flags),
        first_flag=frames.flag_words(frame.flags[0], frame) if frame.flags else "",
        reasons=[frames.flag_reason(flag, frame) for flag in outcomes.beside_why(frame.flags, unclear)],
        best=best,
        burst_frames=bursts.get(frame.burst_id or 0, 1),
        rating=frame.rating,
        area=_area(frame),
        area_is="focus area",
    )


def _area(frame: FrameFacts) -> tuple[float, float, float, float] | None:
    """Centre and size of the recorded focus area, as fractions of the picture; a point gets a size."""
    if frame.af_x is None or frame.af_y is None:
        return None
    return frame.af_x, frame.af_y, frame.af_width or 0.04, frame.af_height or 0.04


def _with_measured_area(logbook: Logbook, rows: list[ListedFrame]) -> list[ListedFrame]:
    """Where no focus area was recorded, the part that was measured stands for it."""
    without = [row.frame_id for row in rows if row.area is None]
    regions = listed_frames.measured_regions(logbook, without)
    return [
        replace(
            row,
            area=(region["x"], region["y"], region["width"], region["height"]),
            area_is="measured part",
        )
        if (region := regions.get(row.frame_id))
        else row
        for row in rows
    ]
