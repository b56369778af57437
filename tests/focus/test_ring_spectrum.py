"""Rings of white noise of known power: what each of them must hold, and where each part is taken from."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.focus.ring_spectrum import PARTS, RINGS, SECTORS, ring_spectrum

SPREAD = 0.05
"""Of linear light, 1 for white."""
POWER = (255 * SPREAD) ** 2
"""Of white noise in each frequency: its variance (Parseval; D)."""


def coded(light: NDArray[np.float64]) -> NDArray[np.uint8]:
    """Linear light as a JPEG has it, by the power of 2.2 that stands for sRGB (C)."""
    return (255 * np.clip(light, 0, 1) ** (1 / 2.2)).round().astype(np.uint8)


def noise(rows: int, columns: int, seed: int = 2) -> NDArray[np.float64]:
    return np.random.default_rng(seed).normal(0, SPREAD, (rows, columns))


@pytest.mark.parametrize("side", [512, 400, 256])
@pytest.mark.parametrize("level", [0.3, 0.6])
def test_white_noise_has_its_variance_in_every_ring_whatever_the_side_and_the_light(
    side: int, level: float
) -> None:
    """Power is of linear light, so that a brighter frame has no other shape; its mean is none."""
    rings = ring_spectrum(coded(level + noise(side, side)), (0, side, 0, side))
    assert rings is not None
    assert rings.shape == (SECTORS + PARTS, RINGS)
    by_direction = rings[:SECTORS].mean(axis=0)
    np.testing.assert_allclose(by_direction[5:], POWER, rtol=0.25)
    assert by_direction[5:].mean() == pytest.approx(POWER, rel=0.03)
    assert by_direction[:5].mean() == pytest.approx(POWER, rel=0.4)  # of few frequencies


def test_the_square_lies_about_the_middle_of_what_was_read_and_inside_the_picture() -> None:
    picture = coded(0.4 + noise(1400, 1800))
    whole = (0, 512, 0, 512)
    for region, (top, left) in {
        (800, 912, 1000, 1112): (600, 800),
        (0, 112, 1700, 1800): (0, 1288),
        (1300, 1400, 0, 64): (888, 0),
        (300, 1100, 500, 1300): (444, 644),  # one that is larger
    }.items():
        found, cut = ring_spectrum(picture, region), picture[top : top + 512, left : left + 512]
        np.testing.assert_array_equal(found, ring_spectrum(cut, whole))


def test_parts_are_the_middle_and_the_quarters_by_rows() -> None:
    """Each quarter has noise of its own strength; the middle, a quarter of each."""
    strength = np.kron([[1.0, 2.0], [3.0, 4.0]], np.ones((256, 256)))
    rings = ring_spectrum(coded(0.4 + 0.3 * strength * noise(512, 512)), (0, 512, 0, 512))
    assert rings is not None
    power = rings[SECTORS:, 5:].mean(axis=1) / (0.09 * POWER)
    np.testing.assert_allclose(power, [(1 + 4 + 9 + 16) / 4, 1, 4, 9, 16], rtol=0.08)


@pytest.mark.parametrize(("down", "across", "sector"), [(0, 1, 0), (1, 1, 1), (1, 0, 2), (1, -1, 3)])
def test_directions_of_change(down: int, across: int, sector: int) -> None:
    """Waves of 12 px or so: along rows, falling to the right, down columns, rising."""
    rows, columns = np.mgrid[0:512, 0:512]
    light = 0.4 + 0.1 * np.sin((rows * down + columns * across) * 2 * np.pi / 12)
    rings = ring_spectrum(coded(light), (0, 512, 0, 512))
    assert rings is not None
    assert int(rings[:SECTORS].max(axis=1).argmax()) == sector
