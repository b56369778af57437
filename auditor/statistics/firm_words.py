"""Claims that keep their error however often a growing record is looked at.

A photographer looks after every trip. If each look had its own 5 %, one record in five or so would be told
of a loss that is not there, sooner or later. So the bar rises with the record: the estimate must lie 2.3 x
(10 points / error) ** 0.2 standard errors from no loss. A bar that rises with any power of the information
is crossed by chance with a probability that stays below a fixed figure for ever (the law of the iterated
logarithm lets chance alone grow only as the root of twice the log of the log). How large the figure is was
computed for a Brownian motion looked at after each of 600 trips: 3.4 % for `fell`, 9 % for `no fall beyond
10 points` (tests/statistics/test_firm_words.py computes both again).

References
----------
S. K. Wang, A. A. Tsiatis, Approximately optimal one-parameter boundaries for group sequential trials,
Biometrics 43 (1987): bars that go with a power of the information (R).
H. Robbins, Statistical methods related to the law of the iterated logarithm, Ann. Math. Stat. 41 (1970) (R).
Y. Benjamini, Y. Hochberg, J. R. Stat. Soc. B 57 (1995): several kits at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from auditor.statistics.hit_model import Fit
from auditor.statistics.multiple import benjamini_hochberg

FirmWord = Literal["not enough evidence", "fell", "no fall beyond 10 points", "inconclusive"]

FEWEST_ENCOUNTERS = 8
"""Of each kit, where no encounter holds both."""
FEWEST_BOTH = 6
"""Encounters that hold both kits suffice from this number on: what their frames share cancels."""
LEAST_FALL = 0.05
TOLERATED_FALL = 0.10
BAR_FELL, BAR_NO_FALL, BAR_EVERY_LOOK = 2.3, 1.95, 2.5
"""Standard errors at an error of 10 points; the last one for both ends of an interval together."""
BAR_ERROR = 0.10
BAR_POWER = 0.2


def bar(height: float, error: float) -> float:
    """How many standard errors a claim needs, at this standard error of the loss (a share).

    Parameters
    ----------
    height
        Standard errors that it needs where the standard error is BAR_ERROR.
    error
        Standard error of the loss, as a share.

    Returns
    -------
    float
        Standard errors; more where the estimate is surer, since small losses are claimed there.
    """
    return float(height * (BAR_ERROR / error) ** BAR_POWER)


def firm_word(fit: Fit, *, least_fall: float = LEAST_FALL) -> FirmWord:
    """The word for one kit by itself.

    Parameters
    ----------
    fit
        Of one kit.
    least_fall
        A loss under this share is of no account.

    Returns
    -------
    FirmWord
        `not enough evidence` where the encounters are too few.
    """
    return firm_words([fit], least_fall=least_fall)[0]


def firm_words(fits: Sequence[Fit], *, least_fall: float = LEAST_FALL) -> list[FirmWord]:
    """The word for each kit of a record: `fell` only where it stands among all of them.

    Parameters
    ----------
    fits
        Of each kit.
    least_fall
        A loss under this share is of no account.

    Returns
    -------
    list[FirmWord]
        In the order of `fits`.
    """
    enough = [is_enough(fit) for fit in fits]
    tested = [number for number, fit in enumerate(enough) if fit]
    # How likely an estimate so far from no loss is, in units of what the kit's bar allows, times 5 %.
    tails = [min(1.0, 0.05 * _tail_over_bar(fits[number])) for number in tested]
    stands = benjamini_hochberg(tails, q=0.05)
    fallen = {
        number
        for number, stays in zip(tested, stands.tolist(), strict=True)
        if stays and fits[number].loss >= least_fall
    }
    words: list[FirmWord] = []
    for number, fit in enumerate(fits):
        if not enough[number]:
            words.append("not enough evidence")
        elif number in fallen:
            words.append("fell")
        elif _loss_at(fit, bar(BAR_NO_FALL, fit.error)) < TOLERATED_FALL:
            words.append("no fall beyond 10 points")
        else:
            words.append("inconclusive")
    return words


def is_enough(fit: Fit) -> bool:
    """Whether there are encounters enough for any firm word.

    Parameters
    ----------
    fit
        Of one kit.

    Returns
    -------
    bool
        By encounters of both kits, not by frames.
    """
    return min(fit.encounters, fit.encounters_bare) >= FEWEST_ENCOUNTERS or fit.encounters_both >= FEWEST_BOTH


def interval(fit: Fit, confidence: float = 0.95) -> tuple[float, float]:
    """The interval of the loss for one look.

    Parameters
    ----------
    fit
        Of one kit.
    confidence
        As a share.

    Returns
    -------
    tuple[float, float]
        Low and high end of the loss, shares.
    """
    from scipy.special import stdtrit

    reach = float(stdtrit(fit.degrees_of_freedom, 0.5 + confidence / 2))
    return _at(fit, -reach), _at(fit, reach)


def interval_at_every_look(fit: Fit) -> tuple[float, float]:
    """An interval that holds the loss at every look, with 95 %.

    Parameters
    ----------
    fit
        Of one kit.

    Returns
    -------
    tuple[float, float]
        Low and high end of the loss, shares; wider than that for one look.
    """
    height = bar(BAR_EVERY_LOOK, fit.error)
    return _loss_at(fit, -height), _loss_at(fit, height)


def p_of_no_loss(fit: Fit) -> float:
    """How likely an estimate at least as high is where nothing is lost, at one look.

    Parameters
    ----------
    fit
        Of one kit.

    Returns
    -------
    float
        One-sided, 0 to 1.
    """
    from scipy.special import stdtr

    none = float(np.interp(0.0, fit.losses, fit.deviations))
    return float(stdtr(fit.degrees_of_freedom, none))


def _tail_over_bar(fit: Fit) -> float:
    """How likely an estimate this far from no loss is, over what the bar allows; at most 1 it is told."""
    from scipy.special import ndtr

    return p_of_no_loss(fit) / float(ndtr(-bar(BAR_FELL, fit.error)))


def _loss_at(fit: Fit, height: float) -> float:
    """The loss so many standard errors up, more of them with few encounters (Student's t)."""
    from scipy.special import ndtr, stdtrit

    return _at(fit, float(stdtrit(fit.degrees_of_freedom, ndtr(height))))


def _at(fit: Fit, deviation: float) -> float:
    return float(np.interp(deviation, fit.deviations, fit.losses))
