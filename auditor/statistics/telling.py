"""How much probabilities of being a hit tell of hits: what must be undone before rates are compared.

A frame counts by how likely it is a hit. That probability rests on its reading and on how often frames are
hits in general; so unclear frames of a kit that misses more count too high, those of one that misses less too
low, and rates draw together. If the probabilities are right on the whole, the mean one of a group of frames
is `base + share * rate`, whatever its rate: `share` is the part of the variance of hits that they tell, and
misses have `base` in the mean. Rates are therefore told from means as (mean - base) / share; and a frame
is worth `share` of one whose hit or miss is known.

References
----------
W. J. Rogan, B. Gladen, Estimating prevalence from the results of a screening test, American Journal of
Epidemiology 107 (1978) (R).
A. Bella, C. Ferri, J. Hernandez-Orallo, M. J. Ramirez-Quintana, Quantification via probability estimators,
IEEE International Conference on Data Mining (2010): the scaled average of probabilities (R).
R. J. Carroll, D. Ruppert, L. A. Stefanski, C. M. Crainiceanu, Measurement Error in Nonlinear Models, 2nd ed.
(2006), chapter 15: errors in the outcome (R).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from auditor.statistics.intervals import Interval

LEAST_PROBABILITY = 0.02
"""No reading is surer than this, nor its opposite: beyond the outermost quantiles (5 and 95 %) nothing was
calibrated (chosen). Such frames count as sure here."""
USUAL_FRAMES, USUAL_SHARE = 20, 0.85
"""Before a record tells, readings are taken to tell so much, as if so many frames, half of them hits, had
shown it: a record of hits alone says nothing of it (assumed; the sample trip shows 0.9)."""
LEAST_SHARE = 0.1
"""Where probabilities tell less than this, a rate cannot be told from them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """Of a kind of probabilities."""

    base: float = 0.0
    """Mean probability of misses."""
    share: float = 1.0
    """How much further that of hits lies; 0 to 1."""


def telling_of_readings(frames: int, hits: float, squares: float) -> Telling:
    """What the probabilities of readings tell.

    Parameters
    ----------
    frames
        How many there are.
    hits, squares
        The sum of their probabilities, and of the squares.

    Returns
    -------
    Telling
        Drawn towards what is usual where frames are few, or all alike.
    """
    bound, width = LEAST_PROBABILITY, 1 - 2 * LEAST_PROBABILITY
    # As if the bounds were 0 and 1.
    sure_hits = (hits - bound * frames) / width
    unsure = max(0.0, (hits - squares - bound * (1 - bound) * frames) / width**2)
    total = frames + USUAL_FRAMES
    rate = (sure_hits + USUAL_FRAMES / 2) / total
    unsure = (unsure + USUAL_FRAMES * (1 - USUAL_SHARE) / 4) / total
    share = 1 - unsure / (rate * (1 - rate))
    return Telling(base=bound + width * rate * (1 - share), share=width * share)


def telling_of_words(frames: int, hits: float, squares: float) -> Telling:
    """What the camera's word tells: how often each word was right is a probability, too.

    Parameters
    ----------
    frames
        How many frames only a word tells of.
    hits, squares
        The sum of their probabilities, and of the squares.

    Returns
    -------
    Telling
        A `share` of 0 where all have the same word.
    """
    rate = hits / frames if frames else 0.5
    spread = rate * (1 - rate)
    share = min(1.0, max(0.0, squares / frames - rate**2) / spread) if frames and spread > 0 else 0.0
    return Telling(base=rate * (1 - share), share=share)


def told(rate: Interval, base: float, share: float) -> Interval:
    """The rate of hits behind a mean probability.

    Parameters
    ----------
    rate
        The mean of the probabilities of a group of frames, with its interval.
    base, share
        Means of what its frames tell.

    Returns
    -------
    Interval
        All that is possible where they tell less than `LEAST_SHARE`; the mean is the best guess then.
    """
    if share < LEAST_SHARE:
        return replace(rate, low=0.0, high=1.0)
    estimate, low, high = (
        min(1.0, max(0.0, (place - base) / share)) for place in (rate.estimate, rate.low, rate.high)
    )
    return replace(rate, estimate=estimate, low=low, high=high)
