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
RESAMPLES = 500
SEED = 1
BIN = 0.0025
"""Blurs this close, as a share, count as one while resampling: far finer than any interval."""
MOST_GROUPS = 400
"""More encounters than this are resampled in so many groups, drawn by lot."""


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
    encounters: int
    encounters_bare: int


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


@dataclass(frozen=True, slots=True)
class Blurs:
    """Measured blurs of a kit, one entry a frame, shape (frames,)."""

    blur_urad: NDArray[np.float64]
    scene: NDArray[np.int64]
    encounter: NDArray[np.int64]


def gain(kit: Blurs, bare: Blurs, *, confidence: float = 0.95, worth_gain: float = WORTH_GAIN) -> Gain:
    """Compare a kit's blur with the bare kit's, over all measured frames, never over hits alone.

    The interval resamples whole encounters, of both kits at once, since two bodies on one animal are not two
    independent looks; their spread is widened by Student's t for few encounters (B. Efron, R. J.
    Tibshirani, An Introduction to the Bootstrap (1993), chapters 6 and 12: standard error and t, R).

    Raises
    ------
    ValueError
        for entries of unequal number, or a blur that is not above 0.
    """
    for one in (kit, bare):
        _check(one)
    counts = {
        "scenes": len(np.unique(kit.scene)),
        "scenes_bare": len(np.unique(bare.scene)),
        "encounters": len(np.unique(kit.encounter)),
        "encounters_bare": len(np.unique(bare.encounter)),
    }
    if not len(kit.blur_urad) or not len(bare.blur_urad):
        return Gain(
            gain=None, low=None, high=None, blur_urad=None, blur_bare_urad=None,
            outcome="not enough evidence", **counts,
        )  # fmt: skip
    finest = lower_quartile(kit.blur_urad, kit.scene)
    finest_bare = lower_quartile(bare.blur_urad, bare.scene)
    fewest = min(counts["encounters"], counts["encounters_bare"])
    reach = _reach(kit, bare, confidence, fewest)
    ratio = np.log(finest / finest_bare)
    low, high = (None, None) if reach is None else (-np.expm1(ratio + reach), -np.expm1(ratio - reach))
    enough = min(counts.values()) >= FEWEST_SCENES and low is not None and high is not None
    return Gain(
        gain=float(-np.expm1(ratio)),
        low=None if low is None else float(low),
        high=None if high is None else float(high),
        blur_urad=finest,
        blur_bare_urad=finest_bare,
        outcome=_outcome(float(low), float(high), worth_gain) if enough else "not enough evidence",  # type: ignore[arg-type]
        **counts,
    )


def _outcome(low: float, high: float, worth_gain: float) -> GainOutcome:
    if high < worth_gain:
        return "no_detail_gain"
    return "gain" if low > 0 else "inconclusive"


def _check(one: Blurs) -> None:
    if one.blur_urad.ndim != 1 or not one.blur_urad.shape == one.scene.shape == one.encounter.shape:
        raise ValueError(
            "blur_urad, scene and encounter must be of one length, not of shapes "
            f"{one.blur_urad.shape}, {one.scene.shape}, {one.encounter.shape}"
        )
    if not (np.isfinite(one.blur_urad) & (one.blur_urad > 0)).all():
        raise ValueError("blur_urad must be finite and above 0")


def _reach(kit: Blurs, bare: Blurs, confidence: float, fewest_encounters: int) -> float | None:
    """Half of the interval of the logarithm of the ratio; None with fewer than two encounters."""
    from scipy.special import stdtrit

    if fewest_encounters < 2:
        return None
    chance = np.random.default_rng(SEED)
    names, number = np.unique(np.concatenate([kit.encounter, bare.encounter]), return_inverse=True)
    groups = min(len(names), MOST_GROUPS)
    group = (chance.permutation(len(names)) % groups)[number]
    draws = chance.multinomial(groups, np.full(groups, 1 / groups), size=RESAMPLES).astype(float)
    logs = [np.log(one.blur_urad) for one in (kit, bare)]
    origin = min(values.min() for values in logs)
    quartiles = []
    for one, values, own in zip(
        (kit, bare), logs, (group[: len(kit.scene)], group[len(kit.scene) :]), strict=True
    ):
        quartiles.append(_drawn_quartiles(values - origin, one.scene, own, groups, draws))
    ratios = quartiles[0] - quartiles[1]
    ratios = ratios[np.isfinite(ratios)]  # a draw may hold none of one kit's encounters
    if len(ratios) < RESAMPLES // 2:
        return None
    return float(stdtrit(fewest_encounters - 1, 0.5 + confidence / 2) * ratios.std())


def _drawn_quartiles(
    logs: NDArray[np.float64],
    scene: NDArray[np.int64],
    group: NDArray[np.int64],
    groups: int,
    draws: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Lower quartiles of resampled encounters, shape (draws,); NaN where a draw holds nothing."""
    _scenes, number, count = np.unique(scene, return_inverse=True, return_counts=True)
    bins = np.floor(logs / BIN).astype(np.int64)
    # Only the lower half can hold the quartile: the rest shares one bin.
    bins = np.minimum(bins, int(np.median(bins)) + int(2 / BIN))
    width = int(bins.max()) + 1
    table = np.bincount(group * width + bins, weights=1 / count[number], minlength=groups * width)
    reached = np.cumsum(draws @ table.reshape(groups, width), axis=1)
    wanted = LOWER_QUARTILE * reached[:, -1:]
    found = (reached < wanted).sum(axis=1) * BIN
    return np.where(reached[:, -1] > 0, found, np.nan)


def _weighted_quartile(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    order = np.argsort(values, kind="stable")
    reached = (np.cumsum(weights[order]) - 0.5 * weights[order]) / weights.sum()
    return float(np.interp(LOWER_QUARTILE, reached, values[order]))
