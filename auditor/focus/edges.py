"""Edges of a region, and how steep each is at two scales: what tells its blur.

An edge that was blurred by sigma, blurred again by s, has a gradient that falls as
1 / sqrt(sigma^2 + s^2). Two values of s therefore tell sigma, whatever the contrast.

The idea of reading blur from one edge at two scales: Zhuo and Sim, Defocus map estimation from a single
image, Pattern Recognition 44 (2011), equations 3 to 6 (R). Isolation of edges, noise and tiles are ours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma, blurred, slopes
from auditor.focus.noise import NoiseFloor, noise_floor

SCALES_PX = (0.8, 1.6, 2.0)
DIFFERENCE_VARIANCE_PX2 = 1 / 3
"""A central difference averages over two px: a box of this variance."""
FILTER_VARIANCE_PX2 = tuple(scale**2 + DIFFERENCE_VARIANCE_PX2 for scale in SCALES_PX)
ABOVE_NOISE = 12.5
ISOLATION_PX = 4
LOWEST_BESIDE = -0.3
"""Beside an edge that stands alone the gradient does not turn back by more than this share of its peak."""
MOST_EDGES, MOST_CANDIDATES = 6_000, 20_000
TILE_PX = 32

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Edges:
    """Points on edges: arrays with one entry a point, energies in squared grey levels a px."""

    fine: Floats
    """Squared gradient across the edge at the finest scale, noise taken out."""
    middle: Floats
    coarse: Floats
    """At the coarsest scale, noise not taken out: the edge's own weight."""
    angle_rad: Floats
    """Direction of the gradient, modulo pi."""
    tile: NDArray[np.int64]
    tiles: int
    """Number of tiles of the region."""
    crowded_share: float
    """Share of edge points that had another edge beside them, and were left out."""
    floor: NoiseFloor


def find_edges(luma: Luma) -> Edges:
    """Points on the ridges of the gradient that stand alone, with their steepness at two scales."""
    first = blurred(luma, SCALES_PX[0])
    second = blurred(first, (SCALES_PX[1] ** 2 - SCALES_PX[0] ** 2) ** 0.5)
    third = blurred(second, (SCALES_PX[2] ** 2 - SCALES_PX[1] ** 2) ** 0.5)
    down3, across3 = slopes(third)
    energy3 = down3 * down3 + across3 * across3
    floor = noise_floor((first, second), energy3, third)
    least = ABOVE_NOISE * floor.energy[2]
    rows, columns = _ridge(energy3, down3, across3, max(least * floor.least_factor, 1.0))
    above = energy3[rows, columns] > least * floor.at(third[rows, columns])
    rows, columns = rows[above], columns[above]
    if len(rows) > MOST_EDGES:
        keep = np.linspace(0, len(rows) - 1, MOST_EDGES).astype(np.int64)
        rows, columns = rows[keep], columns[keep]
    steep = np.sqrt(energy3[rows, columns])
    normal_down, normal_across = down3[rows, columns] / steep, across3[rows, columns] / steep
    alone = _stand_alone(down3, across3, rows, columns, normal_down, normal_across, steep)
    crowded_share = 1 - float(alone.mean()) if len(alone) else 0.0
    rows, columns = rows[alone], columns[alone]
    normal_down, normal_across, steep = normal_down[alone], normal_across[alone], steep[alone]
    scaled = floor.at(third[rows, columns])
    # Along one direction there is half of the noise of both.
    fine, middle = (
        _slope_at(scale, rows, columns, normal_down, normal_across) ** 2 - floor.energy[number] / 2 * scaled
        for number, scale in enumerate((first, second))
    )
    tiles_across = -(-energy3.shape[1] // TILE_PX)
    tiles_down = -(-energy3.shape[0] // TILE_PX)
    return Edges(
        fine=fine,
        middle=middle,
        coarse=steep**2,
        angle_rad=np.mod(np.arctan2(normal_down, normal_across), np.float32(np.pi)),
        tile=(rows // TILE_PX) * tiles_across + columns // TILE_PX,
        tiles=tiles_down * tiles_across,
        crowded_share=crowded_share,
        floor=floor,
    )


def _slope_at(
    luma: Luma,
    rows: NDArray[np.int64],
    columns: NDArray[np.int64],
    normal_down: Floats,
    normal_across: Floats,
) -> Floats:
    """Central differences along the normals, a px, at some points alone: most pixels are on no edge."""
    down = luma[rows + 1, columns] - luma[rows - 1, columns]
    across = luma[rows, columns + 1] - luma[rows, columns - 1]
    return np.asarray(0.5 * (down * normal_down + across * normal_across))


def variance_px2(fine: Floats, middle: Floats) -> NDArray[np.float64]:
    """Squared blur (sigma, px) from squared gradients at two scales; NaN where they do not fall as an edge's.

    Derived: (sigma^2 + A2) / (sigma^2 + A1) = fine / middle.
    """
    narrow, wide = FILTER_VARIANCE_PX2[0], FILTER_VARIANCE_PX2[1]
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.asarray(fine, dtype=np.float64) / np.asarray(middle, dtype=np.float64)
        found = (wide - ratio * narrow) / (ratio - 1)
    return np.where((ratio > 1.0) & (np.asarray(middle) > 0), found, np.nan)


def _ridge(
    energy: Luma, down: Luma, across: Luma, least: float
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Rows and columns where the gradient is largest across its own direction."""
    margin = ISOLATION_PX + 1
    inner = energy[margin:-margin, margin:-margin]
    candidates = np.flatnonzero(inner > np.float32(least))
    if len(candidates) > MOST_CANDIDATES:
        candidates = candidates[:: -(-len(candidates) // MOST_CANDIDATES)]
    width = inner.shape[1]
    rows, columns = candidates // width + margin, candidates % width + margin
    here = energy[rows, columns]
    steep = np.sqrt(here)
    step_down = np.rint(down[rows, columns] / steep).astype(np.int64)
    step_across = np.rint(across[rows, columns] / steep).astype(np.int64)
    on_ridge = (here >= energy[rows + step_down, columns + step_across]) & (
        here > energy[rows - step_down, columns - step_across]
    )
    return rows[on_ridge], columns[on_ridge]


def _stand_alone(
    down: Luma,
    across: Luma,
    rows: NDArray[np.int64],
    columns: NDArray[np.int64],
    normal_down: Floats,
    normal_across: Floats,
    steep: Floats,
) -> NDArray[np.bool_]:
    """Which points have no edge of the other sign within a few px along their normal."""
    alone = np.ones(len(rows), dtype=np.bool_)
    for distance in (-ISOLATION_PX, -3, -2, 2, 3, ISOLATION_PX):
        beside_rows = rows + np.rint(distance * normal_down).astype(np.int64)
        beside_columns = columns + np.rint(distance * normal_across).astype(np.int64)
        along = down[beside_rows, beside_columns] * normal_down
        along += across[beside_rows, beside_columns] * normal_across
        alone &= along > LOWEST_BESIDE * steep
    return alone
