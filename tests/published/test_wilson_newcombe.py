"""Wilson's interval against printed examples.

R. G. Newcombe, Two-sided confidence intervals for the single proportion, Statistics in Medicine 17 (1998),
table I. The first two were read (S), the last two are recalled (R).
"""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from auditor.statistics.intervals import clustered_wilson, wilson

PRINTED = [
    (81, 263, 0.2553, 0.3662),
    (15, 148, 0.0624, 0.1605),
    (0, 20, 0.0, 0.1611),
    (1, 29, 0.0061, 0.1718),
]


@pytest.mark.parametrize(("hits", "frames", "low", "high"), PRINTED)
def test_printed_intervals(hits: int, frames: int, low: float, high: float) -> None:
    assert_allclose(wilson(hits, frames), (low, high), atol=5e-5)


@pytest.mark.parametrize(("hits", "frames", "low", "high"), PRINTED)
def test_frames_that_each_stand_alone_are_independent(
    hits: int, frames: int, low: float, high: float
) -> None:
    """Clusters of one frame have no design effect, whatever the correlation."""
    interval = clustered_wilson([1] * hits + [0] * (frames - hits), [1] * frames)
    assert_allclose((interval.low, interval.high), (low, high), atol=5e-5)
    assert interval.effective_frames == frames
