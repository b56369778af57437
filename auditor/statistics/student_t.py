"""Student's t and the normal distribution: shares and quantiles of one number at a time.

scipy.special has them, too; but loading it takes longer than most of what this program is asked for.

References
----------
NIST Digital Library of Mathematical Functions, section 8.17 (the incomplete beta function: equations 4, 20
and 22, its continued fraction) and section 5.11 (R).
W. J. Lentz, Applied Optics 15 (1976): continued fractions from their beginning on (R).
"""

from __future__ import annotations

import math
from statistics import NormalDist

CLOSE = 1e-15
MOST_ROUNDS = 100_000
MOST_GAMMA = 150.0
"""Up to here gamma functions are within the range of a float."""
MOST_STEPS = 100

_NORMAL = NormalDist()


def normal_share(place: float) -> float:
    """The share of the normal distribution below a place.

    Parameters
    ----------
    place
        In standard deviations.

    Returns
    -------
    float
        0 to 1, right to the last digits where it is small.
    """
    return 0.5 * math.erfc(-place / math.sqrt(2))


def share_below(place: float, freedom: float) -> float:
    """The share of Student's t below a place.

    Parameters
    ----------
    place
        In standard errors.
    freedom
        Degrees of freedom, above 0.

    Returns
    -------
    float
        0 to 1, right to the last digits where it is small.
    """
    tail = _tail(abs(place), freedom)
    return tail if place < 0 else 1 - tail


def quantile(share: float, freedom: float) -> float:
    """The place below which a share of Student's t lies.

    Parameters
    ----------
    share
        0 to 1.
    freedom
        Degrees of freedom, above 0.

    Returns
    -------
    float
        In standard errors; infinite for a share of 0 or 1.
    """
    if not 0 < share < 1:
        return math.inf if share >= 1 else -math.inf
    if share == 0.5:
        return 0.0
    wanted = min(share, 1 - share)
    # The logarithm of the tail over that of the place falls ever more steeply: Newton's steps always arrive.
    place = -_NORMAL.inv_cdf(wanted)
    for _step in range(MOST_STEPS):
        tail = _tail(place, freedom)
        if tail <= 0:
            place /= 2
            continue
        slope = place * _density(place, freedom) / tail
        step = math.exp(min(math.log(tail / wanted) / slope, 30.0))
        place *= step
        if abs(step - 1) < CLOSE:
            break
    return place if share > 0.5 else -place


def _density(place: float, freedom: float) -> float:
    power = -(freedom + 1) / 2 * math.log1p(place**2 / freedom)
    return _gamma_ratio(freedom / 2) / math.sqrt(math.pi * freedom) * math.exp(power)


def _tail(place: float, freedom: float) -> float:
    """The share above a place that is not below 0."""
    if place == 0:
        return 0.5
    square = place**2
    if math.isinf(square):
        return 0.0
    half, above, below = freedom / 2, square / (freedom + square), freedom / (freedom + square)
    # x^a (1 - x)^b / B(a, b) for a = freedom / 2, b = 1 / 2 and x = freedom / (freedom + place^2).
    front = math.exp(-half * math.log1p(square / freedom)) * math.sqrt(above / math.pi) * _gamma_ratio(half)
    if below < (half + 1) / (half + 2.5):
        return front * _fraction(half, 0.5, below) / half / 2
    return 0.5 - front * _fraction(0.5, half, above)


def _gamma_ratio(number: float) -> float:
    """Gamma(number + 1/2) / Gamma(number)."""
    if number < MOST_GAMMA:
        return math.gamma(number + 0.5) / math.gamma(number)
    # Its square, in powers of 1 / number.
    return math.sqrt(number - 1 / 4 + (1 / 32 + (1 / 128 - 5 / (2048 * number)) / number) / number)


def _fraction(a: float, b: float, x: float) -> float:
    """a B(a, b) I_x(a, b) / (x^a (1 - x)^b): a continued fraction, for x under (a + 1) / (a + b + 2)."""
    down = 1 / (1 - (a + b) * x / (a + 1))
    up, value = 1.0, down
    for m in range(1, MOST_ROUNDS):
        for part in (
            m * (b - m) * x / ((a + 2 * m - 1) * (a + 2 * m)),
            -(a + m) * (a + b + m) * x / ((a + 2 * m) * (a + 2 * m + 1)),
        ):
            down, up = 1 / (1 + part * down), 1 + part / up
            change = down * up
            value *= change
        if abs(change - 1) < CLOSE:
            break
    return value
