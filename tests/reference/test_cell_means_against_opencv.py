"""Means over cells against OpenCV's resizing by area, which shares no code with them."""

from __future__ import annotations

import cv2
import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.focus.luminance import cell_means


@pytest.mark.parametrize(
    ("shape", "grid"),
    [
        ((504, 504), (21, 21)),
        ((500, 2999), (62, 93)),  # cells end within pixels, both ways
        ((63, 40), (4, 40)),
        ((7, 5), (1, 1)),
    ],
)
def test_cells_of_any_size(shape: tuple[int, int], grid: tuple[int, int]) -> None:
    values = np.random.default_rng(6).uniform(0, 255, shape).astype(np.float32)
    ours = cell_means(values, grid)
    assert ours.dtype == np.float32
    assert_allclose(ours, cv2.resize(values, grid[::-1], interpolation=cv2.INTER_AREA), rtol=2e-5)


def test_more_cells_than_pixels_are_refused() -> None:
    with pytest.raises(ValueError, match="grid of 9 x 2 cells"):
        cell_means(np.zeros((8, 8), np.float32), (9, 2))
