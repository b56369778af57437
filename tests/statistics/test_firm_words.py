"""Firm words: the error that they keep over looks, computed apart from any simulation of trips."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from auditor.statistics.firm_words import (
    FELL_ERROR,
    INTERVAL_ERROR,
    NO_FALL_ERROR,
    bar,
    bars_ahead,
    firm_word,
    firm_words,
    interval,
    interval_at_every_look,
)
from auditor.statistics.hit_model import Fit, Look, fit
from auditor.statistics.spending import HALF_SPENT_ERROR, bars, spent
from benchmarks.other_records import paired as paired_otherwise
from benchmarks.simulated_records import Photographer, paired, record
from tests.statistics.test_hit_model import arms_of

ERROR_OF_A_YEAR = 0.066
"""Of the loss, in the median of simulated years of six trips (benchmarks/comparisons.py)."""


def crossed(information: np.ndarray, bars: np.ndarray, *, both_sides: bool) -> float:
    """Probability that a Brownian motion, over its root of information, ever lies over the bars.

    P. Armitage, C. K. McPherson, B. C. Rowe, Repeated significance tests on accumulating data, J. R. Stat.
    Soc. A 132 (1969): the density of what has not crossed yet, carried from look to look.
    """
    grid = np.linspace(-1, 1, 401)
    inside = 1.0
    place = density = None
    for look, (now, height) in enumerate(zip(information, bars, strict=True)):
        top = height * np.sqrt(now)
        bottom = -top if both_sides else -6 * np.sqrt(now)
        points = (bottom + top) / 2 + grid * (top - bottom) / 2
        step = points[1] - points[0]
        if place is None:
            here = norm.pdf(points, scale=np.sqrt(now))
        else:
            gone = np.sqrt(now - information[look - 1])
            here = norm.pdf((points[:, None] - place[None, :]) / gone) / gone @ density
        weights = np.full(len(grid), step)
        weights[[0, -1]] /= 2
        place, density = points, here * weights
        inside = float(density.sum())
    return 1 - inside


@pytest.mark.parametrize(("constant", "power"), [(2.413, 0.5), (2.040, 0.0)])
def test_the_computation_agrees_with_published_bars(constant: float, power: float) -> None:
    """C. Jennison, B. W. Turnbull, Group Sequential Methods (2000), tables 2.1 and 2.3: five looks, 5 % on
    both sides; Pocock 2.413, O'Brien and Fleming 2.040 (R)."""
    looks = np.arange(1, 6) / 5
    assert_allclose(crossed(looks, constant * looks ** (power - 0.5), both_sides=True), 0.05, atol=2e-4)


@pytest.mark.parametrize("total", [FELL_ERROR, NO_FALL_ERROR, INTERVAL_ERROR])
def test_the_error_over_all_looks_is_what_is_spent(total: float) -> None:
    """Looks after every trip from the third on, as soon as there can be eight encounters a kit."""
    information = np.arange(3, 27) / 6 / ERROR_OF_A_YEAR**2
    errors = 1 / np.sqrt(information)
    # Two trips that add less than 3 % share a bar; here the later ones do.
    counted = [0]
    for look in range(1, len(errors)):
        if information[look] >= 1.03 * information[counted[-1]]:
            counted.append(look)
    heights = np.array(bars(errors.tolist(), total))
    until = crossed(information[counted], heights[counted], both_sides=False)
    assert_allclose(until, spent(errors[counted[-1]], total), atol=1e-4)
    assert crossed(information, heights, both_sides=False) < 1.05 * total


def test_half_of_the_error_is_spent_when_the_loss_is_known_to_ten_points() -> None:
    assert_allclose(spent(HALF_SPENT_ERROR, 0.04), 0.02)
    assert spent(1e-4, 0.04) < 0.04


def test_the_fewer_looks_the_lower_the_bar() -> None:
    """One look is the quantile of what may be spent until then; an earlier look takes a part of it."""
    (once,) = bars([0.08], 0.045)
    assert_allclose(once, -norm.ppf(spent(0.08, 0.045)), rtol=1e-9)
    twice = bars([0.12, 0.08], 0.045)[1]
    often = bars([0.12, 0.11, 0.10, 0.09, 0.08], 0.045)[-1]
    assert once < twice < often


def a_fit(loss: float, seed: int = 1, trips: int = 24) -> Fit:
    found = fit(arms_of(record(Photographer(loss=loss), np.random.default_rng(seed), trips=trips)))
    assert found is not None
    return found


def test_large_losses_and_none_are_told_from_a_long_record() -> None:
    assert firm_word(a_fit(0.3)) == "fell"
    assert firm_word(a_fit(0.0)) == "no fall beyond 10 points"


def test_a_week_is_not_enough() -> None:
    assert firm_word(a_fit(0.3, trips=1)) == "not enough evidence"


def test_a_fall_must_stand_among_all_kits() -> None:
    """A kit that only just fell by itself does not among nine that did not."""
    found = a_fit(0.2)
    nearest = np.interp(-bar(found, FELL_ERROR) - 0.05, found.deviations, found.losses)
    only_just = moved(found, 0.002 - float(nearest))
    others = [moved(found, -found.loss)] * 9
    assert firm_word(only_just) == "fell"
    assert firm_words([only_just, *others])[0] != "fell"
    assert firm_words([a_fit(0.3), *others])[0] == "fell"


def moved(one: Fit, by: float) -> Fit:
    return replace(one, loss=one.loss + by, losses=one.losses + by)


def test_the_interval_at_every_look_is_the_wider_one() -> None:
    found = a_fit(0.1)
    low, high = interval(found)
    lowest, highest = interval_at_every_look(found)
    assert lowest < low < found.loss < high < highest


def test_looks_are_the_ends_of_trips_and_know_what_was_known_then() -> None:
    drawn = record(Photographer(loss=0.1), np.random.default_rng(1), trips=8)
    whole = fit(arms_of(drawn))
    assert whole is not None
    assert len(whole.looks) == 8
    for trips in (4, 6, 8):
        then = fit(arms_of(drawn.until(trips)))
        assert then is not None
        look = whole.looks[trips - 1]
        assert look[1:] == (then.encounters, then.encounters_bare, then.encounters_both)
        # What frames share is told from the whole record, not from what was there then.
        assert_allclose(look.error, then.error, rtol=0.2)
    assert_allclose(whole.looks[-1].error, whole.error, rtol=1e-9)


def test_bars_ahead_are_those_of_the_record_gone_on() -> None:
    found = a_fit(0.1, trips=8)
    times = [1.1**step for step in range(1, 20)]
    ahead = bars_ahead(found, FELL_ERROR, times)
    assert len(ahead) == len(times)
    assert ahead[-1] > bar(found, FELL_ERROR)


def test_an_experiment_that_is_looked_at_when_it_is_done_can_tell_a_fall() -> None:
    """Twelve animals, each with both kits, from two random models: a loss of 20 is told in about half."""
    for drawn in (paired, paired_otherwise):
        told = {
            loss: [
                firm_word(found) == "fell"
                for number in range(80)
                if (found := fit(arms_of(drawn(loss, np.random.default_rng([2, number]))))) is not None
            ]
            for loss in (0.0, 0.2)
        }
        assert np.mean(told[0.2]) > 0.4
        assert np.mean(told[0.0]) <= 0.075


@pytest.mark.parametrize(("loss", "word"), [(0.025, "no fall beyond 10 points"), (0.03, "inconclusive")])
def test_no_fall_is_said_where_its_bar_below_ten_points_is_cleared(loss: float, word: str) -> None:
    """K. K. G. Lan, D. L. DeMets, Biometrika 70 (1983): a first look spends what may be spent by then (R).

    At a standard error of 5 points that is 4/5 of the 9 %, a normal tail of 7.2 %, so the bar is 1.46 errors:
    2.5 + 1.46 x 5 lies under 10 points, 3 + 1.46 x 5 does not.
    """
    assert norm.isf(0.8 * NO_FALL_ERROR) == pytest.approx(1.461, abs=1e-3)
    one, error = a_fit(0.1), 0.05
    looked_at_once = replace(
        one, loss=loss, error=error, losses=loss + error * one.deviations, degrees_of_freedom=10**7,
        looks=(Look(error, 20, 20, 20),),
    )  # fmt: skip
    assert firm_word(looked_at_once) == word
