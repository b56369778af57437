"""The model of hits: what it must get right whatever the numbers."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.firm_words import interval
from auditor.statistics.hit_model import Arms, Fit, fit
from auditor.statistics.shared_luck import Nest, nested_covariance
from benchmarks.simulated_records import Photographer, Record, paired, record


def arms_of(one: Record) -> Arms:
    return Arms(**{name: getattr(one, name) for name in Record.__slots__})


def a_year(seed: int = 1, loss: float = 0.2, *, far: float = 1.0, bright: float = 0.6) -> Arms:
    who = Photographer(loss=loss, far=far, bright=bright)
    return arms_of(record(who, np.random.default_rng(seed), trips=6))


def fitted(arms: Arms) -> Fit:
    found = fit(arms)
    assert found is not None
    return found


def test_a_loss_is_told_where_there_is_one_and_none_where_there_is_none() -> None:
    told = {loss: np.mean([fitted(a_year(seed, loss)).loss for seed in range(40)]) for loss in (0.0, 0.2)}
    assert_allclose([told[0.0], told[0.2]], [0.0, 0.2], atol=0.03)


def test_the_nested_covariance_is_inverted_as_a_dense_one_would_be() -> None:
    chance = np.random.default_rng(3)
    arms = a_year(5)
    order = np.lexsort((arms.treated, arms.encounter, arms.sitting, arms.trip))
    arms = arms.only(order)
    theta = np.array([-1.0, -1.5, -0.5, -1.2])
    own, parts = nested_covariance(theta[None], arms.frames)
    trip, sitting, encounter = parts[0]
    dense = np.diag(own[0])
    for part, names in ((trip, arms.trip), (sitting, arms.sitting), (encounter, arms.encounter)):
        dense += part * (names[:, None] == names[None, :])
    columns = chance.normal(size=(len(dense), 3))
    products, log = Nest.of(arms.levels).products(columns, (own, parts))
    assert_allclose(products[0], columns.T @ np.linalg.inv(dense) @ columns, rtol=1e-9)
    assert_allclose(log[0], np.linalg.slogdet(dense)[1], rtol=1e-9)


def test_names_and_order_do_not_matter() -> None:
    arms = a_year(2)
    shuffled = arms.only(np.random.default_rng(1).permutation(len(arms.frames)))
    renamed = replace(shuffled, encounter=10_000 - 3 * shuffled.encounter, trip=50 - shuffled.trip)
    one, other = fitted(arms), fitted(renamed)
    assert_allclose([other.loss, other.error], [one.loss, one.error], rtol=1e-3)


def test_the_other_kit_gains_what_this_one_loses() -> None:
    arms = a_year(4)
    one, other = fitted(arms), fitted(replace(arms, treated=~arms.treated))
    assert_allclose(other.loss, -one.loss, rtol=0.02)


def test_half_a_hit_weighs_half() -> None:
    """Two frames that are each a hit with one half tell the same rate as one hit and one miss."""
    arms = a_year(6)
    halves = replace(arms, hits=arms.frames / 2)
    found = fitted(halves)
    assert_allclose([found.loss, found.rate], [0.0, 0.5], atol=1e-6)


def test_a_few_encounters_without_distance_change_little() -> None:
    """Distance missing in 3 of 100 must not switch its adjustment off for all."""
    gaps = []
    for seed in range(20):
        arms = a_year(seed, 0.0, far=1.5, bright=0.0)
        assert arms.distance_log2 is not None
        distance = arms.distance_log2.copy()
        distance[np.random.default_rng(seed).random(len(distance)) < 0.03] = np.nan
        one, other = fitted(arms), fitted(replace(arms, distance_log2=distance))
        assert other.distance_share > 0.9
        gaps.append(abs(one.loss - other.loss))
    assert np.median(gaps) < 0.01


def test_distance_that_is_adjusted_for_does_not_blame_the_converter() -> None:
    told = []
    for seed in range(40):
        arms = a_year(seed, 0.0, far=1.5, bright=0.0)
        told.append([fitted(one).loss for one in (arms, replace(arms, distance_log2=None))])
    adjusted, bare = np.mean(told, axis=0)
    assert abs(adjusted) < 0.02
    assert bare > 0.03


def test_both_kits_on_an_animal_weigh_more_than_each_on_its_own() -> None:
    together = arms_of(paired(0.2, np.random.default_rng(9), animals=20))
    own = np.arange(len(together.frames))
    apart = replace(together, encounter=own, sitting=own)
    one, other = fitted(together), fitted(apart)
    assert one.error < 0.9 * other.error
    assert one.encounters_both == 20
    assert other.encounters_both == 0


def test_hours_in_a_hide_are_no_new_evidence_each() -> None:
    """Where encounters of a sitting share their luck, and one kit has a sitting to itself, the error
    grows."""
    chance = np.random.default_rng(8)
    sitting = np.repeat(np.arange(12), 8)
    luck = np.repeat(chance.normal(0, 1.5, 12), 8)
    frames = np.full(96, 10.0)
    arms = Arms(
        trip=np.zeros(96, dtype=np.int64),
        sitting=sitting,
        encounter=np.arange(96),
        treated=np.repeat(np.arange(12) % 2 == 0, 8),
        hits=chance.binomial(10, 1 / (1 + np.exp(-luck))).astype(float),
        frames=frames,
        light_ev=np.full(96, 11.0),
    )
    by_sitting, by_encounter = fitted(arms), fitted(replace(arms, sitting=np.arange(96)))
    assert by_sitting.error > 1.5 * by_encounter.error


@pytest.mark.parametrize("trips", [2, 6])
def test_the_interval_holds_the_loss_as_often_as_it_says(trips: int) -> None:
    held = []
    for seed in range(150):
        chance = np.random.default_rng([trips, seed])
        found = fit(arms_of(record(Photographer(loss=0.1), chance, trips=trips)))
        if found is not None:
            low, high = interval(found)
            held.append(low <= 0.1 <= high)
    assert 0.90 <= np.mean(held) <= 0.99


def test_nothing_is_fitted_where_nothing_can_be() -> None:
    arms = a_year(1)
    assert fit(arms.only(arms.treated)) is None
    assert fit(replace(arms, hits=arms.frames)) is None
    assert fit(replace(arms, hits=np.zeros_like(arms.frames))) is None


@pytest.mark.parametrize(("both", "freedom"), [(0, 12 - 4), (3, 12 + 3 - 4)])
def test_a_few_hours_are_a_few_looks_at_luck(both: int, freedom: int) -> None:
    """Of 12 sittings with 3 animals each, and level, kit, light and distance told from them, 12 - 4 are left.

    As in any linear model (n - p); an animal that both kits met tells of the kit by itself.
    """
    sitting = np.repeat(np.arange(12), 3)
    encounter = np.arange(36)
    treated = sitting % 2 == 0
    again = np.arange(both)
    rows = np.concatenate([encounter, again])
    chance = np.random.default_rng(7)
    found = fitted(
        Arms(
            trip=np.zeros(len(rows), np.int64), sitting=sitting[rows], encounter=encounter[rows],
            treated=np.concatenate([treated, ~treated[again]]), frames=np.full(len(rows), 9.0),
            hits=chance.integers(2, 8, len(rows)).astype(float), light_ev=chance.normal(10, 2, len(rows)),
        )
    )  # fmt: skip
    assert (found.encounters_both, found.degrees_of_freedom) == (both, freedom)
