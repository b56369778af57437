"""Rates behind probabilities of hits: against the truth of simulated readings."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.intervals import Interval, clustered_wilson
from auditor.statistics.telling import telling_of_readings, telling_of_words, told
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


def test_sure_readings_are_taken_as_they_are() -> None:
    """Frames at the bounds count as sure: three in four hits are a rate of three in four."""
    found = telling_of_readings(10_000, 7500 * 0.98 + 2500 * 0.02, 7500 * 0.98**2 + 2500 * 0.02**2)
    mean = 0.75 * 0.98 + 0.25 * 0.02
    assert_allclose((mean - found.base) / found.share, 0.75, atol=0.002)
    assert_allclose(found.share, 0.96, atol=0.002)


def test_hits_alone_say_little_of_how_well_they_are_read() -> None:
    found = telling_of_readings(200, 200 * 0.98, 200 * 0.98**2)
    assert 0.5 < found.share < 0.97
    assert telling_of_readings(0, 0.0, 0.0).share == pytest.approx(0.96 * 0.85)
    assert telling_of_words(50, 35.0, 50 * 0.7**2).share == pytest.approx(0.0, abs=1e-9)


def test_where_nothing_is_told_everything_is_possible() -> None:
    rate = clustered_wilson([7.0] * 5, [10.0] * 5)
    found = told(rate, 0.69, 0.01)
    assert (found.estimate, found.low, found.high) == (rate.estimate, 0.0, 1.0)
    assert isinstance(told(rate, 0.0, 1.0), Interval)
    assert told(rate, 0.0, 1.0) == rate
