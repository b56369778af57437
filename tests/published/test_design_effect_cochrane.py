"""The design effect of clusters: Cochrane Handbook for Systematic Reviews, 23.1.4 (R: recalled).

With an intra-class correlation of 0.02 and 29.8 people a cluster the design effect is 1.576, so that
63 of 295 count as 40.0 of 187.2.
"""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from auditor.statistics.intervals import clustered_wilson


def test_effective_frames_of_the_worked_example() -> None:
    """The handbook's mean cluster of 29.8 is not whole: five clusters of 30 and 29 come to 29.8 in weight.

    All of them miss, so that the given correlation is used alone and unmixed.
    """
    frames = [30, 30, 30, 30, 29]
    interval = clustered_wilson([0] * 5, frames, pooled_icc=0.02)
    assert interval.icc == 0.02
    assert_allclose(sum(frames) / interval.effective_frames, 1.576, atol=5e-3)


@pytest.mark.parametrize(("count", "effective"), [(63, 40.0), (295, 187.2)])
def test_counts_shrink_by_the_design_effect(count: float, effective: float) -> None:
    frames = [30, 30, 30, 30, 29]
    interval = clustered_wilson([0] * 5, frames, pooled_icc=0.02)
    assert_allclose(count * interval.effective_frames / sum(frames), effective, rtol=3e-3)


def test_a_correlation_of_its_own_counts_as_much_as_its_clusters() -> None:
    """Ten encounters that hit or miss as one weigh as much as the ten that are assumed: (1 + 0.5) / 2.

    With 4 frames an encounter the design effect is then 1 + 3 x 0.75 (the handbook's formula), so that 40
    frames are worth 12.3.
    """
    interval = clustered_wilson([4, 0] * 5, [4] * 10)
    assert_allclose(interval.icc, 0.75)
    assert_allclose(interval.effective_frames, 40 / (1 + 3 * 0.75))
