"""Choosing keepers from a logbook: the Python interface of the filter."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from auditor.file_names import is_file
from auditor.store.best_frames import Grouping, best_of
from auditor.store.candidates import Candidate, sifted
from auditor.store.conditions import Conditions
from auditor.store.frame_files import gone_frames, present_paths, with_other_files
from auditor.store.logbook import Logbook
from auditor.store.selection import EVERYTHING, Selection


@dataclass(frozen=True, slots=True)
class Passed:
    """What came of a filter."""

    frames: int
    """Frames that there were."""
    kept: list[Candidate]
    unclear: list[Candidate]
    """Frames that pass everything but have no clear verdict."""
    taken_away: dict[str, int]
    """Condition -> frames that it alone would take away, in whatever order conditions come."""
    gone: list[Candidate] = field(default_factory=list)
    """Frames that pass everything but are no longer where they were."""
    beyond_best: int = 0
    """Frames that pass everything but are not among the sharpest of their burst or scene."""


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
    passed = Passed(*sifted(logbook, conditions, selection))
    absent = _absent(logbook, passed.kept)
    if absent:
        kept = [frame for frame in passed.kept if frame.frame_id not in absent]
        gone = [frame for frame in passed.kept if frame.frame_id in absent]
        passed = replace(passed, kept=kept, gone=gone)
    if at_most is not None:
        best = set(best_of(logbook, [frame.frame_id for frame in passed.kept], at_most=at_most, per=per))
        kept = [frame for frame in passed.kept if frame.frame_id in best]
        passed = replace(passed, kept=kept, beyond_best=len(passed.kept) - len(kept))
    return passed


def _absent(logbook: Logbook, frames: Sequence[Candidate]) -> set[int]:
    """Frames of which no file is there: the logbook knows it, or the disk says so now."""
    tried = {frame.frame_id for frame in frames if frame.path is None or not is_file(frame.path)}
    elsewhere = {
        frame_id
        for frame_id, paths in present_paths(logbook, with_other_files(logbook, list(tried)))
        if any(is_file(path) for path in paths)
    }
    absent = tried - elsewhere
    known = gone_frames(logbook)
    return absent | {frame.frame_id for frame in frames if frame.frame_id in known} if known else absent
