"""How much farther the animals would have to be to explain fewer hits, where no distance was recorded.

A converter goes on for far animals, and far animals are hit less often. Where distance is unknown, nothing
in the record can tell the one from the other; but it can be said how strong that would have to be.

References
----------
T. J. VanderWeele, P. Ding, Sensitivity analysis in observational research: introducing the E-value, Annals
of Internal Medicine 167 (2017): E = RR + sqrt(RR (RR - 1)), for the estimate and for the end of its
interval.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditor.statistics.firm_words import interval
from auditor.statistics.hit_model import Fit

ODDS_A_DOUBLING = 0.5
"""Odds of a hit at twice the distance, over those at once the distance, all else alike (assumed: air, small
size in the focus area and shake each take their part; said wherever it is used)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Hidden:
    """What distance would have to have done, for the estimate and for the near end of its 95 % interval."""

    e_value: float
    e_value_at_least: float
    """1 where the interval reaches no loss: nothing needs to be explained."""
    times_as_far: float
    """How many times as far the animals with the converter would have to have been, on average, if twice as
    far halves the odds of a hit."""
    times_as_far_at_least: float


def hidden_distance(fit: Fit) -> Hidden:
    """What it would take to explain the loss of this fit.

    Parameters
    ----------
    fit
        Of one kit, its distance not adjusted for.

    Returns
    -------
    Hidden
        For the estimate, and for the near end of its interval.
    """
    low, _high = interval(fit)
    share = 0.0 if fit.loss <= 0 else min(1.0, max(0.0, low) / fit.loss)
    ratio = fit.rate_bare / max(fit.rate, 1e-9)
    near = fit.rate_bare / max(fit.rate_bare - max(0.0, low), 1e-9)
    doublings = max(0.0, math.log(max(fit.odds_ratio, 1.0)) / -math.log(ODDS_A_DOUBLING))
    return Hidden(
        e_value=e_value(ratio),
        e_value_at_least=e_value(near),
        times_as_far=2**doublings,
        times_as_far_at_least=2 ** (doublings * share),
    )


def e_value(risk_ratio: float) -> float:
    """How strongly, as a ratio, a hidden cause must go with both sides to explain a ratio of rates.

    Parameters
    ----------
    risk_ratio
        Of the misses, say; either way round.

    Returns
    -------
    float
        1 for a ratio of 1, else above.

    Raises
    ------
    ValueError
        for a ratio that is not above 0.

    References
    ----------
    T. J. VanderWeele, P. Ding, Sensitivity analysis in observational research: introducing the E-value,
    Annals of Internal Medicine 167 (2017) (R).
    """
    if not risk_ratio > 0:
        raise ValueError(f"risk_ratio must be above 0, not {risk_ratio!r}")
    ratio = max(risk_ratio, 1 / risk_ratio)
    return ratio + math.sqrt(ratio * (ratio - 1))
