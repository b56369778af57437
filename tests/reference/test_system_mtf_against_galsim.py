"""Reference library: GalSim, for the contrast of the whole chain of pupil, lens blur and pixel."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.optics.resolution import Chain, system_mtf


@pytest.mark.parametrize("factor", [1.0, 1.4, 2.0])
@pytest.mark.parametrize(("pixel_um", "lens_um"), [(5.97, 1.5), (5.97, 6.0), (4.35, 1.5), (3.9, 1.5)])
def test_the_chain_leaves_what_galsim_says(pixel_um: float, lens_um: float, factor: float) -> None:
    """Everything in um of the focal plane: an Airy pattern of lambda N, a Gaussian, a pixel."""
    import galsim

    chain = Chain(f_number=5.6, lens_sigma_um=lens_um, pixel_pitch_um=pixel_um, converter_factor=factor)
    theirs = galsim.Convolve(
        [
            galsim.Airy(lam_over_diam=0.55 * 5.6),
            galsim.Gaussian(sigma=lens_um),
            galsim.Pixel(pixel_um / factor),
        ]
    )
    for per_um in np.linspace(0.002, 0.5 * factor / pixel_um, 15):
        expected = theirs.kValue(2 * math.pi * float(per_um), 0.0).real
        assert_allclose(system_mtf(float(per_um), chain), abs(expected), atol=1e-9)
