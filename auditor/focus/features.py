"""The numbers that the learned reading starts from.

Changing them means training anew (benchmarks/train_focus.py).
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus import bands, spectrum
from auditor.focus.luminance import Luma
from auditor.focus.motion import motion
from auditor.focus.statistics_of_edges import JUDGE, LEVELS, QUANTILES, RANK, LevelStatistics, blended_px

LEAST_NOISE, LEAST_FLAT = 1.0, 0.01
"""Less noise than this makes no difference: a picture must not be unlike all others for being clean."""
MOTION_LEVELS = 3
"""Coarser ones have too few edges for it."""
NAMES = (
    *(f"log_sigma_{level}_{quantile}" for level in range(LEVELS) for quantile in QUANTILES),
    *(
        f"{name}_{level}"
        for level in range(LEVELS)
        for name in (
            "tiles",
            "crowded",
            "ratio_mean",
            "ratio_strong",
            "flat",
            "contrast",
        )
    ),
    *(
        f"{name}_{level}"
        for level in range(MOTION_LEVELS)
        for name in ("motion", "log_sigma_all_round", "log_sigma_along")
    ),
    "log_noise",
    "brightness",
    "log_blended_judge",
    "log_blended_rank",
    *bands.NAMES,
    *spectrum.NAMES,
)


def features(luma: Luma, found: list[LevelStatistics], noise: float) -> NDArray[np.float64]:
    """One row of numbers in the order of NAMES; NaN where a region does not tell one."""
    numbers: list[float] = []
    for one in found:
        numbers += [_log(value) for value in one.sigma_px]
    for one in found:
        numbers += _of_level(one)
    for level, one in enumerate(found[:MOTION_LEVELS]):
        moved = motion(one.found) if one.found else None
        scale = 2.0**level
        numbers += (
            [moved.strength, _log(moved.sigma_px * scale), _log(moved.along_px * scale)]
            if moved
            else [np.nan] * 3
        )
    numbers += [_log(max(noise, LEAST_NOISE)), float(luma.mean())]
    numbers += [_log(blended_px(found, quantile) or np.nan) for quantile in (JUDGE, RANK)]
    numbers += bands.numbers(bands.bands(luma))
    numbers += spectrum.numbers(luma)
    return np.array(numbers)


def _of_level(one: LevelStatistics) -> list[float]:
    edges = one.found
    if edges is None or not len(edges.fine):
        return [0.0, *[np.nan] * 5]
    return [
        one.tiles / edges.tiles,
        edges.crowded_share,
        _ratio(edges.fine, edges.middle, 1 / np.maximum(edges.coarse, 1e-6)),
        _ratio(edges.fine, edges.middle, np.ones_like(edges.coarse)),
        max(edges.floor.flat_share, LEAST_FLAT),
        _log(float(np.sqrt(np.median(edges.coarse)))),
    ]


def _ratio(fine: NDArray[Any], middle: NDArray[Any], weight: NDArray[Any]) -> float:
    total = float((middle * weight).sum())
    return float((fine * weight).sum()) / total if total > 0 else np.nan


def _log(value: float) -> float:
    return float(np.log(max(value, 0.05))) if np.isfinite(value) else np.nan
