"""Noise of a picture, from where there is nothing else to see."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma

TILE_PX = 24
FLATTEST_SHARE = 0.1
BRIGHTNESS_HALF = 70.0
BRIGHTNESS_POWER = 1.9
"""In a gamma-coded picture noise energy grows towards the shadows as 1 + (70 / Y)^1.9, Y the grey level."""
DARKEST, BRIGHTEST = 8.0, 247.0
MIDDLE_GREY = 118.0
_SECOND_DIFFERENCES = np.outer((1, -2, 1), (1, -2, 1)).astype(np.float32)


@dataclass(frozen=True, slots=True)
class NoiseFloor:
    """Gradient energy of noise at each scale, in squared grey levels a px, at one brightness."""

    energy: tuple[float, ...]
    brightness: float
    flat_share: float
    """Energy of the flattest tiles over the typical tile's. Near 1: all noise, or no tile that is flat."""

    def at(self, luma: Luma) -> Luma:
        """How much larger the floor is at each pixel's brightness."""
        return _brightness_factor(luma) / np.float32(_brightness_factor(np.float32(self.brightness)))

    @property
    def least_factor(self) -> float:
        """The smallest value that `at` gives, in the brightest parts."""
        return float(self.at(np.array([255.0], np.float32))[0])


def noise_floor(scales: tuple[Luma, ...], coarse_energy: Luma, luma: Luma) -> NoiseFloor:
    """The floor from the flattest tenth of tiles, by their energy at the coarsest scale.

    Parameters
    ----------
    scales
        The picture blurred to each finer scale.
    coarse_energy, luma
        Squared gradient at the coarsest scale, and the picture blurred to it.
    """
    energy = _tile_means(coarse_energy)
    brightness = _tile_means(luma)
    usable = _usable(brightness)
    places = np.flatnonzero(usable.ravel())
    coarse = energy.ravel()[places]
    count = max(1, round(FLATTEST_SHARE * coarse.size))
    flattest = places[np.argpartition(coarse, count - 1)[:count]]
    typical = float(np.median(coarse))
    found = float(energy.ravel()[flattest].mean())
    return NoiseFloor(
        energy=(*(_energy_in(flattest, energy.shape, scale) for scale in scales), found),
        brightness=float(brightness.ravel()[flattest].mean()),
        flat_share=found / typical if typical > 0 else 1.0,
    )


def _usable(brightness: Luma) -> NDArray[np.bool_]:
    """Clipped tiles are flat without noise: they tell nothing, unless there is no other."""
    usable = (brightness > DARKEST) & (brightness < BRIGHTEST)
    return usable if usable.any() else np.ones_like(usable)


def _energy_in(places: NDArray[np.int64], grid: tuple[int, ...], luma: Luma) -> float:
    """Mean squared gradient (central differences, a px) inside some tiles."""
    high, wide = luma.shape[0] // grid[0], luma.shape[1] // grid[1]
    tiles = luma[: grid[0] * high, : grid[1] * wide].reshape(grid[0], high, grid[1], wide)
    chosen = tiles[places // grid[1], :, places % grid[1], :]
    down = chosen[:, 2:, 1:-1] - chosen[:, :-2, 1:-1]
    across = chosen[:, 1:-1, 2:] - chosen[:, 1:-1, :-2]
    return float((np.vdot(down, down) + np.vdot(across, across)) / (4 * down.size))


def noise_level(luma: Luma) -> float:
    """Standard deviation of pixel noise in grey levels, at mid-grey; white noise is assumed.

    From second differences across 2 x 2 px (Immerkaer, Fast noise variance estimation, Computer Vision and
    Image Understanding 64, 1996, equation 3), in the flattest tenth of tiles.
    """
    if min(luma.shape) < TILE_PX + 2:
        return 0.0
    import cv2

    differences = np.asarray(cv2.filter2D(luma, cv2.CV_32F, _SECOND_DIFFERENCES))
    tiles = _tile_means(differences * differences)
    brightness = _tile_means(luma)
    usable = _usable(brightness)
    energy = tiles[usable]
    count = max(1, round(FLATTEST_SHARE * energy.size))
    order = np.argpartition(energy, count - 1)[:count]
    factor = _brightness_factor(brightness[usable][order]) / _brightness_factor(np.float32(MIDDLE_GREY))
    return float(np.sqrt(np.mean(energy[order] / factor) / np.square(_SECOND_DIFFERENCES).sum()))


def _brightness_factor(luma: Luma | np.float32) -> Luma:
    return np.asarray(
        1
        + (np.float32(BRIGHTNESS_HALF) / np.maximum(luma, np.float32(DARKEST)))
        ** np.float32(BRIGHTNESS_POWER)
    )


def _tile_means(values: Luma) -> Luma:
    import cv2

    rows, columns = max(1, values.shape[0] // TILE_PX), max(1, values.shape[1] // TILE_PX)
    high, wide = values.shape[0] // rows, values.shape[1] // columns
    cut = values[: rows * high, : columns * wide]
    return np.asarray(cv2.resize(cut, (columns, rows), interpolation=cv2.INTER_AREA))
