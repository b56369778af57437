"""The share of hits with its interval: hours in one hide are no new evidence each ten minutes."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.analysis.rates import FEWEST_ENCOUNTERS, USUAL_OF_SITTING, hit_rate
from auditor.statistics.intervals import Interval
from auditor.statistics.shared_luck import USUAL_PARTS


def rate_of(hits: list[int], sitting: list[int], frames: int = 10) -> Interval:
    """Of encounters of as many frames each, whose hits are known."""
    weighed = [frames] * len(hits)
    found = hit_rate(hits, weighed, sitting, np.zeros(len(hits)), weighed, icc=0.5)
    assert found is not None
    return found


def test_where_sittings_hit_or_miss_as_one_they_are_what_counts() -> None:
    """Cochrane Handbook, 23.1.4 (R): frames shrink by 1 + (m - 1) rho, here with m = 60 frames a sitting.

    Four sittings of six encounters, two all hit and two all missed, are alike in full; with what sittings
    usually are, which counts as ten, rho is (4 + 10 x 0.13) / 14.
    """
    hits, sitting = [10] * 6 + [0] * 6 + [10] * 6 + [0] * 6, [number // 6 for number in range(24)]
    found = rate_of(hits, sitting)
    assert found.effective_frames == pytest.approx(240 / (1 + 59 * (4 + 10 * 0.13) / 14))
    assert found.effective_frames < rate_of(hits, list(range(24))).effective_frames / 2


def test_a_sitting_never_makes_a_rate_surer() -> None:
    chance = np.random.default_rng(1)
    for _record in range(50):
        hits = chance.binomial(10, chance.beta(2, 1, 12)).tolist()
        alone, together = rate_of(hits, list(range(12))), rate_of(hits, chance.integers(0, 4, 12).tolist())
        assert together.high - together.low >= alone.high - alone.low - 1e-9


def test_what_is_usual_of_sittings_is_what_the_model_assumes() -> None:
    assert pytest.approx(USUAL_PARTS["trip"] + USUAL_PARTS["sitting"]) == USUAL_OF_SITTING


def test_with_too_few_encounters_there_is_no_rate() -> None:
    few = FEWEST_ENCOUNTERS - 1
    assert hit_rate([5] * few, [10] * few, [1] * few, [0] * few, [10] * few, icc=0.5) is None
