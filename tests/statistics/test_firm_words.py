"""Firm words: the error that they keep over looks, computed apart from any simulation of trips."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from auditor.statistics.firm_words import (
    BAR_EVERY_LOOK,
    BAR_FELL,
    BAR_NO_FALL,
    bar,
    firm_word,
    firm_words,
    interval,
    interval_at_every_look,
)
from auditor.statistics.hit_model import Fit, fit
from benchmarks.simulated_records import Photographer, record
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


@pytest.mark.parametrize(
    ("height", "both_sides", "at_24", "for_ever"),
    [
        (BAR_FELL, False, 0.030, 0.036),
        (BAR_NO_FALL, False, 0.072, 0.090),
        (BAR_EVERY_LOOK, True, 0.036, 0.042),
    ],
)
def test_the_error_over_all_looks_is_what_is_promised(
    height: float, both_sides: bool, at_24: float, for_ever: float
) -> None:
    """Looks after every trip from the third on, as soon as there can be eight encounters a kit."""
    trips = np.arange(3, 181)
    information = trips / 6 / ERROR_OF_A_YEAR**2
    bars = np.array([bar(height, 1 / np.sqrt(one)) for one in information])
    assert crossed(information[:22], bars[:22], both_sides=both_sides) <= at_24
    assert crossed(information, bars, both_sides=both_sides) <= for_ever


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
    nearest = np.interp(-bar(BAR_FELL, found.error) - 0.05, found.deviations, found.losses)
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


def test_the_bar_rises_with_the_record() -> None:
    assert bar(BAR_FELL, 0.02) > bar(BAR_FELL, 0.05) > bar(BAR_FELL, 0.2)
