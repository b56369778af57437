"""How much a converter most likely costs, and how likely it is to cost more than so much: for advice.

The record's own estimate is drawn towards no loss by how unsure it is; kits of one factor or lens draw one
another. What is likely is put into words with fixed ranges. Firm words (`firm_words`) rest on a kit's own
record alone.

References
----------
D. J. Spiegelhalter, L. S. Freedman, M. K. B. Parmar, Bayesian approaches to randomized trials, J. R. Stat.
Soc. A 157 (1994): a sceptical prior, centred on no effect, against claims of one, and another, that does not
expect none, against claims of none (R; the second from memory).
A. Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), chapter 5: partial pooling (R).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.hit_model import Fit
from auditor.statistics.shrinkage import USUAL_SPREAD

Floats = NDArray[Any]
Word = Literal["almost surely", "probably", "not settled"]

DOUBTING_SPREAD = 3 * USUAL_SPREAD
"""To say that little is lost, the record must say so itself: what is usual expects just that, and with two
encounters would be all that spoke. So such a claim is held against a prior that expects next to nothing."""
LOSSES = (0.05, 0.10, 0.20)
"""Losses, as shares, that are asked about."""
PROBABLY, ALMOST_SURELY = 0.80, 0.95
"""From these probabilities on a claim gets the word."""
ALIKE_ANY, ALIKE_LENS, ALIKE_FACTOR = 0.2, 0.1, 0.3
"""Parts of the spread that kits share: all of one photographer, those of one lens, those of one factor
(assumed; the remaining two fifths are the kit's own)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """What makes kits lend each other strength."""

    factor: float
    lens: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Prior:
    """What is expected of a kit's loss before its own record is looked at."""

    mean: float = 0.0
    spread: float = USUAL_SPREAD


@dataclass(frozen=True, slots=True, kw_only=True)
class Likely:
    """A loss as a share of the frames, drawn towards what is usual."""

    loss: float
    """Most likely (median)."""
    low: float
    """Ends of the 80 % range."""
    high: float
    mean: float
    spread: float
    more_than: dict[float, float]
    """Probability of costing more than each of LOSSES."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """A loss is more, or less, than so much; and how sure that is."""

    more: bool
    loss: float
    word: Word
    probability: float
    """Of the claim, not of its contrary."""


def likely(fit: Fit, prior: Prior | None = None) -> Likely:
    """What the loss most likely is, given the record and what is usual.

    Parameters
    ----------
    fit
        Of one kit.
    prior
        What the loss is expected to be from other kits; None for what is usual.

    Returns
    -------
    Likely
        The loss as a share, its spread, and how likely it is over each limit.
    """
    prior = prior or Prior()
    # The record's own likelihood is Student's t along the direction in which the loss moves.
    deviations, freedom = fit.deviations, fit.degrees_of_freedom
    log_weight = -(freedom + 1) / 2 * np.log1p(deviations**2 / freedom)
    log_weight = log_weight - ((fit.losses - prior.mean) / prior.spread) ** 2 / 2
    weight = np.exp(log_weight - log_weight.max()) * np.gradient(fit.losses)
    reached = np.cumsum(weight) - weight / 2
    reached = reached / weight.sum()
    low, middle, high = np.interp((0.1, 0.5, 0.9), reached, fit.losses)
    mean = float(weight @ fit.losses / weight.sum())
    return Likely(
        loss=float(middle),
        low=float(low),
        high=float(high),
        mean=mean,
        spread=float(np.sqrt(weight @ (fit.losses - mean) ** 2 / weight.sum())),
        more_than={
            loss: 1 - float(np.interp(loss, fit.losses, reached, left=0.0, right=1.0)) for loss in LOSSES
        },
    )


def word_for(probability: float) -> Word:
    """The word for a claim of this probability.

    Parameters
    ----------
    probability
        0 to 1.

    Returns
    -------
    Word
        The strongest that holds from this probability on.
    """
    if probability >= ALMOST_SURELY:
        return "almost surely"
    return "probably" if probability >= PROBABLY else "not settled"


def claims(drawn: Likely, doubting: Likely) -> tuple[Claim, ...]:
    """The largest loss that it probably exceeds, and the smallest that it probably stays under.

    Parameters
    ----------
    drawn
        Of one kit.
    doubting
        Of the same record, with priors of DOUBTING_SPREAD: a loss stays under a limit only where both say so.

    Returns
    -------
    tuple[Claim, ...]
        None, one or both, in this order.
    """
    supported = []
    for limit in reversed(LOSSES):
        if drawn.more_than[limit] >= PROBABLY:
            supported.append(_claim(more=True, loss=limit, probability=drawn.more_than[limit]))
            break
    for limit in LOSSES:
        under = 1 - max(drawn.more_than[limit], doubting.more_than[limit])
        if under >= PROBABLY:
            supported.append(_claim(more=False, loss=limit, probability=under))
            break
    return tuple(supported)


def _claim(*, more: bool, loss: float, probability: float) -> Claim:
    return Claim(more=more, loss=loss, word=word_for(probability), probability=probability)


def pooled(
    kits: Sequence[Kit], losses: Sequence[float], errors: Sequence[float], *, spread: float = USUAL_SPREAD
) -> list[Prior]:
    """What each kit's loss is expected to be from the other kits of the record.

    Parameters
    ----------
    kits, losses, errors
        One entry a kit: what it is, its own estimate and standard error, as shares.
    spread
        How far true losses lie around none.

    Returns
    -------
    list[Prior]
        One a kit, in their order: its own estimate does not enter.
    """
    count = len(kits)
    alike = np.full((count, count), ALIKE_ANY) + (1 - ALIKE_ANY - ALIKE_LENS - ALIKE_FACTOR) * np.eye(count)
    for row, kit in enumerate(kits):
        for column, other_kit in enumerate(kits):
            alike[row, column] += ALIKE_LENS * (kit.lens == other_kit.lens)
            alike[row, column] += ALIKE_FACTOR * (kit.factor == other_kit.factor)
    usual = alike * spread**2
    observed = usual + np.diag(np.square(errors))
    priors = []
    for number in range(count):
        others = np.arange(count) != number
        pull = np.linalg.solve(observed[np.ix_(others, others)], usual[others, number])
        variance = usual[number, number] - float(pull @ usual[others, number])
        mean = float(pull @ np.asarray(losses, dtype=float)[others])
        priors.append(Prior(mean=mean, spread=float(np.sqrt(variance))))
    return priors
