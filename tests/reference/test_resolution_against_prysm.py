"""Reference library: prysm, for the contrast that a perfect round pupil leaves."""

import importlib
import sys
from importlib import metadata
from types import ModuleType
from typing import Any
from unittest import mock

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.optics.resolution import diffraction_mtf


@pytest.fixture(scope="module")
def otf() -> Any:
    """prysm.otf, which asks pkg_resources for its own version: Python 3.12 comes without that module."""
    versions = ModuleType("pkg_resources")
    vars(versions)["get_distribution"] = metadata.distribution
    with mock.patch.dict(sys.modules, {"pkg_resources": versions}):
        return importlib.import_module("prysm.otf")


@pytest.mark.parametrize("f_number", [2.8, 5.6, 8.0, 11.0])
def test_diffraction_leaves_what_prysm_says(otf: Any, f_number: float) -> None:
    per_mm = np.linspace(1.0, 0.99 * 1000 / (0.55 * f_number), 25)
    theirs = otf.diffraction_limited_mtf(f_number, 0.55, frequencies=per_mm)
    assert_allclose([diffraction_mtf(value / 1000, f_number) for value in per_mm], theirs, atol=1e-9)
