"""Frames that gaps in a camera's file numbers leave room for: those that may have been deleted in camera."""

from __future__ import annotations

from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

LARGEST_GAP = 1000
"""A longer gap in the file numbers between two scenes is taken for another card."""
MOST_DELETED_TIMES, MOST_DELETED_MORE = 3, 10
"""Inside an encounter, a gap over three times the frames that are there, and ten, is no deleting (chosen)."""
LONGEST_PAUSE = np.timedelta64(12, "h")
"""A gap between two scenes with a longer pause between them is no deleting either (chosen)."""
FEWEST_BACK = 2
"""With so many steps back, a body's file numbers are taken to be those of several bodies (chosen)."""
LAST_NUMBER = 9999
"""File numbers run from 0001 to 9999 and begin again (DCF, CIPA DC-009, S second-hand)."""

Floats = NDArray[np.float64]
Places = NDArray[np.intp]


class Gaps(NamedTuple):
    """What the file numbers say about each scene, shape (scenes,)."""

    deleted: Floats
    """Frames that may have been deleted, fractions too."""
    back_and_forth: NDArray[np.bool_]
    """Where the body's numbers run back and forth, as where there are several bodies. Nothing can be said
    then, and `deleted` is 0."""


def gaps_of_scenes(
    *,
    body: NDArray[Any],
    first_at: NDArray[np.datetime64],
    last_at: NDArray[np.datetime64],
    numbered: NDArray[np.int64],
    lowest: Floats,
    highest: Floats,
    lowest_of_high: Floats,
    highest_of_low: Floats,
) -> Gaps:
    """Frames that may have been deleted in each scene: its own share of the gaps in it and beside it.

    A gap between two scenes may have been the end of one or the beginning of the other: half for each.
    Scenes of one body that overlap in time share their gaps by the frames that each has. Bodies without a
    serial number may be several, whose numbers then run back and forth and tell nothing: 0.

    Parameters
    ----------
    body, first_at, last_at
        What tells bodies apart, and when the scene began and ended, shape (scenes,).
    numbered
        Frames of the scene that have a file number; scenes with 0 are left out, and get 0.
    lowest, highest
        The lowest and the highest file number of the scene.
    lowest_of_high, highest_of_low
        The lowest from 5000 on and the highest below; NaN where there is none.

    Returns
    -------
    Gaps
        Frames of each scene, and whether they can be told.
    """
    deleted, back_and_forth = np.zeros(len(numbered)), np.zeros(len(numbered), dtype=np.bool_)
    scenes = np.flatnonzero((numbered > 0) & ~np.isnat(first_at) & ~np.isnat(last_at))
    if not len(scenes):
        return Gaps(deleted, back_and_forth)
    stretches = _Stretches.of(scenes, body, first_at, last_at)
    frames = stretches.over(np.add, numbered.astype(float))
    first_number, last_number = _ends(stretches, lowest, highest, lowest_of_high, highest_of_low)
    inside = (last_number - first_number) % LAST_NUMBER + 1 - frames
    # Nobody deletes so many at the side of one animal: another card, or another body of the same name.
    inside = np.where((inside > 0) & (inside <= MOST_DELETED_TIMES * frames + MOST_DELETED_MORE), inside, 0.0)
    before = np.append(np.nan, (first_number[1:] - last_number[:-1]) % LAST_NUMBER - 1)
    pause = stretches.over(np.fmin, first_at)[1:] - stretches.over(np.fmax, last_at)[:-1]
    follows = np.append(False, (stretches.body[1:] == stretches.body[:-1]) & (pause < LONGEST_PAUSE))
    between = np.where(follows & (before > 0) & (before <= LARGEST_GAP), before, 0.0)
    halves = between / 2 + np.append(between[1:], 0.0) / 2
    steps_back = np.bincount(stretches.body, follows & (before > LAST_NUMBER / 2))
    several_bodies = steps_back[stretches.body] >= FEWEST_BACK
    gone = np.where(several_bodies, 0.0, inside + halves)
    rows = stretches.rows
    deleted[rows] = stretches.each(gone) * numbered[rows] / stretches.each(frames)
    back_and_forth[rows] = stretches.each(several_bodies)
    return Gaps(deleted, back_and_forth)


class _Stretches(NamedTuple):
    """Scenes of one body that overlap in time, gathered: their file numbers run on together."""

    rows: Places
    """Scenes by body, then by time."""
    starts: Places
    """Where in `rows` each stretch begins, shape (stretches,)."""
    body: NDArray[np.int64]
    """A number for the body of each stretch."""

    @classmethod
    def of(
        cls,
        scenes: Places,
        body: NDArray[Any],
        first_at: NDArray[np.datetime64],
        last_at: NDArray[np.datetime64],
    ) -> _Stretches:
        bodies = np.unique(body[scenes], return_inverse=True)[1].astype(np.int64)
        order = np.lexsort((first_at[scenes], bodies))
        rows, bodies = scenes[order], bodies[order]
        first_us, last_us = (
            times[rows].astype("datetime64[us]").astype(np.int64) for times in (first_at, last_at)
        )
        # A body's scenes lie after all those of the body before, so that one running maximum does for all.
        span = int(max(first_us.max(), last_us.max()) - min(first_us.min(), last_us.min())) + 1
        begins, ends = first_us + bodies * span, np.maximum.accumulate(last_us + bodies * span)
        starts = np.flatnonzero(np.append(True, (bodies[1:] != bodies[:-1]) | (begins[1:] >= ends[:-1])))
        return cls(rows, starts, bodies[starts])

    def over(self, reduce: np.ufunc, values: NDArray[Any]) -> NDArray[Any]:
        """One value a stretch, from those of its scenes."""
        return np.asarray(reduce.reduceat(values[self.rows], self.starts))

    def each(self, values: NDArray[Any]) -> NDArray[Any]:
        """The value of its stretch for each of `rows`."""
        return np.repeat(values, np.diff(np.append(self.starts, len(self.rows))))


def _ends(
    stretches: _Stretches, lowest: Floats, highest: Floats, lowest_of_high: Floats, highest_of_low: Floats
) -> tuple[Floats, Floats]:
    """The file numbers with which each stretch begins and ends."""
    low, high = stretches.over(np.fmin, lowest), stretches.over(np.fmax, highest)
    began_again = high - low > LAST_NUMBER / 2
    first_number = np.where(began_again, stretches.over(np.fmin, lowest_of_high), low)
    last_number = np.where(began_again, stretches.over(np.fmax, highest_of_low), high)
    return first_number, last_number
