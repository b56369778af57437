"""A quantile over frames in which every scene counts alike, with its interval."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.statistics.resampling import SEED, drawn, in_groups, weighted_quantile

FEWEST_SCENES = 3
"""With fewer there is no interval that could be meant."""
MOST_STEPS = 2000
"""More values than this are gathered, neighbours with neighbours, before they are drawn."""
RESAMPLES = 500


def scene_quantile(
    values: ArrayLike, scenes: ArrayLike, quantile: float, *, confidence: float = 0.95
) -> tuple[float, float, float] | None:
    """A quantile and its interval; None for fewer than three scenes.

    The interval is a bootstrap of whole scenes, seeded, since frames of a scene go together (B. Efron,
    R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapter 13: percentile interval).

    Parameters
    ----------
    values, scenes
        One entry a frame, shape (frames,): any unit, and what tells scenes apart.
    quantile
        Between 0 and 1: 0.5 is the median.
    confidence
        Of the interval, as a share.

    Returns
    -------
    tuple[float, float, float] or None
        (estimate, low, high) in the unit of the values.

    Raises
    ------
    ValueError
        for two lengths, values that are not finite, or a quantile outside (0, 1).
    """
    numbers = np.asarray(values, dtype=float)
    names = np.asarray(scenes)
    if numbers.ndim != 1 or numbers.shape != names.shape:
        raise ValueError(
            f"values and scenes must be of one length, not of shapes {numbers.shape}, {names.shape}"
        )
    if not np.isfinite(numbers).all():
        raise ValueError("values must be finite")
    if not 0 < quantile < 1:
        raise ValueError(f"quantile must be between 0 and 1, not {quantile!r}")
    if not numbers.size:
        return None
    _names, scene, count = np.unique(names, return_inverse=True, return_counts=True)
    if len(count) < FEWEST_SCENES:
        return None
    order = np.argsort(numbers, kind="stable")
    numbers, scene = numbers[order], scene[order]
    weight = 1 / count[scene]
    estimate = weighted_quantile(numbers, weight, quantile)
    resampled = _resampled(numbers, weight, scene, quantile)
    tail = (1 - confidence) / 2
    low, high = np.quantile(resampled, (tail, 1 - tail))
    return estimate, float(low), float(high)


def _resampled(
    ordered: NDArray[np.float64],
    weight: NDArray[np.float64],
    scene: NDArray[np.intp],
    quantile: float,
) -> NDArray[np.float64]:
    """The quantile of each resample, shape (RESAMPLES,)."""
    chance = np.random.default_rng(SEED)
    group, groups = in_groups(scene, chance)
    steps = min(len(ordered), MOST_STEPS)
    step = np.arange(len(ordered)) * steps // len(ordered)
    weights = np.bincount(group * steps + step, weight, groups * steps).reshape(groups, steps)
    values = np.bincount(step, ordered, steps) / np.bincount(step, minlength=steps)
    times = drawn(groups, RESAMPLES, chance)
    return np.array([weighted_quantile(values, row, quantile) for row in times @ weights])
