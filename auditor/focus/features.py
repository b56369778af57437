"""The numbers that the learned reading starts from.

Changing them means training anew (benchmarks/train_focus.py).
"""

from __future__ import annotations

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma
from auditor.focus.motion import motion
from auditor.focus.noise import noise_level
from auditor.focus.statistics_of_edges import QUANTILES, LevelStatistics, blended_px

STEPS_PX = (1, 2, 4, 8)
LEAST_NOISE, MOST_OVER_NOISE, LEAST_FLAT = 1.0, 6.0, 0.01
"""Less noise than this makes no difference: a picture must not be unlike all others for being clean."""
THINNED = 3
"""Every third line is enough for a mean."""
NAMES = (
    *(f"log_sigma_{level}_{quantile}" for level in range(3) for quantile in QUANTILES),
    *(
        f"{name}_{level}"
        for level in range(3)
        for name in ("tiles", "crowded", "ratio_mean", "flat", "contrast")
    ),
    *(f"motion_{level}" for level in range(2)),
    "log_noise",
    "brightness",
    *(f"log_step_{step}" for step in STEPS_PX[:-1]),
    "log_step_over_noise",
    "log_blended",
)
"""Sizes of differences between places so many px apart are divided by the next larger one's."""


def features(luma: Luma, found: list[LevelStatistics]) -> NDArray[np.float64]:
    """One row of numbers in the order of NAMES; NaN where a region does not tell one."""
    noise = noise_level(luma)
    numbers: list[float] = []
    for one in found:
        numbers += [_log(value) for value in one.sigma_px]
    for one in found:
        numbers += _of_level(one)
    for one in found[:2]:
        moved = motion(one.found) if one.found else None
        numbers.append(moved.strength if moved else np.nan)
    noise = max(noise, LEAST_NOISE)
    numbers += [_log(noise), float(luma.mean())]
    steps = [_step_energy(luma, step, noise) for step in STEPS_PX]
    numbers += [_log(near / far) if far > 0 else np.nan for near, far in pairwise(steps)]
    numbers.append(min(_log(steps[1] / noise**2), MOST_OVER_NOISE))
    numbers.append(_log(blended_px(found, 1) or np.nan))
    return np.array(numbers)


def _of_level(one: LevelStatistics) -> list[float]:
    edges = one.found
    if edges is None or not len(edges.fine):
        return [0.0, np.nan, np.nan, np.nan, np.nan]
    weight = 1 / np.maximum(edges.coarse, 1e-6)
    middle = float((edges.middle * weight).sum())
    ratio = float((edges.fine * weight).sum()) / middle if middle > 0 else np.nan
    return [
        one.tiles / edges.tiles,
        edges.crowded_share,
        ratio,
        max(edges.floor.flat_share, LEAST_FLAT),
        _log(float(np.sqrt(np.median(edges.coarse)))),
    ]


def _step_energy(luma: Luma, step: int, noise: float) -> float:
    """Mean squared difference between places so many px apart, noise taken out."""
    down = luma[step:, ::THINNED] - luma[:-step, ::THINNED]
    across = luma[::THINNED, step:] - luma[::THINNED, :-step]
    energy = float(np.square(down).sum() + np.square(across).sum()) / (down.size + across.size)
    return max(energy - 2 * noise**2, 1e-3)


def _log(value: float) -> float:
    return float(np.log(max(value, 0.05))) if np.isfinite(value) else np.nan
