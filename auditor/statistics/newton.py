"""The least value of a smooth function of a few numbers, by Newton's steps on differences.

Values are asked for in one go: all points around the present one at once, as arrays like to be asked.

References
----------
J. Nocedal, S. J. Wright, Numerical Optimization, 2nd ed. (2006): sections 3.4 (a Hessian made positive
definite), 3.1 (steps halved until they pay) and 8.1 (derivatives by differences) (R).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]

STEP = 1e-3
"""Of the differences: their error in a slope is about its square, far below what a fit can resolve."""
CLOSE = 1e-4
"""A step so short is the last: what is left is about its square."""
NOISE = 1e-12
"""Values that differ by no more, as a share, differ by rounding: no short step must be refused for that."""
ROUNDS = 30
LEAST_CURVATURE = 1e-3
LONGEST_STEP = 2.0
"""In any one number: far from the least value curvature misleads."""


def least(values: Callable[[Floats], Floats], start: Floats, bounds: tuple[float, float]) -> Floats:
    """Where a function is least, near a start.

    Parameters
    ----------
    values
        Takes points, shape (points, numbers); gives their values, shape (points,).
    start
        Shape (numbers,).
    bounds
        The lowest and the highest that any of the numbers may be.

    Returns
    -------
    The point, shape (numbers,).
    """
    around = STEP * _around(len(start))
    point = np.clip(start, *bounds)
    here = values(point + around)
    for _round in range(ROUNDS):
        slope, curvature = _derivatives(here)
        # Held at a bound: what pushes against it does not count.
        held = ((point <= bounds[0]) & (slope > 0)) | ((point >= bounds[1]) & (slope < 0))
        step = np.zeros_like(point)
        if not held.all():
            step[~held] = _step(slope[~held], curvature[np.ix_(~held, ~held)])
        tried = np.clip(point + step, *bounds)
        there = values(tried + around)
        highest = here[0] + NOISE * abs(here[0])
        while there[0] > highest and np.abs(step).max() > CLOSE:
            step = step / 2
            tried = np.clip(point + step, *bounds)
            there = values(tried + around)
        if there[0] > highest:
            break
        moved = float(np.abs(tried - point).max())
        point, here = tried, there
        if moved < CLOSE:
            break
    return point


def _around(numbers: int) -> Floats:
    """Directions: none, each number up and down, and each two together up and down."""
    each = np.eye(numbers)
    rows, columns = np.triu_indices(numbers, 1)
    both = each[rows] + each[columns]
    return np.vstack([np.zeros((1, numbers)), each, -each, both, -both])


def _derivatives(values: Floats) -> tuple[Floats, Floats]:
    """Slope and Hessian from the values in the directions of `_around`."""
    numbers = round((-1 + np.sqrt(4 * len(values) - 3)) / 2)
    here, up, down = values[0], values[1 : 1 + numbers], values[1 + numbers : 1 + 2 * numbers]
    together = values[1 + 2 * numbers :].reshape(2, -1).sum(axis=0)
    curved = up + down - 2 * here
    hessian = np.diag(curved)
    rows, columns = np.triu_indices(numbers, 1)
    hessian[rows, columns] = (together - 2 * here - curved[rows] - curved[columns]) / 2
    hessian[columns, rows] = hessian[rows, columns]
    return (up - down) / (2 * STEP), hessian / STEP**2


def _step(slope: Floats, curvature: Floats) -> Floats:
    ways = np.linalg.eigh(curvature)
    bent = np.maximum(np.abs(ways.eigenvalues), LEAST_CURVATURE)
    step = -ways.eigenvectors @ ((ways.eigenvectors.T @ slope) / bent)
    return np.asarray(step * min(1.0, LONGEST_STEP / max(float(np.abs(step).max()), 1e-12)))
