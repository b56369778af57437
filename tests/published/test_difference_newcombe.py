"""Difference of two shares.

R. G. Newcombe, Interval estimation for the difference between independent proportions, Statistics in
Medicine 17 (1998), method 10: 56/70 - 48/80 -> 0.0524 to 0.3339 (R). The same method in statsmodels is
asked besides.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.intervals import Interval, clustered_wilson, difference


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
