"""What filling in colours leaves of contrast, against doing it."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.optics.resolution import demosaicking_mtf, expected_gain


@pytest.mark.parametrize("cycles_a_pixel", [0.0, 0.1, 0.25, 0.4])
def test_against_a_grating_that_is_filled_in(cycles_a_pixel: float) -> None:
    """A vertical grating seen by a checkerboard of green, the gaps filled by the mean of four neighbours
    (D)."""
    across, down = np.meshgrid(np.arange(400), np.arange(40))
    grating = np.cos(2 * np.pi * cycles_a_pixel * across)
    around = (
        np.roll(grating, 1, 0) + np.roll(grating, -1, 0) + np.roll(grating, 1, 1) + np.roll(grating, -1, 1)
    ) / 4
    seen = np.where((across + down) % 2 == 0, grating, around)
    left = (seen[:, 20:-20] * grating[:, 20:-20]).mean() / (grating[:, 20:-20] ** 2).mean()
    assert demosaicking_mtf(cycles_a_pixel, 1.0) == pytest.approx(left, abs=1e-3)


@pytest.mark.parametrize("factor", [1.4, 2.0])
def test_a_converter_brings_more_where_colours_are_filled_in(factor: float) -> None:
    plain, filled = (expected_gain(5.6, 5.97, factor, 1.5, demosaicked=one) for one in (False, True))
    assert filled > plain + 0.03
