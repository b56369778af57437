"""Claims that keep their error however often a growing record is looked at.

A photographer looks after every trip. If each look had its own 5 %, about one record in five would sooner or
later show a loss that is not there. So all looks share one error (`spending`): 5 % for `fell` where
nothing is lost, 9 % for `no fall beyond 10 points` at a loss of 10. A record that is first looked at
when an experiment is done has its share of the error in one piece.

References
----------
K. K. G. Lan, D. L. DeMets, Discrete sequential boundaries for clinical trials, Biometrika 70 (1983) (R).
Y. Benjamini, Y. Hochberg, J. R. Stat. Soc. B 57 (1995): several kits at once.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Literal

import numpy as np

from auditor.statistics.hit_model import Fit, Look
from auditor.statistics.multiple import benjamini_hochberg
from auditor.statistics.spending import bars
from auditor.statistics.student_t import normal_share, quantile, share_below

FirmWord = Literal["not enough evidence", "fell", "no fall beyond 10 points", "inconclusive"]

FEWEST_ENCOUNTERS = 8
"""Of each kit, where no encounter holds both."""
FEWEST_BOTH = 6
"""This many encounters that hold both kits are enough: what their frames share cancels."""
LEAST_FALL = 0.05
"""A loss of fewer hits than this, as a share of the frames, is never said to be one."""
TOLERATED_FALL = 0.10
"""The loss that `no fall beyond 10 points` excludes."""
FELL_ERROR, NO_FALL_ERROR, INTERVAL_ERROR = 0.05, 0.09, 0.010
"""How likely a false claim may be at any look; the last one for either end of an interval."""


def bar(fit: Fit, total: float) -> float:
    """How many standard errors a claim needs now.

    Parameters
    ----------
    fit
        Of one kit, with the looks at its record so far.
    total
        How likely the claim may be at any look, where it is false.

    Returns
    -------
    float
        Standard errors; more of them the more looks there were.
    """
    return bars(_errors(fit), total)[-1]


def bars_ahead(fit: Fit, total: float, times: Sequence[float]) -> list[float]:
    """The bars at further looks.

    Parameters
    ----------
    fit, total
        As for `bar`.
    times
        How many times as long as now the record is at each of them, rising.

    Returns
    -------
    list[float]
        Standard errors, one a further look.
    """
    errors = _errors(fit)
    return list(bars([*errors, *(fit.error / growth**0.5 for growth in times)], total)[len(errors) :])


def _errors(fit: Fit) -> list[float]:
    """Standard errors at the looks at which anything could have been claimed."""
    return [look.error for look in fit.looks[:-1] if is_enough(look)] + [fit.error]


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
        elif _loss_at(fit, bar(fit, NO_FALL_ERROR)) < TOLERATED_FALL:
            words.append("no fall beyond 10 points")
        else:
            words.append("inconclusive")
    return words


def is_enough(fit: Fit | Look) -> bool:
    """Whether there are encounters enough for any firm word.

    Parameters
    ----------
    fit
        Of one kit, now or at an earlier look.

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
    reach = quantile(0.5 + confidence / 2, fit.degrees_of_freedom)
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
    height = bar(fit, INTERVAL_ERROR)
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
    none = float(np.interp(0.0, fit.losses, fit.deviations))
    return share_below(none, fit.degrees_of_freedom)


def _tail_over_bar(fit: Fit) -> float:
    """How likely an estimate this far from no loss is, over what the bar allows: up to 1 it is a fall."""
    return p_of_no_loss(fit) / normal_share(-bar(fit, FELL_ERROR))


def _loss_at(fit: Fit, height: float) -> float:
    """The loss so many standard errors up, more of them with few encounters (Student's t)."""
    return _at(fit, quantile(normal_share(height), fit.degrees_of_freedom))


def _at(fit: Fit, deviation: float) -> float:
    return float(np.interp(deviation, fit.deviations, fit.losses))
