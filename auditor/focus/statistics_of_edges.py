"""What the edges of a region say together: its blur, read at four sizes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.edges import Edges, find_edges, variance_px2
from auditor.focus.luminance import HALVED_VARIANCE_PX2, Luma, halved

LEVELS = 4
LEAST_EDGES_A_TILE = 6
SMALLEST_SIDE_PX = 32
"""A region smaller than this at some size is not looked at there."""
QUANTILES = (0.1, 0.2, 0.35, 0.5, 0.7)
JUDGE, RANK = 1, 2
"""Places in QUANTILES. The lower one judges: a region also holds what lies outside the focus. The higher one
is steadier, and ranks frames of one scene."""
HAND_OVER_PX = ((1.2, 1.9), (2.6, 3.8), (5.2, 7.6))
"""Between these blurs the reading passes from one size to the next, halved one."""
LARGEST_VARIANCE_PX2 = 64.0


@dataclass(frozen=True, slots=True)
class LevelStatistics:
    """One size of the region."""

    sigma_px: NDArray[np.float64]
    """Quantiles over tiles, in px of the full size; NaN without enough edges."""
    tiles: int
    """Tiles with enough edges."""
    edges: int
    found: Edges | None


def levels(luma: Luma) -> list[LevelStatistics]:
    """Statistics of the region as it is, halved, halved again, and once more."""
    out = []
    for level in range(LEVELS):
        if level:
            luma = halved(luma)
        if min(luma.shape) < SMALLEST_SIDE_PX:
            out.append(LevelStatistics(np.full(len(QUANTILES), np.nan), 0, 0, None))
            continue
        out.append(_level(find_edges(luma), level))
    return out


def blended_px(found: list[LevelStatistics], quantile: int) -> float | None:
    """Blur (sigma, px) of the whole: the size decides that suits the blur; None without edges."""
    sigmas = [float(one.sigma_px[quantile]) for one in found]
    known = [sigma for sigma in sigmas if np.isfinite(sigma)]
    if not known:
        return None
    value = sigmas[-1]
    for finer, (low, high) in zip(reversed(sigmas[:-1]), reversed(HAND_OVER_PX), strict=True):
        if not np.isfinite(finer):
            continue
        if not np.isfinite(value):
            value = finer
            continue
        share = float(np.clip((value - low) / (high - low), 0, 1))
        value = share * value + (1 - share) * finer
    return value


def _level(edges: Edges, level: int) -> LevelStatistics:
    weight = 1 / np.maximum(edges.coarse.astype(np.float64), 1e-6)
    count = np.bincount(edges.tile, minlength=edges.tiles)
    fine = np.bincount(edges.tile, edges.fine * weight, minlength=edges.tiles)
    middle = np.bincount(edges.tile, edges.middle * weight, minlength=edges.tiles)
    contrast = np.bincount(edges.tile, np.sqrt(edges.coarse), minlength=edges.tiles)
    enough = count >= LEAST_EDGES_A_TILE
    variance = variance_px2(fine[enough], middle[enough])
    weights = contrast[enough]
    # A ratio that no edge can have: steeper than a step reads as no blur, flatter than any as the largest.
    too_flat = np.isnan(variance)
    variance = np.where(too_flat, LARGEST_VARIANCE_PX2, np.clip(variance, 0.0, LARGEST_VARIANCE_PX2))
    scale = 4.0**level
    full = variance * scale - (HALVED_VARIANCE_PX2 * (scale - 1) / 3)
    sigma = np.sqrt(np.maximum(full, 0.0))
    return LevelStatistics(
        sigma_px=_weighted_quantiles(sigma, weights),
        tiles=int(enough.sum()),
        edges=len(edges.fine),
        found=edges,
    )


def _weighted_quantiles(values: NDArray[np.float64], weights: NDArray[Any]) -> NDArray[np.float64]:
    if not len(values):
        return np.full(len(QUANTILES), np.nan)
    order = np.argsort(values)
    reached = (np.cumsum(weights[order]) - 0.5 * weights[order]) / weights.sum()
    return np.interp(QUANTILES, reached, values[order])
