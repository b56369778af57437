"""Difference of two shares.

R. G. Newcombe, Interval estimation for the difference between independent proportions, Statistics in
Medicine 17 (1998), method 10: 56/70 - 48/80 -> 0.0524 to 0.3339 (R). The same method in statsmodels is
asked besides.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.intervals import Interval, clustered_wilson, difference
from auditor.statistics.stratified import mantel_haenszel


def alone(hits: int, frames: int) -> Interval:
    """A share of frames that each stand alone."""
    return clustered_wilson([1] * hits + [0] * (frames - hits), [1] * frames)


def test_the_printed_example() -> None:
    estimate, low, high = difference(alone(56, 70), alone(48, 80))
    assert estimate == pytest.approx(0.2)
    assert_allclose((low, high), (0.0524, 0.3339), atol=5e-5)


@pytest.mark.parametrize("seed", range(6))
def test_other_shares_as_statsmodels_has_them(seed: int) -> None:
    from statsmodels.stats.proportion import confint_proportions_2indep

    chance = np.random.default_rng(seed)
    (n1, n0), (p1, p0) = chance.integers(5, 200, 2), chance.uniform(0, 1, 2)
    y1, y0 = int(chance.binomial(n1, p1)), int(chance.binomial(n0, p0))
    theirs = confint_proportions_2indep(y1, int(n1), y0, int(n0), method="newcomb", compare="diff")
    assert_allclose(difference(alone(y1, int(n1)), alone(y0, int(n0)))[1:], theirs, atol=1e-9)


@pytest.mark.parametrize("hits", [(56, 48), (70, 62), (9, 20)])
def test_where_half_of_a_difference_shows_the_interval_is_twice_as_wide(hits: tuple[int, int]) -> None:
    """The error of a rate behind a screening test is that of its share over what the test tells: W. J. Rogan,
    B. Gladen, American Journal of Epidemiology 107 (1978) (R)."""
    as_it_shows = mantel_haenszel([hits[0]], [70], [hits[1]], [80])
    assert as_it_shows is not None
    behind = as_it_shows.of_hits(0.5)
    assert behind.estimate == pytest.approx(2 * as_it_shows.estimate)
    assert_allclose(behind.interval(0.95), np.multiply(2, as_it_shows.interval(0.95)), atol=1e-12)
