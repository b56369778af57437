"""What would settle an open question: about how many more encounters, and in which light.

As if the photographer went on as until now: each further encounter with the converter brings as much as those
so far did. The number is the smallest at which a firm word is as likely as not, over all losses that the
record leaves possible and all that chance may bring. The first look that gives one counts.

References
----------
D. J. Spiegelhalter, K. R. Abrams, J. P. Myles, Bayesian Approaches to Clinical Trials and Health-Care
Evaluation (2004), section 6.5: expected power, averaged over what is likely (R).
V. V. Fedorov, Theory of Optimal Experiments (1972): what one more row takes off the variance of a contrast
(R).
"""

from __future__ import annotations

import math
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.firm_words import (
    FELL_ERROR,
    FEWEST_BOTH,
    FEWEST_ENCOUNTERS,
    LEAST_FALL,
    NO_FALL_ERROR,
    TOLERATED_FALL,
    bars_ahead,
)
from auditor.statistics.hit_model import KIT, LIGHT, Fit
from auditor.statistics.likely_loss import Likely
from auditor.statistics.student_t import normal_share, quantile

MOST_TIMES = 30.0
"""Beyond so many times the record there is no honest number."""
AS_LIKELY_AS_NOT = 0.5
PATHS, SEED = 400, 1947
"""How many ways on are drawn: the share that ends in a firm word is then right to 3 in 100."""
MOST_USE = 0.85
"""Light in which an encounter brings at least this share of the best."""


def encounters_to_settle(fit: Fit, expected: Likely, *, least_fall: float = LEAST_FALL) -> int | None:
    """Further encounters with the converter until a firm word is as likely as not.

    None where even thirty times the record would not do: the loss lies too near to where the words part.

    Parameters
    ----------
    fit
        Of one kit.
    expected
        What its loss most likely is.
    least_fall
        A loss under this share is of no account.

    Returns
    -------
    int or None
        At least 1.
    """
    trips = len(fit.looks)
    times = np.arange(1, math.ceil((MOST_TIMES - 1) * trips) + 1) / trips + 1
    settled = _settled(fit, expected, times, least_fall).mean(axis=0) >= AS_LIKELY_AS_NOT
    return max(1, math.ceil(fit.encounters * (times[np.argmax(settled)] - 1))) if settled.any() else None


def _settled(fit: Fit, expected: Likely, times: NDArray[Any], least_fall: float) -> NDArray[np.bool_]:
    """Whether each look has brought a firm word, or one before it has, on drawn ways on; shape (ways, looks).

    A photographer looks after each trip, and the first look that gives a firm word settles it. So by any look
    more ways are settled than stand over the bar at it.
    """
    chance = np.random.default_rng(SEED)
    losses = expected.mean + expected.spread * _normal_quantiles((chance.permutation(PATHS) + 0.5) / PATHS)
    steps = chance.normal(0, np.sqrt(np.diff(times, prepend=1.0)), (PATHS, len(times)))
    more = times - 1
    estimates = (fit.loss + losses[:, None] * more + fit.error * np.cumsum(steps, axis=1)) / times
    # Few sittings make a bar higher (Student's t); as many times as long, the record has more of them.
    fell, none = (
        _bars_of_student(fit, total, times) * fit.error / np.sqrt(times)
        for total in (FELL_ERROR, NO_FALL_ERROR)
    )
    words = (estimates >= np.maximum(fell, least_fall)) | (estimates <= TOLERATED_FALL - none)
    return np.logical_or.accumulate(words & _are_enough(fit, times), axis=1)


def _normal_quantiles(shares: NDArray[Any]) -> NDArray[Any]:
    return np.array([NormalDist().inv_cdf(share) for share in shares.tolist()])


def _bars_of_student(fit: Fit, total: float, times: NDArray[Any]) -> NDArray[Any]:
    bars = bars_ahead(fit, total, times.tolist())
    freedoms = (times * fit.degrees_of_freedom).tolist()
    return np.array(
        [quantile(normal_share(bar), freedom) for bar, freedom in zip(bars, freedoms, strict=True)]
    )


def _are_enough(fit: Fit, times: NDArray[Any]) -> NDArray[np.bool_]:
    """Whether a record so many times as long has encounters enough for a firm word."""
    fewest = min(fit.encounters, fit.encounters_bare)
    enough = (times * fewest >= FEWEST_ENCOUNTERS) | (times * fit.encounters_both >= FEWEST_BOTH)
    return np.asarray(enough)


def useful_light(fit: Fit) -> tuple[float, float] | None:
    """Light values between which a further encounter with the converter brings most; None where all do alike.

    Where the bare lens was used and the converter was not, or seldom, the kits are compared by the curve of
    light alone: that is where one encounter more takes most off the spread.

    Parameters
    ----------
    fit
        Of one kit.

    Returns
    -------
    tuple[float, float] or None
        Low and high end, EV at ISO 100.
    """
    column = LIGHT
    if fit.design.shape[1] <= column or np.ptp(fit.light_ev) < 1:
        return None
    covariance = np.linalg.inv(fit.precision)
    low, high = np.quantile(fit.light_ev, (0.05, 0.95))
    grid = np.arange(math.ceil(low), math.floor(high) + 1)
    if grid.size == 0:  # most of the record lies between two whole EV: nothing to choose from
        return None
    rows = np.array([_row(fit, light) for light in grid])
    along = covariance[:, KIT]
    brought = (rows @ along) ** 2 / (1 + np.einsum("ij,jk,ik->i", rows, covariance, rows))
    useful = grid[brought >= MOST_USE * brought.max()]
    if len(useful) == len(grid):
        return None
    return float(useful.min()), float(useful.max())


def _row(fit: Fit, light: float) -> np.ndarray:
    """A row of the design with the converter in this light, all else as usual in it."""
    near = np.argsort(np.abs(fit.light_ev - light), kind="stable")[: max(3, len(fit.light_ev) // 20)]
    row = np.asarray(fit.design[near].mean(axis=0))
    row[KIT] = 1.0
    return row
