"""How much of a picture's contrast there is at each distance: blur takes it from the short ones first.

For places 1, 2, 4 ... 32 px apart, along four directions and tile by tile: the mean squared difference. Its
ratio between one distance and the next falls with blur whatever the contrast, in dense fur too, where no
edge stands alone; along a motion it falls more than across.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma, halved

DISTANCES_PX = (1, 2, 4, 8, 16, 32)
TILE_PX = 32
FLATTEST_SHARE, RICHEST_SHARE = 0.1, 0.25
LEAST_LEFT = 0.02
"""At least this share of an energy is taken for the picture's, however large the noise."""
QUANTILES = (0.5, 0.8, 0.95)
THINNED_LEVELS = 2
"""At the larger sizes, some of the rows are enough."""
TINY = 1e-3
"""Squared grey levels."""


@dataclass(frozen=True, slots=True)
class Bands:
    """Squared differences of a region, noise taken out."""

    energy: NDArray[np.float64]
    """(distances, directions, tiles), squared grey levels; across, down, and along both diagonals."""
    floor_share: NDArray[np.float64]
    """For each distance: energy of the flattest tiles over the typical tile's."""


def bands(luma: Luma) -> Bands:
    """Differences of a region of at least one tile.

    Noise is taken to be what the flattest tiles hold: where none is flat, that is as much of the texture at
    every distance, and changes no ratio.
    """
    rows, columns = luma.shape[0] // TILE_PX, luma.shape[1] // TILE_PX
    picture = luma[: rows * TILE_PX, : columns * TILE_PX]
    found = [_differences(picture[0::2], picture[1::2], 1, (rows, columns))]
    for level in range(len(DISTANCES_PX) - 1):
        if level:
            picture = halved(picture)
        thinned = level < THINNED_LEVELS
        pairs = (picture[0::4], picture[2::4]) if thinned else (picture[:-2], picture[2:])
        found.append(_differences(*pairs, 2, (rows, columns)))
    energy = np.array(found, np.float64)
    total = energy.mean(axis=1)
    count = max(1, round(FLATTEST_SHARE * total.shape[1]))
    flattest = np.argpartition(total[2], count - 1)[:count]
    floor = energy[:, :, flattest].mean(axis=2, keepdims=True)
    return Bands(
        energy=np.maximum(energy - floor, LEAST_LEFT * energy) + TINY,
        floor_share=(total[:, flattest].mean(axis=1) + TINY) / (np.median(total, axis=1) + TINY),
    )


def numbers(found: Bands) -> list[float]:
    """Logarithms in the order of `NAMES`."""
    total = found.energy.mean(axis=1)
    count = max(1, round(RICHEST_SHARE * total.shape[1]))
    richest = np.argpartition(-total[2], count - 1)[:count]
    out = [*_ratios(total.sum(axis=1)), *_ratios(total[:, richest].sum(axis=1))]
    by_tile = np.log(total[:-1] / total[1:])
    half = np.argsort(total[3])[total.shape[1] // 2 :]
    out += np.quantile(by_tile[:, half], QUANTILES, axis=1).T.ravel().tolist()
    rich = found.energy[:, :, half].sum(axis=2)
    turned = np.log(rich[:-1] / rich[1:])
    for of_directions in (turned.mean(axis=1), turned.min(axis=1), turned.max(axis=1)):
        out += of_directions.tolist()
    # The two pairs of directions at right angles: how far apart they are.
    apart = np.stack([turned[:, 0] - turned[:, 1], turned[:, 2] - turned[:, 3]])
    out += np.hypot(*apart).tolist()
    out += np.log(found.floor_share[:3]).tolist()
    return out


NAMES = (
    *(f"band_all_{px}" for px in DISTANCES_PX[:-1]),
    *(f"band_rich_{px}" for px in DISTANCES_PX[:-1]),
    *(f"band_tiles_{px}_{quantile}" for px in DISTANCES_PX[:-1] for quantile in QUANTILES),
    *(f"band_{name}_{px}" for name in ("mean", "min", "max", "turn") for px in DISTANCES_PX[:-1]),
    *(f"band_floor_{px}" for px in DISTANCES_PX[:3]),
)


def _ratios(energy: NDArray[np.float64]) -> list[float]:
    return [float(np.log(near / far)) for near, far in pairwise(energy)]


def _differences(upper: Luma, lower: Luma, step: int, grid: tuple[int, int]) -> NDArray[Any]:
    """Mean squared differences by direction and tile, of rows and those a step below them."""
    import cv2

    out = []
    squared: Luma = np.empty(upper.shape, np.float32)
    for first, second in (
        (upper[:, :-step], upper[:, step:]),
        (upper, lower),
        (upper[:, :-step], lower[:, step:]),
        (upper[:, step:], lower[:, :-step]),
    ):
        difference = squared[:, : first.shape[1]]
        np.subtract(second, first, out=difference)
        np.multiply(difference, difference, out=difference)
        if first.shape[1] < squared.shape[1]:  # whole tiles are averaged several times as fast as odd ones
            squared[:, -step:] = squared[:, -2 * step : -step]
        out.append(cv2.resize(squared, (grid[1], grid[0]), interpolation=cv2.INTER_AREA).ravel())
    return np.array(out)
