"""Readings of blurs that differ in px are known less well: the interval of a gain says so."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from auditor.statistics.detail import READINGS_BEND, Blurs, Gain, gain
from auditor.statistics.resolved import resolved_gain


def frames(urad: float, urad_a_px: float, seed: int) -> Blurs:
    chance = np.random.default_rng(seed)
    scene = np.repeat(np.arange(20), 6)
    blurs = urad * np.exp(0.08 * chance.normal(size=len(scene)))
    return Blurs(blurs, scene, scene, None, blurs / urad_a_px)


@pytest.mark.parametrize("told", [gain, resolved_gain])
def test_a_kit_whose_blur_is_larger_in_px_may_be_that_much_coarser(
    told: Callable[[Blurs, Blurs], Gain],
) -> None:
    """1.4 times as many px for an angle: the converter's blur is read at 1.4 times the px (D)."""
    bare, longer = frames(12.0, 12.0, 1), frames(12.0, 12.0 / 1.4, 2)
    without = Blurs(longer.blur_urad, longer.scene, longer.encounter)
    plain, bent = told(without, bare), told(longer, bare)
    assert plain.low is not None
    assert bent.low is not None
    assert bent.gain == plain.gain
    assert bent.high == pytest.approx(plain.high)
    assert np.log1p(-bent.low) - np.log1p(-plain.low) == pytest.approx(READINGS_BEND * np.log(1.4), abs=0.02)


def test_a_kit_of_the_same_px_is_as_well_known_as_before() -> None:
    bare = frames(12.0, 12.0, 1)
    plain = gain(Blurs(bare.blur_urad, bare.scene, bare.encounter), bare)
    assert (gain(bare, bare).low, gain(bare, bare).high) == (plain.low, plain.high)
