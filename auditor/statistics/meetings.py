"""Whether moments of two bodies fall together at a shift of one clock, and whether that may be chance.

Bursts of an animal come in runs, so runs are counted, not bursts: one run that falls on another by chance
would count as often as it has bursts.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

MEETING_S = 90.0
"""Bursts of two bodies this close were on one animal (chosen)."""
RUN_PAUSE_S = 600.0
"""After a longer pause another run of bursts begins (chosen): the default pause between encounters."""
FEWEST_RUNS = 3
MORE_RUNS = 2
ELSEWHERE_S = np.array([side * 60.0 * minutes for minutes in range(20, 100, 4) for side in (-1, 1)])
"""Shifts beside the one that is asked about, beyond the length of most runs: what chance alone brings.

Three runs, and two more than at any of these 40: bodies that were never on one animal passed as if they had
been in at most 1 of 100 simulated trips, those that were in 90 to 100 where they shared a third of the
animals of three days, and in 28 to 64 where there were only 8 animals a day (simulated outings of 1 to 8
days, 8 to 40 animals a day).
"""


def first_meetings(
    reference_s: NDArray[np.float64], moments_s: NDArray[np.float64], shift_s: float = 0.0
) -> NDArray[np.bool_]:
    """The first burst of each run that has one of the reference close by.

    Parameters
    ----------
    reference_s
        Moments of the other body in ascending order, seconds, shape (others,).
    moments_s
        Of a body in ascending order, shape (bursts,).
    shift_s
        To be added to `moments_s`.

    Returns
    -------
    NDArray[np.bool_]
        Shape (bursts,).
    """
    met = np.flatnonzero(_met(reference_s, moments_s + shift_s))
    run = np.cumsum(np.diff(moments_s, prepend=moments_s[:1]) > RUN_PAUSE_S)
    first = np.zeros(len(moments_s), dtype=np.bool_)
    first[met[np.unique(run[met], return_index=True)[1]]] = True
    return first


def fall_together(
    reference_s: NDArray[np.float64], moments_s: NDArray[np.float64], shift_s: float = 0.0
) -> bool:
    """Whether runs meet the reference clearly oftener at a shift than at those beside it.

    Parameters
    ----------
    reference_s, moments_s, shift_s
        As `first_meetings` takes them.

    Returns
    -------
    bool
        False also where there are too few to tell.
    """
    needed = max(FEWEST_RUNS, _most_elsewhere(reference_s, moments_s, shift_s) + MORE_RUNS)
    return _runs(reference_s, moments_s, shift_s) >= needed


def may_fall_together(
    reference_s: NDArray[np.float64], moments_s: NDArray[np.float64], shift_s: float = 0.0
) -> bool:
    """Whether enough runs meet the reference, and oftener at a shift than at any beside it, if only by one.

    Parameters
    ----------
    reference_s, moments_s, shift_s
        As `first_meetings` takes them.

    Returns
    -------
    bool
        True wherever `fall_together` is.
    """
    needed = max(FEWEST_RUNS, _most_elsewhere(reference_s, moments_s, shift_s) + 1)
    return _runs(reference_s, moments_s, shift_s) >= needed


def _most_elsewhere(reference_s: NDArray[np.float64], moments_s: NDArray[np.float64], shift_s: float) -> int:
    return max(_runs(reference_s, moments_s, shift_s + away_s) for away_s in ELSEWHERE_S)


def _runs(reference_s: NDArray[np.float64], moments_s: NDArray[np.float64], shift_s: float) -> int:
    return int(np.count_nonzero(first_meetings(reference_s, moments_s, shift_s)))


def _met(reference_s: NDArray[np.float64], moments_s: NDArray[np.float64]) -> NDArray[np.bool_]:
    """Which moments have one of the reference close by."""
    last = np.append(reference_s, np.inf)
    return last[np.searchsorted(reference_s, moments_s - MEETING_S)] <= moments_s + MEETING_S
