"""Choosing keepers from a logbook: the Python interface of the filter."""

from __future__ import annotations

from auditor.keepers.conditions import COLUMNS, Conditions, Grouping, Passed, best, passing
from auditor.store.logbook import Logbook
from auditor.store.tables import frame_rows


def choose(
    logbook: Logbook, conditions: Conditions, *, at_most: int | None = None, per: Grouping = "burst"
) -> Passed:
    """The frames of a logbook that pass, in order of time.

    Parameters
    ----------
    conditions
        With `trip_id`, only that trip's frames are looked at (see `store.tables.find_trip`).
    at_most
        Keep only so many of each burst or scene, the sharpest first. Sharpness is not pose.

    Returns
    -------
    Rows with the columns `conditions.COLUMNS` of frame_facts.
    """
    passed = passing(frame_rows(logbook, conditions.trip_id, columns=COLUMNS), conditions)
    if at_most is None:
        return passed
    kept = best(passed.kept, at_most, per)
    return Passed(passed.frames, kept, passed.unclear, passed.taken_away)
