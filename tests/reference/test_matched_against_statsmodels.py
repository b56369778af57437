"""Reference library: statsmodels, for the stratified difference, the regression and the correction."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics import clustered_logistic
from auditor.statistics.multiple import benjamini_hochberg


@pytest.mark.parametrize("seed", range(5))
def test_the_same_hypotheses_are_rejected(seed: int) -> None:
    from statsmodels.stats.multitest import multipletests

    p_values = np.random.default_rng(seed).beta(0.4, 2, 30)
    assert benjamini_hochberg(p_values, 0.05).tolist() == multipletests(p_values, 0.05, "fdr_bh")[0].tolist()


@pytest.mark.parametrize("seed", range(4))
def test_coefficients_and_small_sample_errors_are_those_of_gee(seed: int) -> None:
    """Independence GEE on single frames, bias-reduced covariance: Mancl and DeRouen."""
    import statsmodels.api as sm

    chance = np.random.default_rng(seed)
    clusters, size = 24, 6
    cluster = np.repeat(np.arange(clusters), size)
    treated = np.repeat(np.arange(clusters) % 2, size).astype(float)
    light = np.repeat(chance.normal(0, 1, clusters), size)
    logit = 0.5 - 0.8 * treated + 0.4 * light + np.repeat(chance.normal(0, 0.7, clusters), size)
    hit = (chance.random(len(logit)) < 1 / (1 + np.exp(-logit))).astype(float)
    design = np.column_stack([np.ones_like(light), treated, light])
    family = sm.families.Binomial()
    theirs = sm.GEE(hit, design, groups=cluster, family=family).fit(cov_type="bias_reduced")
    rows = np.arange(clusters) * size
    ours = clustered_logistic.fit(
        np.asarray(design[rows], dtype=np.float64),
        hit.reshape(clusters, size).sum(axis=1).astype(float),
        np.full(clusters, float(size)),
        np.ones(clusters),
        np.arange(clusters),
    )
    assert ours is not None
    assert_allclose(ours.coefficients, theirs.params, rtol=1e-5)
    assert_allclose(ours.standard_errors, theirs.bse, rtol=2e-3)


def test_an_arm_that_never_misses_has_no_finite_answer() -> None:
    design = np.column_stack([np.ones(12), np.arange(12) % 2])
    hits = np.where(np.arange(12) % 2, 5.0, 3.0)
    assert clustered_logistic.fit(design, hits, np.full(12, 5.0), np.ones(12), np.arange(12)) is None
