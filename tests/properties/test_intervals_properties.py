"""What must hold for any clusters."""

from __future__ import annotations

from random import Random

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from auditor.statistics.intervals import anova_icc, clustered_wilson, pooled_icc, wilson

steady = settings(derandomize=True, deadline=None)
clusters = st.lists(
    st.integers(1, 30).flatmap(lambda m: st.tuples(st.integers(0, m), st.just(m))), min_size=1, max_size=40
)


@steady
@given(clusters)
def test_the_interval_holds_the_share_and_stays_a_share(pairs: list[tuple[int, int]]) -> None:
    interval = clustered_wilson([y for y, _ in pairs], [m for _, m in pairs])
    assert 0 <= interval.low <= interval.estimate <= interval.high <= 1
    assert 0 <= interval.icc <= 1
    assert 1 - 1e-9 <= interval.effective_frames <= interval.frames + 1e-9


@steady
@given(clusters, st.randoms(use_true_random=False))
def test_the_order_of_clusters_does_not_matter(pairs: list[tuple[int, int]], random: Random) -> None:
    shuffled = list(pairs)
    random.shuffle(shuffled)
    one = clustered_wilson([y for y, _ in pairs], [m for _, m in pairs])
    other = clustered_wilson([y for y, _ in shuffled], [m for _, m in shuffled])
    assert_allclose((one.low, one.high), (other.low, other.high), atol=1e-9)


@steady
@given(clusters)
def test_clusters_never_make_it_surer_than_independent_frames(pairs: list[tuple[int, int]]) -> None:
    hits, frames = [y for y, _ in pairs], [m for _, m in pairs]
    low, high = wilson(sum(hits), sum(frames))
    interval = clustered_wilson(hits, frames)
    assert interval.high - interval.low >= high - low - 1e-9


@steady
@given(clusters)
def test_more_of_the_same_makes_it_surer(pairs: list[tuple[int, int]]) -> None:
    hits, frames = [y for y, _ in pairs], [m for _, m in pairs]
    once, often = clustered_wilson(hits, frames), clustered_wilson(hits * 9, frames * 9)
    assert often.high - often.low < once.high - once.low


@steady
@given(clusters)
def test_mirror(pairs: list[tuple[int, int]]) -> None:
    """Counting misses instead of hits turns the interval round."""
    hits, frames = np.array([y for y, _ in pairs]), np.array([m for _, m in pairs])
    one, other = clustered_wilson(hits, frames), clustered_wilson(frames - hits, frames)
    assert_allclose((one.low, one.high), (1 - other.high, 1 - other.low), atol=1e-9)


def test_empty_clusters_do_not_count() -> None:
    assert clustered_wilson([3, 0, 2], [4, 0, 5]) == clustered_wilson([3, 2], [4, 5])


def test_what_cannot_be_told_is_none() -> None:
    assert anova_icc([3, 4], [3, 4]) is None
    assert anova_icc([1], [4]) is None
    assert anova_icc([1, 0], [1, 1]) is None


def test_a_pool_without_data_is_the_prior() -> None:
    assert pooled_icc([]) == 0.5
    assert pooled_icc([([1, 0], [1, 1])]) == 0.5


@pytest.mark.parametrize(
    ("hits", "frames", "options", "named"),
    [
        ([], [], {}, "frames"),
        ([0], [0], {}, "frames"),
        ([2], [1], {}, "hits"),
        ([-1], [3], {}, "hits"),
        ([float("nan")], [3], {}, "hits"),
        ([1, 2], [3], {}, "hits and frames"),
        ([1], [3], {"confidence": 1.0}, "confidence"),
        ([1], [3], {"pooled_icc": 1.5}, "pooled_icc"),
    ],
)
def test_errors_name_the_argument(
    hits: list[float], frames: list[float], options: dict[str, float], named: str
) -> None:
    with pytest.raises(ValueError, match=named):
        clustered_wilson(hits, frames, **options)
