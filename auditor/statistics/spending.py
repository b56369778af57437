"""How high the bar of a claim is at each look, so that its error over all looks stays what was promised.

A photographer looks after every trip. Each look may spend a part of the error that was promised for all of
them together; how much has been spent follows from how well the loss is known by then, half of it when its
standard error is 10 points, all of it never. So a record that was looked at six times has spent the
year's share in six small parts, and an experiment that is first looked at when it is done spends its share
in one: the more looks, the higher the bar. Exact for a Brownian motion, which estimates over growing records
follow as they get longer.

References
----------
K. K. G. Lan, D. L. DeMets, Discrete sequential boundaries for clinical trials, Biometrika 70 (1983): the
error is spent by information, whatever the number of looks (R).
P. Armitage, C. K. McPherson, B. C. Rowe, Repeated significance tests on accumulating data, J. R. Stat. Soc. A
132 (1969): the density of what has not crossed yet, carried from look to look (R).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from functools import cache, lru_cache
from statistics import NormalDist
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]

HALF_SPENT_ERROR = 0.10
"""Standard error of the loss, as a share, at which half of the error is spent: fifteen animals with both
kits, or half a year of usual trips."""
LEAST_GROWTH = 1.03
"""A look at a record whose information has grown by less keeps the bar of the look before."""
HIGHEST, BAR_STEP = 10.0, 10.0 / 2**24
"""Of bars, in standard errors: they are found to a millionth, rounded up."""
CLOSE, ROUNDS = 1e-12, 50
NODES, LOWEST = 48, -5.0
"""Of the density, from so many standard errors below nothing up to the bar: bars are right to 0.001."""


def spent(error: float, total: float) -> float:
    """How much of a total error may be spent until the loss is known to this standard error.

    Parameters
    ----------
    error
        Standard error of the loss, as a share.
    total
        How likely a false claim may be at any look.

    Returns
    -------
    float
        A probability, at most `total`.
    """
    return total / (1 + (error / HALF_SPENT_ERROR) ** 2)


def bars(errors: Sequence[float], total: float) -> tuple[float, ...]:
    """How many standard errors a claim needs at each look.

    Parameters
    ----------
    errors
        Standard error of the loss at each look, as a share, in order of looks, falling.
    total
        How likely the claim may be at any look, where it is false.

    Returns
    -------
    tuple[float, ...]
        In the order of `errors`.
    """
    return _bars(tuple(float(error) for error in errors), total)


@lru_cache(maxsize=512)
def _bars(errors: tuple[float, ...], total: float) -> tuple[float, ...]:
    inside, weights = _nodes()
    heights: list[float] = []
    places = density = np.zeros(0)
    before = already = 0.0
    for error in errors:
        now = 1 / error**2
        if heights and now < LEAST_GROWTH * before:
            heights.append(heights[-1])
            continue
        allowed, already = spent(error, total) - already, spent(error, total)
        root, grown = np.sqrt(now), np.sqrt(now - before)
        if heights:
            step = BAR_STEP * float(root)
            top = step * math.ceil(_least_top(heights[-1] * root, density, places, grown, allowed) / step)
            top = min(max(top, step), HIGHEST * root)
        else:
            top = -NormalDist().inv_cdf(allowed) * root
        middle, reach = (top + LOWEST * root) / 2, (top - LOWEST * root) / 2
        here = middle + reach * inside
        if heights:
            carried = np.exp(-(((here[:, None] - places) / grown) ** 2) / 2) @ density
        else:
            carried = np.exp(-((here / grown) ** 2) / 2)
        density = reach * weights * carried / (grown * np.sqrt(2 * np.pi))
        places, before = here, now
        heights.append(float(top / root))
    return tuple(heights)


def _least_top(start: float, density: Floats, places: Floats, grown: float, allowed: float) -> float:
    """From where on a claim at this look, and at none before, is no likelier than it may be.

    The logarithm of a tail falls ever more steeply, so that Newton's steps arrive from anywhere.
    """
    top = start
    for _round in range(ROUNDS):
        apart = (top - places) / (math.sqrt(2) * grown)
        likely = 0.5 * float(density @ [math.erfc(place) for place in apart.tolist()])
        falls = float(density @ np.exp(-(apart**2))) / (math.sqrt(2 * math.pi) * grown)
        if likely <= 0 or falls <= 0:
            break
        step = math.log(likely / allowed) * likely / falls
        top += step
        if abs(step) < CLOSE * grown:
            break
    return top


@cache
def _nodes() -> tuple[Floats, Floats]:
    return np.polynomial.legendre.leggauss(NODES)
