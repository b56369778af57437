"""The share of hits with its interval: one for every table."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.statistics import telling
from auditor.statistics.intervals import Interval, clustered_wilson, pooled_icc
from auditor.store import encounter_sums
from auditor.store.logbook import Logbook

FEWEST_ENCOUNTERS = 3
"""With fewer, only counts are shown: no interval could be meant."""
USUAL_OF_SITTING = 0.13
"""How alike frames of one sitting usually are: the parts of trip and sitting in `shared_luck.USUAL_PARTS`."""


def hit_rate(
    likely_hits: Sequence[float] | NDArray[Any],
    weighed: Sequence[float] | NDArray[Any],
    sitting: Sequence[int] | NDArray[Any],
    base: Sequence[float] | NDArray[Any],
    told: Sequence[float] | NDArray[Any],
    *,
    icc: float | None,
) -> Interval | None:
    """A rate by encounters, or by the sittings that they are part of, whichever interval is the wider.

    Hours in one hide are no new evidence each ten minutes.

    Parameters
    ----------
    likely_hits, weighed, sitting, base, told
        One entry an encounter, shape (encounters,): the sum of how likely its frames are hits, how many
        frames that is of (above 0), the number of its sitting, that sum as it would be if all had missed, and
        how much more it would be if all had hit.
    icc
        How alike frames of one encounter are, see `icc_of_encounters`.

    Returns
    -------
    Interval or None
        None with fewer than FEWEST_ENCOUNTERS.
    """
    if len(weighed) < FEWEST_ENCOUNTERS:
        return None
    _sittings, number = np.unique(sitting, return_inverse=True)
    by_encounter = clustered_wilson(likely_hits, weighed, pooled_icc=icc)
    by_sitting = clustered_wilson(
        np.bincount(number, likely_hits), np.bincount(number, weighed), pooled_icc=USUAL_OF_SITTING
    )
    rate = max(by_encounter, by_sitting, key=lambda rate: rate.high - rate.low)
    frames = np.sum(weighed)
    return telling.told(rate, float(np.sum(base) / frames), float(np.sum(told) / frames))


def icc_of_encounters(logbook: Logbook) -> float:
    """How alike frames of one encounter are, pooled over kits and all trips of the logbook.

    From the whole record in every table: the same kit and trip then has the same interval everywhere, and
    most trips alone have too few encounters to tell it.

    Returns
    -------
    float
        0 to 1.
    """
    return pooled_icc(encounter_sums.judged_of_all_trips(logbook))
