"""Whether bursts of two bodies fall together, told from what chance brings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.statistics.meetings import fall_together, first_meetings, may_fall_together

HOUR_S = 3600.0


def outings(seed: int, shared: float) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Bursts of two bodies on 12 animals a day for three days, so large a share of them with both."""
    chance = np.random.default_rng(seed)
    bodies: tuple[list[float], list[float]] = ([], [])
    for day in range(3):
        for _animal in range(12):
            begins = 24 * HOUR_S * day + chance.uniform(6, 19) * HOUR_S
            both = chance.uniform() < shared
            for body in (0, 1) if both else (int(chance.uniform() < 0.3),):
                bodies[body].extend(begins + chance.uniform(0, 600, chance.integers(1, 5)))
    return np.sort(bodies[0]), np.sort(bodies[1])


def test_a_run_counts_once_however_many_of_its_bursts_meet() -> None:
    runs = np.array([0.0, 60.0, 120.0, 5000.0, 9000.0])
    assert first_meetings(np.array([30.0, 100.0, 8950.0]), runs).tolist() == [True, False, False, False, True]


@pytest.mark.parametrize(("apart_s", "meets"), [(90.0, True), (91.0, False)])
def test_bursts_meet_within_a_minute_and_a_half(apart_s: float, meets: bool) -> None:
    assert first_meetings(np.array([1000.0]), np.array([1000.0 - apart_s]))[0] == meets


def test_no_burst_meets_none() -> None:
    assert not first_meetings(np.array([]), np.array([5.0])).any()
    assert not fall_together(np.array([5.0]), np.array([]))


@pytest.mark.parametrize("shift_s", [HOUR_S, 8 * HOUR_S])
def test_bodies_on_the_same_animals_are_told_from_bodies_that_never_were(shift_s: float) -> None:
    """The first are nearly always found at the true shift, the second hardly ever at any."""
    found = chance = 0
    for seed in range(40):
        reference, moments = outings(seed, shared=0.5)
        found += fall_together(reference, moments - shift_s, shift_s)
        chance += fall_together(reference, moments - shift_s)
        reference, moments = outings(seed, shared=0.0)
        chance += fall_together(reference, moments, shift_s)
    assert found >= 36
    assert chance <= 1


def test_what_falls_together_may_do_so() -> None:
    for seed in range(20):
        reference, moments = outings(seed, shared=0.3)
        assert may_fall_together(reference, moments) or not fall_together(reference, moments)
