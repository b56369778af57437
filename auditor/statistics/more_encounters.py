"""What would settle an open question: about how many more encounters, and in which light.

As if the photographer went on as until now: each further encounter with the converter brings as much as those
so far did. The number is the least at which a firm word is as likely as not, over all losses that the record
leaves possible.

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

import numpy as np

from auditor.statistics.firm_words import (
    FELL_ERROR,
    LEAST_FALL,
    NO_FALL_ERROR,
    TOLERATED_FALL,
    bars_ahead,
)
from auditor.statistics.hit_model import KIT, LIGHT, Fit
from auditor.statistics.likely_loss import Likely

MOST_TIMES = 30.0
"""Beyond so many times the record there is no honest number."""
AS_LIKELY_AS_NOT = 0.5
STEP = 1.03
MOST_USE = 0.85
"""Light in which an encounter brings at least this share of the best."""

_NORMAL = NormalDist()


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
    from scipy.special import ndtr, stdtrit

    trips = len(fit.looks)
    looks = np.arange(1, math.ceil((MOST_TIMES - 1) * trips) + 2) / trips + 1
    ahead = [bars_ahead(fit, total, looks.tolist()) for total in (FELL_ERROR, NO_FALL_ERROR)]
    times = STEP
    while times <= MOST_TIMES:
        # A bar is as high before the next look as at it.
        heights = [of_claim[int(np.searchsorted(looks, times))] for of_claim in ahead]
        # Few sittings make a bar higher (Student's t); as many times as long, the record has more of them.
        fell, none = stdtrit(times * fit.degrees_of_freedom, ndtr(heights)).tolist()
        if _chance_of_word(fit, expected, times, (fell, none), least_fall) >= AS_LIKELY_AS_NOT:
            return max(1, math.ceil(fit.encounters * (times - 1)))
        times *= STEP
    return None


def _chance_of_word(
    fit: Fit, expected: Likely, times: float, heights: tuple[float, float], least_fall: float
) -> float:
    """How likely one look at a record so many times as long tells a firm word."""
    now, then = 1 / fit.error**2, times / fit.error**2
    more = then - now
    centre = (now * fit.loss + more * expected.mean) / then
    spread = math.sqrt(more**2 * expected.spread**2 + more) / then
    error = 1 / math.sqrt(then)
    fell_from = max(least_fall, heights[0] * error)
    none_until = TOLERATED_FALL - heights[1] * error
    estimate = NormalDist(centre, spread)
    return 1 - estimate.cdf(fell_from) + estimate.cdf(min(none_until, fell_from))


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
