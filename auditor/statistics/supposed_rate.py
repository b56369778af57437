"""How often readings suppose that frames hit: what their probabilities of a hit rest on besides the pixels.

A probability rests on the reading and on a rate that was usual where readings were calibrated. If a
logbook's frames hit more often or less, all probabilities are off; the more so, the less clear a kit's
readings are, and between a kit that reads clearly and one that does not a difference shows that is none. What
a reading says of a hit against a miss, its likelihood ratio, does not depend on any rate. So probabilities
are taken apart into both, and each kit's rate is told from the ratios.

The supposed rate is told from the record itself: within an encounter frames hit alike, and in those where
nearly all hit, or none, the ratios must be those of hits, or of misses. Of all that it could be, the
likeliest is taken, whatever the readings of misses are distributed like (an empirical likelihood).

References
----------
M. Saerens, P. Latinne, C. Decaestecker, Adjusting the outputs of a classifier to new a priori probabilities:
a simple procedure, Neural Computation 14 (2002) (R).
J. Qin, Inferences for case-control and semiparametric two-sample density ratio models, Biometrika 85 (1998)
(R).
N. Laird, Nonparametric maximum likelihood estimation of a mixing distribution, JASA 73 (1978): the rates of
encounters (R).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]
Counts = NDArray[np.int64]

SUPPOSED = np.linspace(-2.25, 2.25, 10)
"""Rates that readings may suppose, in logits: 10 to 90 %."""
USUAL_SPREAD = 0.7
"""How far the supposed rate may usually lie from that of the record, in logits (assumed)."""
RATES = np.array([0.01, 0.06, 0.15, 0.25, 0.35, 0.5, 0.65, 0.75, 0.85, 0.94, 0.99])
"""Of encounters: a mixing distribution over these is fitted."""
ROUNDS = 30
FEWEST_FRAMES, FEWEST_ENCOUNTERS = 150, 8
"""Of a kit: with fewer it says nothing of the supposed rate."""
USUAL_FRAMES = 10
"""A kit's rate is drawn to that of all as if so many more frames had it (chosen)."""


def supposed_rate(kit: Counts, encounter: Counts, probability: Floats) -> float:
    """The rate of hits that the probabilities suppose.

    Parameters
    ----------
    kit, encounter, probability
        One entry a frame: which kit, which encounter, and how likely a hit; between 0 and 1, without both.

    Returns
    -------
    float
        Drawn towards the mean probability, which is right if readings suppose the record's own rate.
    """
    logits = np.log(probability / (1 - probability))
    mean = float(probability.mean())
    likely = -(((SUPPOSED - np.log(mean / (1 - mean))) / USUAL_SPREAD) ** 2) / 2
    for own in np.unique(kit):
        chosen = kit == own
        names, encounters = np.unique(encounter[chosen], return_inverse=True)
        if len(encounters) >= FEWEST_FRAMES and len(names) >= FEWEST_ENCOUNTERS:
            likely += [
                _log_likelihood(np.exp(logits[chosen] - supposed), encounters) for supposed in SUPPOSED
            ]
    best = int(np.clip(np.argmax(likely), 1, len(SUPPOSED) - 2))
    before, middle, after = likely[best - 1 : best + 2]
    bend = before - 2 * middle + after
    shift = float(np.clip((before - after) / (2 * bend), -1, 1)) if bend < 0 else 0.0
    place = SUPPOSED[best] + shift * (SUPPOSED[1] - SUPPOSED[0])
    return float(1 / (1 + np.exp(-place)))


def kit_rate(ratios: Floats, usual: float = 0.5) -> float:
    """The rate of hits of a kit.

    Parameters
    ----------
    ratios
        How much likelier each of its readings is for a hit than for a miss.
    usual
        The rate of all kits.

    Returns
    -------
    float
        Drawn to the usual rate where frames are few.
    """
    rate = usual
    for _round in range(2 * ROUNDS):
        hits = float((rate * ratios / (rate * ratios + 1 - rate)).sum())
        rate = (hits + USUAL_FRAMES * usual) / (len(ratios) + USUAL_FRAMES)
    return rate


def _log_likelihood(ratios: Floats, encounter: Counts) -> float:
    """Of a kit's readings, each encounter with a rate of its own."""
    frames = np.bincount(encounter)
    by_frame = np.log(RATES[:, None] * ratios + 1 - RATES[:, None])
    by_rate = np.array([np.bincount(encounter, row) for row in by_frame])
    most = by_rate.max(axis=0)
    scaled = np.exp(by_rate - most)
    weights = np.full(len(RATES), 1 / len(RATES))
    for _round in range(ROUNDS):
        shares = scaled * weights[:, None]
        shares /= shares.sum(axis=0)
        weights = shares.mean(axis=1)
    rate = float(RATES @ (shares @ frames)) / frames.sum()
    return float((np.log(weights @ scaled) + most).sum() - np.log(rate * ratios + 1 - rate).sum())
