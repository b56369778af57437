"""The model of hits against statsmodels: estimating equations, and a mixed model of the same nesting."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.hit_model import Arms
from benchmarks.simulated_records import Photographer, paired, record
from tests.statistics.test_hit_model import arms_of, fitted


def one_arm_each(seed: int) -> Arms:
    """Encounters that share nothing with others: the nested covariance is then an exchangeable one."""
    who = Photographer(loss=0.15, both_kits=0.0, hides=0.0)
    arms = arms_of(record(who, np.random.default_rng(seed), trips=24))
    own = np.arange(len(arms.frames))
    return replace(arms, trip=own, sitting=own, encounter=own)


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_one_arm_an_encounter_against_gee(seed: int) -> None:
    """Exchangeable GEE, errors reduced of their bias (L. A. Mancl, T. A. DeRouen 2001), on the frames
    themselves."""
    import statsmodels.api as sm

    arms = one_arm_each(seed)
    found = fitted(arms)
    frames = arms.frames.astype(int)
    hit = np.concatenate([np.arange(m) < y for m, y in zip(frames, arms.hits, strict=True)]).astype(float)
    arm = np.repeat(np.arange(len(frames)), frames)
    result = sm.GEE(
        hit, found.design[_rows(arms)][arm], groups=arm, family=sm.families.Binomial(),
        cov_struct=sm.cov_struct.Exchangeable(),
    ).fit(cov_type="bias_reduced")  # fmt: skip
    own = np.linalg.inv(found.precision)
    assert_allclose(np.log(found.odds_ratio), -result.params[1], atol=0.15 * result.bse[1])
    assert_allclose(np.sqrt(own[1, 1]), result.bse[1], rtol=0.15)


def _rows(arms: Arms) -> np.ndarray:
    """Where each arm lies in the order that the model fits in."""
    order = np.lexsort((arms.treated, arms.encounter, arms.sitting, arms.trip))
    return np.argsort(order)


def test_animals_with_both_kits_against_a_paired_t_test() -> None:
    estimates, errors = [], []
    for seed in range(15):
        one = paired(0.15, np.random.default_rng(seed), animals=25)
        found = fitted(arms_of(one))
        pairs = pd.MultiIndex.from_arrays([one.encounter, one.treated])
        table = pd.Series(one.hits / one.frames, index=pairs).unstack()
        lost = table[False] - table[True]
        estimates.append((found.loss, lost.mean()))
        errors.append(found.error / (lost.std(ddof=1) / len(lost) ** 0.5))
    ours, theirs = np.transpose(estimates)
    assert abs((ours - theirs).mean()) < 0.02
    assert 0.75 < np.median(errors) < 1.1
