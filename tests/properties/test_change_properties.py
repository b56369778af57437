"""A fall inside a trip: what is found, what is not, and what it does not depend on."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.statistics import change
from auditor.statistics.change import Change, fall


def trip(
    seed: int, *, depth: float, encounters: int = 40, bursts: int = 2, light_effect: float = 0.0
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Hits, frames, encounter and light of bursts whose last two fifths hit less, by so many logits."""
    chance = np.random.default_rng(seed)
    encounter = np.repeat(np.arange(encounters), bursts)
    light = np.linspace(14, 8, len(encounter)) + chance.normal(0, 1, len(encounter))
    later = np.arange(len(encounter)) >= 0.6 * len(encounter)
    frames = chance.integers(4, 12, len(encounter))
    luck = chance.normal(0, 0.5, encounters)[encounter]
    logit = 1.0 + luck - depth * later + light_effect * (light - 11)
    return chance.binomial(frames, 1 / (1 + np.exp(-logit))), frames, encounter, light


def test_a_knock_is_found_where_it_was() -> None:
    hits, frames, encounter, _light = trip(1, depth=2.5)
    found = fall(hits, frames, encounter)
    assert found is not None
    assert found.p_value < 0.01
    assert found.after == len(hits)
    assert abs(found.first - 48) <= 4
    assert found.rate_inside < found.rate_outside - 0.3
    before, later = slice(0, found.first), slice(found.first, None)
    assert found.rate_outside == pytest.approx(hits[before].sum() / frames[before].sum())
    assert found.rate_inside == pytest.approx(hits[later].sum() / frames[later].sum())


def test_light_that_fades_is_no_knock() -> None:
    alarms, unadjusted = 0, 0
    for seed in range(20):
        hits, frames, encounter, light = trip(seed, depth=0, light_effect=0.6)
        with_light, without = fall(hits, frames, encounter, light), fall(hits, frames, encounter)
        assert isinstance(with_light, Change)
        assert isinstance(without, Change)
        alarms += with_light.p_value <= 0.05
        unadjusted += without.p_value <= 0.05
    assert alarms <= 3  # 20 trips at 5 % give more than 3 in 1.6 % of cases
    assert unadjusted >= 12


def test_too_few_encounters_and_trips_without_a_miss_tell_nothing() -> None:
    hits, frames, encounter, _light = trip(3, depth=2.0, encounters=7, bursts=6)
    assert fall(hits, frames, encounter) is None
    hits, frames, encounter, _light = trip(3, depth=0.0)
    assert fall(frames, frames, encounter) is None


def test_arrays_of_unequal_length_are_refused() -> None:
    with pytest.raises(ValueError, match="one length"):
        fall([1, 2], [3, 3, 3], [1, 2, 3])


def test_a_stretch_leaves_a_tenth_at_the_beginning_and_never_takes_all() -> None:
    chance = np.random.default_rng(5)
    for length in (10, 37, 200):
        first, after, _depth = change.lowest_stretch(chance.normal(size=length))
        assert 0.1 * length <= first < after <= length
        assert 0.1 * length <= after - first <= 0.9 * length
