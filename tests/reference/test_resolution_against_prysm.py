"""Reference library: prysm, for the contrast that a perfect round pupil leaves."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from prysm.otf import diffraction_limited_mtf

from auditor.optics.resolution import diffraction_mtf


@pytest.mark.parametrize("f_number", [2.8, 5.6, 8.0, 11.0])
def test_diffraction_leaves_what_prysm_says(f_number: float) -> None:
    per_mm = np.linspace(1.0, 0.99 * 1000 / (0.55 * f_number), 25)
    theirs = diffraction_limited_mtf(f_number, 0.55, frequencies=per_mm)
    assert_allclose([diffraction_mtf(value / 1000, f_number) for value in per_mm], theirs, atol=1e-9)
