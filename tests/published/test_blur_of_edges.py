"""Blur of drawn edges against what optics says of them.

Check values: an edge drawn through a Gaussian has that Gaussian's blur (D).
A disc of diameter c blurs with sigma c / 4 on each axis (D). Noise of known size (D).
"""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.focus.luminance import cut
from auditor.focus.noise import noise_level
from auditor.focus.sharpness import measure
from tests.focus.drawn import bars, disc_kernel, discs, gaussian_kernel


@pytest.mark.parametrize("sigma_px", [0.9, 1.4, 2.2, 3.5])
def test_the_blur_that_many_edges_were_drawn_with(sigma_px: float) -> None:
    """Within the reading's own error: its median is about 12 % (docs/benchmarks.md)."""
    reading = measure(discs(gaussian_kernel(sigma_px)))
    assert reading.sigma_px is not None
    assert_allclose(reading.sigma_px, sigma_px, rtol=0.2)
    assert reading.system_sigma_px is not None
    # Drawn four times as large and averaged down: a pixel's width comes to the blur, sigma 0.29 px.
    assert_allclose(reading.system_sigma_px, np.hypot(sigma_px, 0.29), rtol=0.2)


@pytest.mark.parametrize("angle_deg", [4, 12, 30, 45, 67, 86, 135])
def test_the_angle_of_edges_matters_little(angle_deg: float) -> None:
    """A pattern of one direction and nothing else is the hardest: benchmarks.md."""
    one, other = measure(bars(1.5, angle_deg)), measure(bars(1.5, 8))
    assert one.system_sigma_px is not None
    assert other.system_sigma_px is not None
    assert_allclose(one.system_sigma_px, other.system_sigma_px, rtol=0.35)


@pytest.mark.parametrize("diameter_px", [6.0, 8.0, 12.0])
def test_a_disc_and_a_gaussian_of_a_quarter_of_its_diameter_read_as_that(diameter_px: float) -> None:
    """Within the reading's own error: its median is about 12 % (docs/benchmarks.md)."""
    for kernel in (disc_kernel(diameter_px), gaussian_kernel(diameter_px / 4)):
        reading = measure(discs(kernel))
        assert reading.sigma_px is not None
        assert_allclose(reading.sigma_px, diameter_px / 4, rtol=0.2)


@pytest.mark.parametrize("noise", [2.0, 5.0, 10.0])
def test_noise_that_was_put_in_is_found(noise: float) -> None:
    chance = np.random.default_rng(5)
    picture = np.clip(np.rint(118 + chance.normal(0, noise, (512, 512))), 0, 255).astype(np.uint8)
    assert_allclose(noise_level(cut(picture, None)), noise, rtol=0.1)
