"""Fine against coarse slopes, on edges whose blur is known by formula."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.focus.contrast import is_blurred
from tests.focus.drawn import bars, edge, to_bytes

ALL = (0, 384, 0, 384)


@pytest.mark.parametrize(
    ("sigma_px", "expected"),
    [(0.5, False), (1.2, False), (1.8, False), (2.3, True), (4.0, True), (6.0, True)],
)
def test_edges_blurred_by_more_than_2_px_are_told(sigma_px: float, expected: bool) -> None:
    """sqrt(s^2 + 9) / sqrt(s^2 + 1) falls to 1.6 at s = 2.04 (D); pixels and steps add a little."""
    assert is_blurred(edge(sigma_px, side_px=384), ALL) == expected
    assert is_blurred(bars(sigma_px, side_px=384, period_px=48), ALL) == expected


def test_one_sharp_edge_among_blurred_ones_is_enough() -> None:
    picture = bars(5.0, side_px=384)
    picture[180:200] = 20
    assert not is_blurred(picture, ALL)


def test_plain_parts_and_noise_are_not_blurred() -> None:
    shading = np.linspace(60, 180, 384)[None] + np.zeros((384, 1))
    noise = np.random.default_rng(1).normal(0, 8, (384, 384))
    assert not is_blurred(to_bytes(shading), ALL)
    assert not is_blurred(to_bytes(120 + noise), ALL)
