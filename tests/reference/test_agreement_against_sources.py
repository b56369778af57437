"""Cohen's kappa against a worked example and a library.

Worked example in many handbooks (R): two readers, 20 and 15 agreed, 5 and 10 not: kappa 0.4.
Reference library: statsmodels.
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.statistics.agreement import cohens_kappa


def test_the_worked_example() -> None:
    kappa = cohens_kappa([[20, 5], [10, 15]])
    assert kappa is not None
    assert_allclose(kappa, 0.4, atol=1e-12)


@pytest.mark.parametrize("seed", range(5))
def test_the_same_as_statsmodels(seed: int) -> None:
    from statsmodels.stats.inter_rater import cohens_kappa as theirs

    table = np.random.default_rng(seed).integers(1, 30, (3, 3))
    assert_allclose(cohens_kappa(table) or 9, theirs(table).kappa, rtol=1e-12)


def test_nothing_to_agree_on() -> None:
    assert cohens_kappa([[7, 0], [0, 0]]) is None
    with pytest.raises(ValueError, match="square"):
        cohens_kappa([[1, 2]])
