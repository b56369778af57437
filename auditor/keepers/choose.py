"""Choosing keepers from a logbook: the Python interface of the filter."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from auditor.keepers.conditions import COLUMNS, Candidate, Conditions, Passed, passing
from auditor.store.best_frames import Grouping, best_of
from auditor.store.logbook import Logbook
from auditor.store.tables import files_of, frame_rows, gone_frames


def choose(
    logbook: Logbook, conditions: Conditions, *, at_most: int | None = None, per: Grouping = "burst"
) -> Passed:
    """The frames of a logbook that pass, in order of time.

    Frames whose files are not there are told apart before the best are chosen: the next best of a burst is
    better than a file that cannot be handed over.

    Parameters
    ----------
    conditions
        With `trip_id`, only that trip's frames are looked at (see `store.tables.find_trip`).
    at_most
        Keep only so many of each burst or scene, the sharpest first. Sharpness is not pose.

    Returns
    -------
    Passed
        The frames that are kept, unclear, and no longer there.

    Raises
    ------
    ValueError
        for `at_most` under 1.
    """
    passed = passing(candidates(logbook, conditions.trip_id), conditions)
    gone = _gone(logbook, passed.kept)
    kept = [frame for frame in passed.kept if frame.frame_id not in gone]
    if at_most is not None:
        best = set(best_of(logbook, [frame.frame_id for frame in kept], at_most=at_most, per=per))
        kept = [frame for frame in kept if frame.frame_id in best]
    return replace(passed, kept=kept, gone=[frame for frame in passed.kept if frame.frame_id in gone])


def candidates(logbook: Logbook, trip_id: int | None = None) -> list[Candidate]:
    """Every frame of a trip, or of all trips, in order of time."""
    return [Candidate(**row) for row in frame_rows(logbook, trip_id, columns=COLUMNS)]


def _gone(logbook: Logbook, frames: list[Candidate]) -> set[int]:
    """Frames of which no file is there: the logbook knows it, or the disk says so now."""
    missing = [frame.frame_id for frame in frames if frame.path is None or not Path(frame.path).is_file()]
    nowhere = {
        frame_id
        for frame_id, paths in zip(missing, files_of(logbook, missing), strict=True)
        if not any(path.is_file() for path in paths)
    }
    return nowhere | (gone_frames(logbook) & {frame.frame_id for frame in frames})
