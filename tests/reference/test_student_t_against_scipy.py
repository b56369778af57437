"""Student's t and the normal distribution against scipy.special, which computes them by other means."""

from __future__ import annotations

import math

import pytest
from scipy.special import ndtr, stdtr, stdtrit

from auditor.statistics.student_t import normal_share, quantile, share_below

FREEDOMS = (1, 1.5, 2, 3, 10, 29.3, 299, 301, 1000, 12_345, 117_255)


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_shares(freedom: float) -> None:
    # Around the place where another continued fraction serves (square 3), at the middle and far out.
    for place in (-40, -8, -3, -1.8, -1.75, -1.7, -0.1, 0, 0.001, 0.5, 1.7, 1.75, 1.8, 5, 20):
        theirs = float(stdtr(freedom, place))
        if theirs > 1e-290:  # below, floats have fewer digits
            assert share_below(place, freedom) == pytest.approx(theirs, rel=1e-11)


@pytest.mark.parametrize("freedom", FREEDOMS)
def test_quantiles(freedom: float) -> None:
    for share in (1e-12, 1e-5, 0.025, 0.4, 0.6, 0.975, 0.999, 1 - 1e-7):
        # Theirs stops a little earlier; ours leads back to the share that was asked for.
        assert quantile(share, freedom) == pytest.approx(float(stdtrit(freedom, share)), rel=1e-9)
        assert share_below(quantile(share, freedom), freedom) == pytest.approx(share, rel=1e-11)


def test_ends_and_middle() -> None:
    assert quantile(0.5, 7) == 0.0
    assert quantile(1.0, 7) == math.inf
    assert quantile(0.0, 7) == -math.inf
    assert share_below(math.inf, 7) == 1.0
    assert share_below(-math.inf, 7) == 0.0


def test_normal_shares() -> None:
    for place in (-35, -8, -1, 0, 0.5, 6):
        assert normal_share(place) == pytest.approx(float(ndtr(place)), rel=1e-12)
