"""Quantiles in which scenes count alike, against SciPy's bootstrap and NumPy's quantile."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import stats

from auditor.statistics.scene_quantiles import scene_quantile


def test_the_median_of_single_frames_is_numpys() -> None:
    values = np.random.default_rng(3).normal(10, 2, 101)
    found = scene_quantile(values, np.arange(101), 0.5)
    assert found is not None
    assert found[0] == pytest.approx(np.median(values), abs=1e-12)


def test_the_interval_of_single_frames_is_scipys_percentile_bootstrap() -> None:
    chance = np.random.default_rng(5)
    for frames in (20, 60, 200):
        values = chance.lognormal(1, 0.5, frames)
        found = scene_quantile(values, np.arange(frames), 0.25)
        assert found is not None
        reference = stats.bootstrap(
            (values,),
            lambda sample, axis: np.quantile(sample, 0.25, axis=axis, method="hazen"),
            n_resamples=4000, method="percentile", rng=7,
        ).confidence_interval  # fmt: skip
        spread = reference.high - reference.low
        assert found[1] == pytest.approx(reference.low, abs=0.2 * spread)
        assert found[2] == pytest.approx(reference.high, abs=0.2 * spread)


def test_many_scenes_are_drawn_in_groups_without_losing_the_spread() -> None:
    """The median of n normal values has a standard error of sqrt(pi/2 / n) (H. Cramer, 1946, 28.5: R)."""
    values = np.random.default_rng(13).normal(0, 1, 30_000)
    found = scene_quantile(values, np.arange(30_000), 0.5)
    assert found is not None
    half = 1.96 * np.sqrt(np.pi / 2 / 30_000)
    assert (found[2] - found[1]) / 2 == pytest.approx(half, rel=0.15)


def test_a_scene_counts_once_whatever_its_number_of_frames() -> None:
    values = [1.0, 2.0, 3.0]
    once = scene_quantile(values, [1, 2, 3], 0.5)
    many = scene_quantile([1.0] * 50 + [2.0, 3.0], [1] * 50 + [2, 3], 0.5)
    assert once is not None
    assert many is not None
    assert once[0] == 2.0
    assert many[0] == pytest.approx(2.0, abs=0.51)  # not 1.0, which fifty of its fifty-two frames have


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """Scenes of four frames that go together: 95 % intervals of the median hold it in about 95 of 100."""
    chance = np.random.default_rng(11)
    held = 0
    for _trip in range(200):
        scenes = np.repeat(np.arange(40), 4)
        values = chance.normal(0, 1, 40)[scenes] + chance.normal(0, 0.3, 160)
        found = scene_quantile(values, scenes, 0.5)
        assert found is not None
        held += found[1] <= 0 <= found[2]
    assert 0.90 <= held / 200 <= 0.99


@pytest.mark.parametrize(
    ("values", "scenes", "quantile", "named"),
    [([1.0], [1, 2], 0.5, "one length"), ([np.nan], [1], 0.5, "finite"), ([1.0], [1], 1.0, "quantile")],
)
def test_what_cannot_be_meant_is_refused(
    values: list[float], scenes: list[int], quantile: float, named: str
) -> None:
    with pytest.raises(ValueError, match=named):
        scene_quantile(values, scenes, quantile)


def test_two_scenes_have_no_interval() -> None:
    assert scene_quantile([1.0, 2.0, 3.0], [1, 1, 2], 0.5) is None
    assert scene_quantile([], [], 0.5) is None
