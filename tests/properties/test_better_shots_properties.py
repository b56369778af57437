"""Kits compared by their better shots: size and power on simulated benches, and invariances."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.typing import NDArray

from auditor.statistics.better_shots import compare_better_shots


def shots(
    random: np.random.Generator, resolved: float, number: int = 5, missed_share: float = 0.1
) -> NDArray[np.float64]:
    """Shots that refocused: 3 % from shot to shot, and some out of focus by up to a quarter."""
    missed = random.random(number) < missed_share
    return np.asarray(
        resolved * np.exp(random.normal(0, 0.03, number)) * (1 - missed * random.uniform(0.05, 0.25, number))
    )


def test_two_benches_of_one_kit_differ_beyond_their_spread_in_at_most_7_of_100() -> None:
    random = np.random.default_rng(1)
    told = [
        compare_better_shots(shots(random, 40, missed_share=0.2), shots(random, 40, missed_share=0.2))
        for _pair in range(200)
    ]
    assert np.mean([result.low > 0 or result.high < 0 for result in told]) <= 0.07


def test_a_converter_that_adds_a_tenth_is_found_with_five_shots_a_kit() -> None:
    random = np.random.default_rng(2)
    told = [compare_better_shots(shots(random, 44), shots(random, 40)) for _pair in range(200)]
    assert np.mean([result.low > 0 for result in told]) >= 0.8
    assert np.median([result.gain for result in told]) == pytest.approx(0.10, abs=0.01)


def test_more_shots_of_one_kit_are_no_advantage() -> None:
    random = np.random.default_rng(3)
    told = [compare_better_shots(shots(random, 40, 20), shots(random, 40, 5)) for _pair in range(40)]
    assert abs(np.mean([result.gain for result in told])) < 0.01
    assert {result.shots for result in told} == {5}
    assert all(result.draw_spread is not None and 0.001 < result.draw_spread < 0.05 for result in told)
    assert compare_better_shots(shots(random, 40), shots(random, 40)).draw_spread is None


@given(st.lists(st.floats(10, 100), min_size=4, max_size=6), st.floats(0.5, 2))
def test_a_unit_cancels_and_kits_swap(values: list[float], unit: float) -> None:
    bare = [value * 1.03 + number for number, value in enumerate(values)]
    told = compare_better_shots(values, bare)
    scaled = compare_better_shots(np.array(values) * unit, np.array(bare) * unit)
    assert scaled.gain == pytest.approx(told.gain, abs=1e-9)
    swapped = compare_better_shots(bare, values)
    assert (1 + swapped.gain) * (1 + told.gain) == pytest.approx(1)
    assert (1 + swapped.low) * (1 + told.high) == pytest.approx(1, rel=1e-3)
    assert told.low <= told.gain <= told.high


@pytest.mark.parametrize(
    ("values", "name"), [([1.0, 2.0, 3.0], "at least 4"), ([1.0, 2.0, 0.0, 3.0], "above 0")]
)
def test_what_cannot_be_compared_is_named(values: list[float], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        compare_better_shots(values, [1.0, 2.0, 3.0, 4.0])
