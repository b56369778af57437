"""Noise of a picture, from where there is nothing else to see."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma, cell_means

TILE_PX = 24
FLATTEST_SHARE = 0.1
BRIGHTNESS_HALF = 70.0
BRIGHTNESS_POWER = 1.9
"""In a gamma-coded picture noise energy grows towards the shadows as 1 + (70 / Y)^1.9, Y the grey level."""
DARKEST, BRIGHTEST = 8.0, 247.0
MIDDLE_GREY = 118.0
SECOND_DIFFERENCES_GAIN = 36.0
"""What second differences do to the energy of white noise: (1 + 4 + 1) down by (1 + 4 + 1) across."""


def _usable(brightness: Luma) -> NDArray[np.bool_]:
    """Tiles that are not clipped, since those show no noise; all of them where every tile is clipped."""
    usable = (brightness > DARKEST) & (brightness < BRIGHTEST)
    return usable if usable.any() else np.ones_like(usable)


def noise_level(luma: Luma) -> float:
    """Standard deviation of pixel noise in grey levels, at mid-grey; white noise is assumed.

    From second differences across 2 x 2 px (Immerkaer, Fast noise variance estimation, Computer Vision and
    Image Understanding 64, 1996, equation 3), in the flattest tenth of tiles.

    Parameters
    ----------
    luma
        float32, 0 to 255, shape (rows, columns).

    Returns
    -------
    float
        Grey levels of 255; 0 where the picture is smaller than a tile.
    """
    if min(luma.shape) < TILE_PX + 2:
        return 0.0
    differences = _second_differences(luma)
    tiles = _tile_means(differences * differences)
    brightness = _tile_means(luma)
    usable = _usable(brightness)
    energy = tiles[usable]
    count = max(1, round(FLATTEST_SHARE * energy.size))
    order = np.argpartition(energy, count - 1)[:count]
    factor = _brightness_factor(brightness[usable][order]) / _brightness_factor(np.float32(MIDDLE_GREY))
    return float(np.sqrt(np.mean(energy[order] / factor) / SECOND_DIFFERENCES_GAIN))


def _brightness_factor(luma: Luma | np.float32) -> Luma:
    return np.asarray(
        1
        + (np.float32(BRIGHTNESS_HALF) / np.maximum(luma, np.float32(DARKEST)))
        ** np.float32(BRIGHTNESS_POWER)
    )


def _second_differences(luma: Luma) -> Luma:
    """Weights (1, -2, 1) down and across; beyond the border the picture is mirrored."""
    mirrored = np.pad(luma, 1, mode="reflect")
    return np.diff(np.diff(mirrored, 2, axis=0), 2, axis=1)


def _tile_means(values: Luma) -> Luma:
    rows, columns = max(1, values.shape[0] // TILE_PX), max(1, values.shape[1] // TILE_PX)
    high, wide = values.shape[0] // rows, values.shape[1] // columns
    return cell_means(values[: rows * high, : columns * wide], (rows, columns))
