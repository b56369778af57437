"""How much frames share: our Newton steps against SciPy's minimiser on the same function."""

from __future__ import annotations

from typing import Any
from unittest import mock

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize, rosen

from auditor.statistics import shared_luck
from auditor.statistics.newton import least
from benchmarks.simulated_records import Photographer, record
from tests.statistics.test_hit_model import arms_of, fitted


def by_scipy(values: Any, start: Any, bounds: tuple[float, float]) -> Any:
    def value(point: Any) -> float:
        return float(values(point[None])[0])

    return minimize(
        value, start, method="L-BFGS-B", bounds=[bounds] * len(start),
        options={"maxiter": 500, "ftol": 1e-15, "gtol": 1e-9},
    ).x  # fmt: skip


@pytest.mark.parametrize("trips", [1, 2, 6, 24])
@pytest.mark.parametrize("loss", [0.0, 0.2])
def test_the_fit_is_the_one_that_scipy_finds(trips: int, loss: float) -> None:
    arms = arms_of(record(Photographer(loss=loss), np.random.default_rng([7, trips]), trips=trips))
    found = fitted(arms)
    with mock.patch.object(shared_luck, "least", by_scipy):
        other = fitted(arms)
    assert_allclose(
        [found.loss, found.error, found.rate], [other.loss, other.error, other.rate], rtol=0, atol=1e-6
    )
    assert_allclose(list(found.parts.values()), list(other.parts.values()), atol=1e-5)


def test_products_are_those_of_the_whole_covariance_however_many_points_are_worked_at_once(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """The covariance written out, and inverted by NumPy."""
    chance = np.random.default_rng(11)
    levels = np.sort(chance.integers(0, [2, 4, 9], (24, 3)), axis=0)
    levels[:, 1] += 10 * levels[:, 0]
    levels[:, 2] += 100 * levels[:, 1]
    levels = levels[np.lexsort(levels.T[::-1])]
    columns, frames = chance.normal(size=(24, 3)), chance.integers(1, 9, 24).astype(float)
    points = shared_luck.usual_parts() + chance.normal(0, 0.5, (5, 4))
    own, shared = shared_luck.nested_covariance(points, frames)
    nest = shared_luck.Nest.of(levels)
    for near in (1, 2 * 4 * 24, 10**6):
        monkeypatch.setattr(shared_luck, "NEAR_THE_PROCESSOR", near)
        grams, logs = nest.products(columns, (own, shared))
        for point in range(5):
            whole = np.diag(own[point])
            for level in range(3):
                same = levels[:, level, None] == levels[None, :, level]
                whole += shared[point, level] * same
            assert_allclose(grams[point], columns.T @ np.linalg.inv(whole) @ columns, rtol=1e-9, atol=1e-9)
            assert_allclose(logs[point], np.linalg.slogdet(whole)[1], rtol=1e-9)


def test_a_bent_valley() -> None:
    """H. H. Rosenbrock (1960): least at (1, 1, 1, 1), along a valley whose floor hardly falls."""
    found = least(lambda points: np.array([rosen(point) for point in points]), np.full(4, 0.3), (-5.0, 5.0))
    assert_allclose(found, np.ones(4), atol=1e-3)


def test_bounds_hold() -> None:
    """Least at (2, -3) without bounds; with them at the nearest point of the square, since the valley is
    round."""

    def values(points: Any) -> Any:
        return ((points - np.array([2.0, -3.0])) ** 2).sum(axis=1)

    assert_allclose(least(values, np.zeros(2), (-1.0, 5.0)), [2.0, -1.0], atol=1e-5)
