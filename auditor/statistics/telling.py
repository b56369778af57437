"""How much the probabilities of being a hit say about hits: what must be undone before rates are compared.

A frame counts by how likely it is a hit. That probability rests on its reading and on how often frames are
hits in general; so unclear frames of a kit that misses more count too high, those of one that misses less too
low, and rates draw together. The mean probability of a group of frames is `base + share * rate`, whatever
its rate, where misses have `base` on average and hits `share` more. Rates are therefore (mean - base) / share
of means, and a frame is worth `share` of one whose hit or miss is known. Of readings, both
follow from what each says of a hit against a miss (`supposed_rate`), kit by kit: some read more clearly.

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
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.intervals import Interval
from auditor.statistics.supposed_rate import USUAL_FRAMES, kit_rate, supposed_rate

Floats = NDArray[Any]
Counts = NDArray[np.int64]

LEAST_PROBABILITY = 0.02
"""No reading is surer than this, nor its opposite: beyond the outermost quantiles (5 and 95 %) nothing was
calibrated (chosen). Such frames count as sure here."""
SURE = 0.0002
"""How likely the opposite is taken to be of a frame that counts as sure."""
USUAL_MISS, USUAL_HIT = 0.09, 0.91
"""Mean probabilities of misses and hits before there is a record, as if some frames had shown them: a record
of hits alone says nothing about misses (assumed; the sample trip shows .10 and .93)."""
ALL_KITS = -1
"""Stands for kits with too few frames of their own."""
LEAST_SHARE = 0.1
"""Where probabilities say less than this about hits, they give no rate."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Telling:
    """What one kind of probabilities says about hits."""

    base: float = 0.0
    """Mean probability of misses."""
    share: float = 1.0
    """How much higher that of hits is; 0 to 1."""


def tellings_of_readings(kit: Counts, encounter: Counts, probability: Floats) -> dict[int, Telling]:
    """What the probabilities of readings say, for each kit.

    Parameters
    ----------
    kit, encounter, probability
        One entry a frame: which kit, which encounter, and how likely a hit.

    Returns
    -------
    dict[int, Telling]
        By kit, and `ALL_KITS` for any other; drawn towards that of all where frames are few.
    """
    usual = _drawn(USUAL_MISS, USUAL_HIT)
    if not len(probability):
        return {ALL_KITS: usual}
    # At the bounds nothing was calibrated: such frames count as sure.
    sure = np.where(probability <= LEAST_PROBABILITY, SURE, probability)
    sure = np.where(probability >= 1 - LEAST_PROBABILITY, 1 - SURE, sure)
    supposed = supposed_rate(kit, encounter, sure)
    ratios = sure / (1 - sure) * (1 - supposed) / supposed
    rate = kit_rate(ratios)
    sums = {int(own): _sums(probability[kit == own], ratios[kit == own], rate) for own in np.unique(kit)}
    of_all = np.sum(list(sums.values()), axis=0)
    tellings = {ALL_KITS: _drawn(*_means(of_all, USUAL_MISS, USUAL_HIT))}
    miss, hit = tellings[ALL_KITS].base, tellings[ALL_KITS].base + tellings[ALL_KITS].share
    return tellings | {own: _drawn(*_means(of_kit, miss, hit)) for own, of_kit in sums.items()}


def _sums(probability: Floats, ratios: Floats, usual: float) -> Floats:
    """Misses and hits of a kit, and the sums of the probabilities of each."""
    rate = kit_rate(ratios, usual)
    hits = rate * ratios / (rate * ratios + 1 - rate)
    return np.array([(1 - hits).sum(), hits.sum(), (1 - hits) @ probability, hits @ probability])


def _means(sums: Floats, miss: float, hit: float) -> tuple[float, float]:
    """Mean probability of misses and of hits, each as if some more frames had this one."""
    misses, hits, of_misses, of_hits = sums.tolist()
    more = USUAL_FRAMES
    return (of_misses + more * miss) / (misses + more), (of_hits + more * hit) / (hits + more)


def _drawn(miss: float, hit: float) -> Telling:
    return Telling(base=miss, share=max(0.0, hit - miss))


def telling_of_words(frames: int, hits: float, squares: float) -> Telling:
    """What the camera's word says: how often each word was right is a probability, too.

    Parameters
    ----------
    frames
        How many frames have only the camera's word.
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
        Means over its frames of `base` and `share`.

    Returns
    -------
    Interval
        From 0 to 1 where `share` is less than `LEAST_SHARE`; the mean is the best guess then.
    """
    if share < LEAST_SHARE:
        return replace(rate, low=0.0, high=1.0)
    estimate, low, high = (
        min(1.0, max(0.0, (place - base) / share)) for place in (rate.estimate, rate.low, rate.high)
    )
    return replace(rate, estimate=estimate, low=low, high=high)
