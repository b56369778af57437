"""Choosing keepers from a logbook: the Python interface of the filter."""

from __future__ import annotations

from dataclasses import replace

from auditor.file_names import is_file
from auditor.keepers.conditions import Candidate, Conditions, Passed, passing
from auditor.store.best_frames import Grouping, best_of
from auditor.store.logbook import Logbook
from auditor.store.selection import EVERYTHING, Selection, selected_as
from auditor.store.tables import files_of, gone_frames


def choose(
    logbook: Logbook,
    conditions: Conditions,
    selection: Selection = EVERYTHING,
    *,
    at_most: int | None = None,
    per: Grouping = "burst",
) -> Passed:
    """The frames of a logbook that pass, in order of time.

    Frames whose files are not there are told apart before the best are chosen: the next best of a burst is
    better than a file that cannot be handed over.

    Parameters
    ----------
    conditions
        What a keeper must be.
    selection
        Which frames are looked at: those of a trip, of kits, a scene or a day.
    at_most
        Keep only so many of each burst or scene, the sharpest first. Sharpness is not pose.
    per
        What `at_most` counts in.

    Returns
    -------
    Passed
        The frames that are kept, unclear, and no longer there.

    Raises
    ------
    ValueError
        for `at_most` under 1.
    """
    passed = passing(candidates(logbook, selection), conditions)
    gone = _gone(logbook, passed.kept)
    kept = [frame for frame in passed.kept if frame.frame_id not in gone]
    if at_most is not None:
        best = set(best_of(logbook, [frame.frame_id for frame in kept], at_most=at_most, per=per))
        kept = [frame for frame in kept if frame.frame_id in best]
    return replace(passed, kept=kept, gone=[frame for frame in passed.kept if frame.frame_id in gone])


def candidates(logbook: Logbook, selection: Selection = EVERYTHING) -> list[Candidate]:
    """Every selected frame, in order of time.

    Parameters
    ----------
    selection
        Which frames are looked at.

    Returns
    -------
    list[Candidate]
        With what conditions look at.
    """
    return selected_as(Candidate, logbook, selection)


def _gone(logbook: Logbook, frames: list[Candidate]) -> set[int]:
    """Frames of which no file is there: the logbook knows it, or the disk says so now."""
    missing = [frame.frame_id for frame in frames if frame.path is None or not is_file(frame.path)]
    nowhere = {
        frame_id
        for frame_id, paths in zip(missing, files_of(logbook, missing), strict=True)
        if not any(path.is_file() for path in paths)
    }
    return nowhere | (gone_frames(logbook) & {frame.frame_id for frame in frames})
