"""Detail on the animal: how small a blur a kit reaches, as an angle, against another kit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

GainOutcome = Literal["gain", "no_detail_gain", "inconclusive", "not enough evidence"]

LOWER_QUARTILE = 0.25
FEWEST_SCENES = 8
WORTH_GAIN = 0.05
RESAMPLES = 1000
SEED = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Gain:
    """How much finer the blur of one kit is: 0.1 is a tenth finer, negative coarser."""

    gain: float | None
    low: float | None
    high: float | None
    blur_urad: float | None
    """Lower quartile of the kit's frames, every scene counting alike."""
    blur_bare_urad: float | None
    outcome: GainOutcome
    scenes: int
    scenes_bare: int


def lower_quartile(blur: ArrayLike, scene: ArrayLike) -> float:
    """The lower quartile over all frames, each scene counting alike whatever its number of frames.

    Parameters
    ----------
    blur, scene
        One entry a frame, shape (frames,): any unit, and what tells scenes apart.
    """
    values = np.asarray(blur, dtype=float)
    _scenes, number, count = np.unique(np.asarray(scene), return_inverse=True, return_counts=True)
    return _weighted_quartile(values, 1 / count[number])


def gain(
    blur_urad: ArrayLike,
    scene: ArrayLike,
    bare_urad: ArrayLike,
    bare_scene: ArrayLike,
    *,
    confidence: float = 0.95,
) -> Gain:
    """Compare a kit's blur with the bare kit's, over all measured frames, never over hits alone.

    The interval is a bootstrap of whole scenes, seeded (B. Efron, R. J. Tibshirani, An Introduction to the
    Bootstrap (1993), chapters 8 and 13: percentile interval, R).
    """
    kit = _by_scene(blur_urad, scene)
    bare = _by_scene(bare_urad, bare_scene)
    counts = {"scenes": len(kit), "scenes_bare": len(bare)}
    if not kit or not bare:
        return Gain(
            gain=None, low=None, high=None, blur_urad=None, blur_bare_urad=None,
            outcome="not enough evidence", **counts,
        )  # fmt: skip
    finest, finest_bare = _quartile_of(kit), _quartile_of(bare)
    chance = np.random.default_rng(SEED)
    drawn = [1 - _resampled(kit, chance) / _resampled(bare, chance) for _time in range(RESAMPLES)]
    tail = (1 - confidence) / 2
    low, high = (float(value) for value in np.quantile(drawn, (tail, 1 - tail)))
    return Gain(
        gain=1 - finest / finest_bare,
        low=low,
        high=high,
        blur_urad=finest,
        blur_bare_urad=finest_bare,
        outcome=_outcome(low, high) if min(counts.values()) >= FEWEST_SCENES else "not enough evidence",
        **counts,
    )


def _outcome(low: float, high: float) -> GainOutcome:
    if high < WORTH_GAIN:
        return "no_detail_gain"
    return "gain" if low > 0 else "inconclusive"


def _by_scene(blur: ArrayLike, scene: ArrayLike) -> list[NDArray[np.float64]]:
    values, scenes = np.asarray(blur, dtype=float), np.asarray(scene)
    if values.shape != scenes.shape or values.ndim != 1:
        raise ValueError(
            f"blur and scene must be of one length, not of shapes {values.shape}, {scenes.shape}"
        )
    if not (np.isfinite(values) & (values > 0)).all():
        raise ValueError("blur must be finite and above 0")
    order = np.argsort(scenes, kind="stable")
    ends = np.flatnonzero(scenes[order][1:] != scenes[order][:-1]) + 1
    return np.split(values[order], ends) if len(values) else []


def _quartile_of(scenes: list[NDArray[np.float64]]) -> float:
    return _weighted_quartile(
        np.concatenate(scenes), np.concatenate([np.full(len(one), 1 / len(one)) for one in scenes])
    )


def _resampled(scenes: list[NDArray[np.float64]], chance: np.random.Generator) -> float:
    return _quartile_of([scenes[number] for number in chance.integers(0, len(scenes), len(scenes))])


def _weighted_quartile(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values, kind="stable")
    reached = (np.cumsum(weights[order]) - 0.5 * weights[order]) / weights.sum()
    return float(np.interp(LOWER_QUARTILE, reached, values[order]))
