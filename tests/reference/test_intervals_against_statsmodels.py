"""Intervals and correlations against statsmodels, SciPy and an analysis of variance written out."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import f_oneway

from auditor.statistics.intervals import anova_icc, pooled_icc, wilson


@pytest.mark.parametrize("confidence", [0.8, 0.95, 0.99])
def test_wilson_is_that_of_statsmodels(confidence: float) -> None:
    from statsmodels.stats.proportion import proportion_confint

    generator = np.random.default_rng(1927)
    frames = generator.integers(1, 500, 200)
    hits = generator.binomial(frames, generator.uniform(0, 1, 200))
    for y, n in zip(hits, frames, strict=True):
        expected = proportion_confint(int(y), int(n), alpha=1 - confidence, method="wilson")
        assert_allclose(wilson(int(y), int(n), confidence=confidence), expected, atol=1e-9)


@pytest.mark.parametrize("seed", range(5))
def test_the_correlation_is_that_of_a_one_way_analysis_of_variance(seed: int) -> None:
    """SciPy's F is the ratio of the mean squares: (F - 1) / (F - 1 + m0) is the correlation."""
    generator = np.random.default_rng(seed)
    frames = generator.integers(2, 12, 15)
    hits = generator.binomial(frames, generator.beta(1.5, 1.0, 15))
    groups = [[1.0] * y + [0.0] * (m - y) for y, m in zip(hits, frames, strict=True)]
    f = float(f_oneway(*groups).statistic)
    m0 = (frames.sum() - (frames**2).sum() / frames.sum()) / (len(frames) - 1)
    icc = anova_icc(hits, frames)
    assert icc is not None
    assert_allclose(icc, min(1.0, max(0.0, (f - 1) / (f - 1 + m0))), atol=1e-9)


@pytest.mark.parametrize("kits", [1, 2, 5])
def test_kits_of_one_kind_pool_to_the_correlation_of_each(kits: int) -> None:
    """Drawn towards 0.5 as if ten encounters had shown that; SciPy's F tells the correlation, as above."""
    frames, hits = [6] * 12, [6, 5, 0, 6, 1, 6, 3, 6, 6, 2, 0, 4]
    f = float(f_oneway(*([1.0] * y + [0.0] * (m - y) for y, m in zip(hits, frames, strict=True))).statistic)
    own = (f - 1) / (f - 1 + 6)
    pooled = pooled_icc([(hits, frames)] * kits)
    assert_allclose(pooled, (12 * kits * own + 10 * 0.5) / (12 * kits + 10), atol=1e-9)
