"""Detail on the animal: how small a blur a kit reaches, as an angle, against another kit."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.statistics.resampling import SEED, Numbered, drawn, in_common_groups, weighted_quantile_at
from auditor.statistics.student_t import quantile

GainOutcome = Literal["gain", "no_detail_gain", "inconclusive", "not enough evidence"]

LOWER_QUARTILE = 0.25
FEW = 5000
"""Up to so many values are sorted as they are, and more in so many cells."""
TINY = 1e-300
FEWEST_SCENES = 8
"""Of each kit, and encounters too: with fewer there is no word."""
WORTH_GAIN = 0.05
"""Detail finer by less than this share is no gain worth having."""
RESAMPLES = 500
BIN = 0.0025
"""Blurs this close, as a share, count as one while resampling: far finer than any interval."""
WIDE = 20
"""Of these in a wide bin, in which quartiles are looked for first."""
LIGHT_BIN_EV = 2.0
"""Frames in one such step of light are taken to be in like light."""
LEAST_MATCHED_SHARE = 0.5
"""Of the kit's scenes; where fewer are in light in which the bare kit was used, light is not held alike."""
READINGS_BEND = 0.2
"""Of two blurs that differ in px, readings show the logarithm of their ratio whole, or up to so much of what
they show less: between 0.5 and 2.2 px the slope of the logarithms is .91 (.83 to .96) on photographs and .95
(.83 to 1.08) on drawn scenes (benchmarks/second_focus.py)."""


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
    alike_in_light: bool
    """Whether the bare frames were weighted to the light of the kit's."""


def lower_quartile(blur: ArrayLike, scene: ArrayLike) -> float:
    """The lower quartile over all frames, each scene counting alike whatever its number of frames.

    Parameters
    ----------
    blur, scene
        One entry a frame, shape (frames,): any unit, and what tells scenes apart.

    Returns
    -------
    float
        In the unit of `blur`.
    """
    return _weighted_quartile(np.asarray(blur, dtype=float), _by_scene(Numbered.of(np.asarray(scene))))


@dataclass(frozen=True)
class Blurs:
    """Measured blurs of a kit, one entry a frame, shape (frames,)."""

    blur_urad: NDArray[np.float64]
    scene: NDArray[np.int64]
    encounter: NDArray[np.int64]
    light_ev: NDArray[np.float64] | None = None
    """NaN where it is not known; None where nothing is known of it."""
    read_px: NDArray[np.float64] | None = None
    """The same blurs in px, as they were read; None where they were not read from pixels."""

    @cached_property
    def scenes(self) -> Numbered:
        """The scenes by number."""
        return Numbered.of(self.scene)

    @cached_property
    def encounters(self) -> Numbered:
        """The encounters by number."""
        return Numbered.of(self.encounter)

    @cached_property
    def logs(self) -> NDArray[np.float64]:
        """Logarithms of the blurs."""
        return np.log(self.blur_urad)


@dataclass(frozen=True)
class TwoKits:
    """A kit and the one that it is compared with, and what every question about both asks first."""

    kit: Blurs
    bare: Blurs

    @cached_property
    def weights(self) -> tuple[NDArray[np.float64], NDArray[np.float64], bool]:
        """As `light_weights` tells them."""
        return light_weights(self.kit, self.bare)

    @cached_property
    def groups(self) -> Groups:
        """Encounters of both, gathered to groups that are drawn anew."""
        chance = np.random.default_rng(SEED)
        group, groups = in_common_groups([self.kit.encounters, self.bare.encounters], chance)
        return Groups(group, groups, drawn(groups, RESAMPLES, chance))


class Groups(NamedTuple):
    """Encounters of two kits gathered to groups."""

    group: list[NDArray[np.intp]]
    """The group of each frame, kit by kit."""
    groups: int
    draws: NDArray[np.float64]
    """How often each group comes in each resample, shape (RESAMPLES, groups)."""


def gain(
    kit: Blurs,
    bare: Blurs,
    *,
    confidence: float = 0.95,
    worth_gain: float = WORTH_GAIN,
    both: TwoKits | None = None,
) -> Gain:
    """Compare a kit's blur with the bare kit's, over all measured frames, never over hits alone.

    Where light is known and the kits share enough of it, only frames in shared light count, and the bare ones
    weigh as the kit's light does: in low light more frames are missed, and converters are mounted there.

    The interval resamples whole encounters, of both kits at once, since two bodies on one animal are not two
    independent looks; their spread is widened by Student's t for few encounters (B. Efron, R. J.
    Tibshirani, An Introduction to the Bootstrap (1993), chapters 6 and 12: standard error and t, R).

    Parameters
    ----------
    kit, bare
        Measured frames of both kits.
    confidence
        Of the interval, as a share.
    worth_gain
        The least gain that is worth anything, as a share.
    both
        The same kits, where more is asked of them.

    Returns
    -------
    Gain
        The gain as a share (0.1: a tenth finer), its interval and a word; without figures where there is too
        little to go by.

    Raises
    ------
    ValueError
        for entries of unequal number, or a blur that is not above 0.
    """
    for blurs in (kit, bare):
        _check(blurs)
    both = both or TwoKits(kit, bare)
    weights, weights_bare, alike = both.weights
    counts = {
        "scenes": kit.scenes.held(weights > 0),
        "scenes_bare": bare.scenes.held(weights_bare > 0),
        "encounters": kit.encounters.held(weights > 0),
        "encounters_bare": bare.encounters.held(weights_bare > 0),
    }
    if not len(kit.blur_urad) or not len(bare.blur_urad):
        return Gain(
            gain=None, low=None, high=None, blur_urad=None, blur_bare_urad=None,
            outcome="not enough evidence", alike_in_light=False, **counts,
        )  # fmt: skip
    finest = _weighted_quartile(kit.blur_urad, weights)
    finest_bare = _weighted_quartile(bare.blur_urad, weights_bare)
    fewest = min(counts["encounters"], counts["encounters_bare"])
    reach = _reach(both, confidence, fewest)
    ratio = np.log(finest / finest_bare)
    low, high = (None, None) if reach is None else ends(ratio, reach, bend(kit, bare, weights, weights_bare))
    outcome: GainOutcome = "not enough evidence"
    if min(counts.values()) >= FEWEST_SCENES and low is not None and high is not None:
        outcome = outcome_of(float(low), float(high), worth_gain)
    return Gain(
        gain=float(-np.expm1(ratio)),
        low=None if low is None else float(low),
        high=None if high is None else float(high),
        blur_urad=finest,
        blur_bare_urad=finest_bare,
        outcome=outcome,
        alike_in_light=alike,
        **counts,
    )


def bend(kit: Blurs, bare: Blurs, weights: NDArray[np.float64], weights_bare: NDArray[np.float64]) -> float:
    """How much coarser the kit may be than readings say, because they differ in px.

    Parameters
    ----------
    kit, bare
        Measured frames of both kits.
    weights, weights_bare
        One entry a frame.

    Returns
    -------
    float
        Logarithm of a factor; below 0 where the kit may be finer. 0 where the px are not known.
    """
    if kit.read_px is None or bare.read_px is None:
        return 0.0
    sizes = _weighted_quartile(kit.read_px, weights), _weighted_quartile(bare.read_px, weights_bare)
    return READINGS_BEND * float(np.log(sizes[0] / sizes[1]))


def ends(ratio: float, reach: float, *bends: float) -> tuple[float, float]:
    """Both ends of a gain's interval.

    Parameters
    ----------
    ratio
        Logarithm of the kit's blur over the bare kit's.
    reach
        To either side, by chance.
    bends
        Each to one side: from `bend`, say.

    Returns
    -------
    tuple of float
        Low and high, shares.
    """
    up, down = sum(max(bend, 0.0) for bend in bends), sum(min(bend, 0.0) for bend in bends)
    low, high = -np.expm1(ratio + reach + up), -np.expm1(ratio - reach + down)
    return float(low), float(high)


def outcome_of(low: float, high: float, worth_gain: float) -> GainOutcome:
    """The word for an interval of a gain.

    Parameters
    ----------
    low, high
        Ends of the interval, shares.
    worth_gain
        The least gain that is worth anything, as a share.

    Returns
    -------
    GainOutcome
        By where the whole interval lies.
    """
    if high < worth_gain:
        return "no_detail_gain"
    return "gain" if low > 0 else "inconclusive"


def _check(blurs: Blurs) -> None:
    if blurs.blur_urad.ndim != 1 or not blurs.blur_urad.shape == blurs.scene.shape == blurs.encounter.shape:
        raise ValueError(
            "blur_urad, scene and encounter must be of one length, not of shapes "
            f"{blurs.blur_urad.shape}, {blurs.scene.shape}, {blurs.encounter.shape}"
        )
    if not (np.isfinite(blurs.blur_urad) & (blurs.blur_urad > 0)).all():
        raise ValueError("blur_urad must be finite and above 0")


def light_weights(kit: Blurs, bare: Blurs) -> tuple[NDArray[np.float64], NDArray[np.float64], bool]:
    """What each frame weighs: scenes alike, the bare ones by the kit's light where that can be; and if so.

    Parameters
    ----------
    kit, bare
        Measured frames of both kits.

    Returns
    -------
    tuple[NDArray[np.float64], NDArray[np.float64], bool]
        Weights of the frames of `kit` and of `bare`, shape (frames,) each; True where light was held alike.
    """
    weights, weights_bare = (_by_scene(blurs.scenes) for blurs in (kit, bare))
    if kit.light_ev is None or bare.light_ev is None or not len(weights) or not len(weights_bare):
        return weights, weights_bare, False
    light = np.concatenate([kit.light_ev, bare.light_ev])
    has_light = np.isfinite(light)
    if not has_light.any():
        return weights, weights_bare, False
    stratum = np.floor(np.where(has_light, light, light[has_light].min()) / LIGHT_BIN_EV).astype(np.int64)
    stratum -= stratum.min()
    strata = int(stratum.max()) + 1
    kit_strata, bare_strata = stratum[: len(weights)], stratum[len(weights) :]
    lit, lit_bare = has_light[: len(weights)], has_light[len(weights) :]
    scenes = np.bincount(kit_strata, weights * lit, minlength=strata)
    scenes_bare = np.bincount(bare_strata, weights_bare * lit_bare, minlength=strata)
    both = (scenes > 0) & (scenes_bare > 0)
    if scenes[both].sum() < LEAST_MATCHED_SHARE * weights.sum():
        return weights, weights_bare, False
    ratio = np.divide(scenes, scenes_bare, out=np.zeros(strata), where=both)
    return weights * lit * both[kit_strata], weights_bare * lit_bare * ratio[bare_strata], True


def _by_scene(scenes: Numbered) -> NDArray[np.float64]:
    return np.asarray((1 / scenes.rows)[scenes.number], dtype=np.float64)


def _reach(both: TwoKits, confidence: float, fewest_encounters: int) -> float | None:
    """Half of the interval of the logarithm of the ratio; None with fewer than two encounters."""
    if fewest_encounters < 2:
        return None
    group, groups, draws = both.groups
    logs = [both.kit.logs, both.bare.logs]
    origin = min(values.min() for values in logs)
    quartiles = [
        _drawn_quartiles(values - origin, weights, kit_groups, groups, draws)
        for values, weights, kit_groups in zip(logs, both.weights[:2], group, strict=True)
    ]
    ratios = quartiles[0] - quartiles[1]
    ratios = ratios[np.isfinite(ratios)]  # a draw may hold none of one kit's encounters
    if len(ratios) < RESAMPLES // 2:
        return None
    return quantile(0.5 + confidence / 2, fewest_encounters - 1) * float(ratios.std())


def _drawn_quartiles(
    logs: NDArray[np.float64],
    weights: NDArray[np.float64],
    group: NDArray[np.int64],
    groups: int,
    draws: NDArray[np.float64],
) -> NDArray[np.float64]:
    """Lower quartiles of resampled encounters, shape (draws,); NaN where a draw holds nothing."""
    bins = np.floor(logs / BIN).astype(np.int64)
    # In wide bins first: of fine ones only those matter in which some draw has its quartile.
    wide = bins // WIDE
    reached = _reached(draws, wide, int(wide.max()) + 1, weights, group, groups)
    total = reached[:, -1]
    quarter = LOWER_QUARTILE * total[:, None]
    held = (reached < quarter).sum(axis=1)[total > 0]
    if not len(held):
        return np.full(len(draws), np.nan)
    first, last = int(held.min()), int(held.max())
    near = (wide >= first) & (wide <= last)
    below = reached[:, first - 1 : first] if first else np.zeros((len(draws), 1))
    start = first * WIDE
    fine = _reached(draws, bins[near] - start, (last + 1) * WIDE - start, weights[near], group[near], groups)
    return np.where(total > 0, (start + (below + fine < quarter).sum(axis=1)) * BIN, np.nan)


def _reached(
    draws: NDArray[np.float64],
    bins: NDArray[np.int64],
    width: int,
    weights: NDArray[np.float64],
    group: NDArray[np.int64],
    groups: int,
) -> NDArray[np.float64]:
    """The weight of each draw up to each bin, shape (draws, width)."""
    table = np.bincount(group * width + bins, weights=weights, minlength=groups * width)
    return np.asarray(np.cumsum(draws @ table.reshape(groups, width), axis=1))


def _weighted_quartile(values: NDArray[np.float64], weights: NDArray[np.float64]) -> float:
    if len(values) <= FEW:
        below, near = 0.0, np.arange(len(values))
    else:
        below, near = _near_quartile(values, weights)
    order = near[np.argsort(values[near], kind="stable")]
    quarter = LOWER_QUARTILE * weights.sum() - below
    return weighted_quantile_at(values[order], weights[order], quarter)


def _near_quartile(
    values: NDArray[np.float64], weights: NDArray[np.float64]
) -> tuple[float, NDArray[np.intp]]:
    """What lies below the values around the quartile, and which those are: to sort them all takes longer."""
    low, high = float(values.min()), float(values.max())
    cell = ((values - low) * (FEW / max(high - low, TINY))).astype(np.intp)
    reached = np.cumsum(np.bincount(cell, weights))
    used = np.flatnonzero(np.diff(reached, prepend=0.0))
    # The cell that holds it, and the next to either side: the quartile lies between two values.
    place = int(np.searchsorted(reached[used], LOWER_QUARTILE * reached[-1]))
    first, last = used[max(place - 1, 0)], used[min(place + 1, len(used) - 1)]
    below = float(reached[first - 1]) if first else 0.0
    return below, np.flatnonzero((cell >= first) & (cell <= last))
