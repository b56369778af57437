"""Rates behind probabilities of hits: against the truth of simulated readings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.intervals import Interval, clustered_wilson
from auditor.statistics.supposed_rate import kit_rate, supposed_rate
from auditor.statistics.telling import (
    ALL_KITS,
    LEAST_PROBABILITY,
    Telling,
    telling_of_words,
    tellings_of_readings,
    told,
)
from benchmarks import other_records, simulated_records
from benchmarks.simulated_readings import read
from benchmarks.simulated_records import Distance, Photographer
from tests.statistics.test_hit_model import arms_of, fitted

RECORDS = {"first": simulated_records.record, "second": other_records.record}


@pytest.mark.parametrize("model", ["first", "second"])
@pytest.mark.parametrize("distance", ["always", "never"])
def test_a_loss_is_not_drawn_towards_none_where_frames_are_unclear(model: str, distance: Distance) -> None:
    """A loss of 20 was told as 16 when each frame counted by its probability as it stands."""
    who = Photographer(loss=0.2, far=0.0, distance=distance)
    losses = []
    for seed in range(30):
        drawn = RECORDS[model](who, np.random.default_rng(seed), trips=12)
        known = (
            drawn,
            read(drawn, np.random.default_rng(seed)),
            read(drawn, np.random.default_rng(seed), undone=False),
        )
        losses.append([fitted(arms_of(one)).loss for one in known])
    true, undone, as_it_stands = np.mean(losses, axis=0)
    assert_allclose(undone, true, atol=0.012)
    assert as_it_stands < 0.85 * true


def test_a_screening_test_tells_the_rate_behind_it() -> None:
    """W. J. Rogan, B. Gladen, American Journal of Epidemiology 107 (1978): (positives + specificity - 1) /
    (sensitivity + specificity - 1) (R). A word that is right as often as its probability says is such a test.
    """
    sensitivity, specificity, rate = 0.9, 0.7, 0.6
    words = rate * sensitivity + (1 - rate) * (1 - specificity)
    right = rate * sensitivity / words, rate * (1 - sensitivity) / (1 - words)
    frames = 1000
    hits = frames * (words * right[0] + (1 - words) * right[1])
    squares = frames * (words * right[0] ** 2 + (1 - words) * right[1] ** 2)
    found = telling_of_words(frames, hits, squares)
    # Another kit: of its words 0.5 say that it hit.
    mean = 0.5 * right[0] + 0.5 * right[1]
    expected = (0.5 + specificity - 1) / (sensitivity + specificity - 1)
    assert_allclose((mean - found.base) / found.share, expected, rtol=1e-9)


def frames_of(
    rates: list[float], clear: float, supposed: float, seed: int, frames: int = 20
) -> list[list[float]]:
    """Encounters of a kit with these rates: how likely each frame is a hit, by readings on a scale."""
    chance = np.random.default_rng(seed)
    found = []
    for rate in rates:
        reading = np.where(chance.random(frames) < rate, clear, -clear) + chance.normal(0, 1, frames)
        odds = supposed / (1 - supposed) * np.exp(2 * clear * reading)
        found.append(np.clip(odds / (1 + odds), LEAST_PROBABILITY, 1 - LEAST_PROBABILITY).tolist())
    return found


def tellings(*kits: list[list[float]]) -> dict[int, Telling]:
    """Of kits 0, 1 and so on, each a list of encounters."""
    rows = [
        (kit, 1000 * kit + place, probability)
        for kit, encounters in enumerate(kits)
        for place, frames in enumerate(encounters)
        for probability in frames
    ]
    kit, encounter, probability = (np.array(column) for column in zip(*rows, strict=True))
    return tellings_of_readings(kit, encounter, probability)


def test_sure_readings_are_taken_as_they_are() -> None:
    """Frames at the bounds count as sure: three in four hits are a rate of three in four."""
    found = tellings([[0.98] * 75 + [0.02] * 25] * 100)[0]
    mean = 0.75 * 0.98 + 0.25 * 0.02
    assert_allclose((mean - found.base) / found.share, 0.75, atol=0.002)
    assert_allclose(found.share, 0.96, atol=0.002)


def test_hits_alone_say_little_of_how_well_they_are_read() -> None:
    found = tellings([[0.98] * 20] * 10)
    assert 0.5 < found[0].share < 0.97
    nothing = tellings_of_readings(*(np.zeros(0, dtype=np.int64),) * 2, np.zeros(0))
    assert nothing[ALL_KITS].share == pytest.approx(0.82)
    assert telling_of_words(50, 35.0, 50 * 0.7**2).share == pytest.approx(0.0, abs=1e-9)


@pytest.mark.parametrize("supposed", [0.3, 0.5, 0.7])
def test_the_rate_that_readings_suppose_is_seen(supposed: float) -> None:
    """Whatever the rate of the record is: here .62."""
    rates = [0.05, 0.3, 0.5, 0.75, 0.9, 0.95, 0.98, 0.5] * 8
    kits = frames_of(rates, 1.2, supposed, 1), frames_of(rates, 1.8, supposed, 2)
    rows = [
        (kit, 100 * kit + place, np.array(frames))
        for kit, own in enumerate(kits)
        for place, frames in enumerate(own)
    ]
    kit, encounter = (np.repeat([row[column] for row in rows], 20) for column in (0, 1))
    probability = np.concatenate([row[2] for row in rows])
    assert supposed_rate(kit, encounter, probability) == pytest.approx(supposed, abs=0.07)


@pytest.mark.parametrize("model", ["first", "second"])
@pytest.mark.parametrize(("apart", "supposed"), [((1.2, 1.8), 0.4), ((1.8, 1.2), 0.8)])
def test_a_kit_that_reads_less_clearly_does_not_differ_for_that(
    model: str, apart: tuple[float, float], supposed: float
) -> None:
    """A loss of 7 points was told where there was none: readings supposed fewer hits than there were."""
    found = []
    for seed in range(24):
        who = Photographer(loss=0.0, far=0.0)
        drawn = RECORDS[model](who, np.random.default_rng(seed), trips=12)
        doubtful = read(drawn, np.random.default_rng(seed), apart=apart, usual=supposed)
        found.append(fitted(arms_of(doubtful)).loss - fitted(arms_of(drawn)).loss)
    assert abs(np.mean(found)) < 0.02


def test_a_kit_with_few_frames_is_read_as_all_are() -> None:
    rates = [0.2, 0.5, 0.8, 0.95] * 10
    many, few = frames_of(rates, 1.4, 0.5, 3), frames_of([0.9], 1.4, 0.5, 4, frames=3)
    found = tellings(many, few)
    assert found[1].base == pytest.approx(found[ALL_KITS].base, abs=0.02)
    assert found[1].share == pytest.approx(found[ALL_KITS].share, abs=0.04)


def test_where_nothing_is_told_everything_is_possible() -> None:
    rate = clustered_wilson([7.0] * 5, [10.0] * 5)
    found = told(rate, 0.69, 0.01)
    assert (found.estimate, found.low, found.high) == (rate.estimate, 0.0, 1.0)
    assert isinstance(told(rate, 0.0, 1.0), Interval)
    assert told(rate, 0.0, 1.0) == rate


def test_a_kit_of_few_frames_is_drawn_to_the_rate_of_all() -> None:
    """Readings that leave no doubt are counts: ten hits of ten, and a rate of 50 % that counts as ten frames.

    A. Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 2.4: the mean of a beta posterior,
    (5 + 10) / (10 + 10) (R).
    """
    assert_allclose(kit_rate(np.full(10, 1e9)), 0.75, atol=1e-6)
    assert_allclose(kit_rate(np.full(10, 1e-9), 0.8), 0.4, atol=1e-6)
