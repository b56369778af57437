"""What a kit resolves: the blur of its sharp frames, apart from how often it missed.

A quartile over all frames sinks with the misses, and a quartile over the frames that were called sharp is
finer for free the more the kit blurs, since the criterion cuts the others off. So all frames enter, as two
kinds: sharp ones, whose blur lies about one angle, and missed ones, whose blur lies anywhere above. How
likely a frame is of either kind follows from the blurs themselves.

Where focus misses by any amount, small ones too, missed frames are no kind of their own: the small misses
count as sharp, and blur them, the more so the more a kit misses. How much follows from how far the kinds are
apart and how much more one kit misses than the other; it is taken off (`SMALL_MISSES`). Since that rests on
simulated focus alone, the interval reaches to where it would lie without, and a kit that misses more than the
bare lens is never said to gain nothing where the kinds are not apart.

References
----------
K. M. Ashman, C. M. Bird, S. E. Zepf, Detecting bimodality in astronomical datasets, Astronomical Journal 108
(1994): two normal components are apart from D = 2 on (R).
G. J. McLachlan, D. Peel, Finite Mixture Models (2000), chapter 2: the EM algorithm for normal components (R).
"""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.detail import (
    FEWEST_SCENES,
    WORTH_GAIN,
    Blurs,
    Gain,
    GainOutcome,
    TwoKits,
    bend,
    ends,
    gain,
    outcome_of,
)
from auditor.statistics.resampling import SEED, drawn
from auditor.statistics.student_t import quantile

Floats = NDArray[Any]

STEP = 0.02
"""Blurs this close, as a share, count as one: far finer than any interval."""
WIDEST = 3.5
"""Blurs more than e to this above the finest count as that: they have missed, by whatever."""
RESAMPLES = 200
ROUNDS, MORE_ROUNDS = 200, 40
"""Rounds for the record, and for each resample, which begins where the record ended."""
FINEST_SPREAD, LARGEST_SPREAD = 0.03, 0.5
MISSED_WIDER = 1.5
"""Missed frames spread so many times as widely as sharp ones at least."""
APART = 2.0
"""So many spreads lie between sharp and missed frames where they are two kinds (Ashman's D)."""
SMALL_MISSES = 0.28
"""What small misses add to the logarithm of the blur of sharp frames, for each spread that the kinds stand
closer than `APART`, and for all frames missed more (fitted to simulated focus that misses by any amount,
benchmarks/answers.py; where misses are a kind of their own it adds next to nothing)."""
MISSES_MORE = 0.05
"""Without that, the gain of a kit that misses this much more than the bare one, as a share, is too low."""
LEAST_KIND, MOST_KIND = 0.05, 0.98
"""Bounds of the share of sharp frames."""


def resolved_gain(
    kit: Blurs,
    bare: Blurs,
    *,
    confidence: float = 0.95,
    worth_gain: float = WORTH_GAIN,
    over_all: Gain | None = None,
    both: TwoKits | None = None,
) -> Gain:
    """How much finer the sharp frames of a kit are: 0.1 is a tenth finer than the bare kit's.

    Scenes count alike, and light is held alike, as in `detail.gain`; the interval resamples whole encounters.

    Parameters
    ----------
    kit, bare
        Measured frames of both kits.
    confidence
        Of the interval, as a share.
    worth_gain
        The least gain that is worth anything, as a share.
    over_all
        What `detail.gain` told of the same frames, where it was asked already.
    both
        The same kits, where more is asked of them.

    Returns
    -------
    Gain
        The gain as a share, its interval and a word; without figures where there is too little to go by.

    Raises
    ------
    ValueError
        for entries of unequal number, or a blur that is not above 0.
    """
    both = both or TwoKits(kit, bare)
    over_all = over_all or gain(kit, bare, confidence=confidence, worth_gain=worth_gain, both=both)
    if over_all.gain is None:
        return over_all
    weights, weights_bare, _alike = both.weights
    tables = _tables(both)
    kinds = _Kinds.start(tables.sum(axis=1)[None]).settled(tables.sum(axis=1)[None], ROUNDS)
    small = float(kinds.small_misses()[0])
    ratio = float(kinds.ratios()[0])
    fewest = min(over_all.encounters, over_all.encounters_bare)
    reach = _reach(tables, kinds, confidence, fewest)
    if reach is None:
        low = high = None
    else:
        low, high = ends(ratio, reach, bend(kit, bare, weights, weights_bare), small)
    enough = min(over_all.scenes, over_all.scenes_bare, fewest) >= FEWEST_SCENES
    origin = _origin(kit, bare)
    return replace(
        over_all,
        gain=float(-np.expm1(ratio)),
        low=low,
        high=high,
        blur_urad=float(np.exp(origin + kinds.sharp[0, 0] - max(small, 0.0))),
        blur_bare_urad=float(np.exp(origin + kinds.sharp[0, 1] + min(small, 0.0))),
        outcome="not enough evidence"
        if not enough or low is None or high is None
        else _outcome(kinds, low, high, worth_gain),
    )


def _outcome(kinds: _Kinds, low: float, high: float, worth_gain: float) -> GainOutcome:
    outcome = outcome_of(low, high, worth_gain)
    share, share_bare = kinds.share[0]
    if outcome == "no_detail_gain" and share_bare - share > MISSES_MORE and kinds.apart()[0] < APART:
        return "inconclusive"
    return outcome


class _Kinds:
    """Sharp and missed frames of two kits, shape (resamples, 2): where they lie, how widely, how many."""

    def __init__(self, sharp: Floats, missed: Floats, share: Floats, spreads: Floats) -> None:
        self.sharp, self.missed, self.share, self.spreads = sharp, missed, share, spreads

    @classmethod
    def start(cls, weights: Floats) -> _Kinds:
        """From the lower part of all frames."""
        reached = np.cumsum(weights, axis=2) / weights.sum(axis=2, keepdims=True)
        sharp = (reached < 0.3).sum(axis=2) * STEP
        return cls(sharp, sharp + 0.9, np.full(sharp.shape, 0.6), np.tile([0.2, 0.7], (len(weights), 1)))

    def apart(self) -> Floats:
        """Spreads between the kinds, the lesser of the two kits' (Ashman's D), shape (resamples,)."""
        spread = np.sqrt((self.spreads**2).sum(axis=1) / 2)
        return np.asarray((self.missed - self.sharp).min(axis=1) / spread)

    def small_misses(self) -> Floats:
        """How much more blurred the kit's sharp frames count than the bare ones', shape (resamples,)."""
        missed_more = self.share[:, 1] - self.share[:, 0]
        return np.asarray(SMALL_MISSES * np.maximum(APART - self.apart(), 0.0) * missed_more)

    def ratios(self) -> Floats:
        """Logarithm of the kit's blur over the bare one's, without small misses, shape (resamples,)."""
        return np.asarray(self.sharp[:, 0] - self.sharp[:, 1] - self.small_misses())

    def settled(self, weights: Floats, rounds: int) -> _Kinds:
        """After so many rounds; weights have the shape (resamples, 2, steps)."""
        used = (weights > 0).any(axis=(0, 1))
        places = (np.flatnonzero(used) + 0.5) * STEP
        powers = np.array([np.ones_like(places), places, places**2])
        weights = np.ascontiguousarray(weights[..., used])
        sums = weights @ powers.T
        now = self
        for _round in range(rounds):
            now = now._next(weights, sums, powers)
        return now

    def _next(self, weights: Floats, sums: Floats, powers: Floats) -> _Kinds:
        """One round, from the weights' own sums with each power of their place (0, 1 and 2)."""
        odds = self._log_odds_of_missed() @ powers  # worked on in place: fetching memory is half of the time
        np.exp(np.minimum(odds, 700.0, out=odds), out=odds)
        odds += 1
        of_sharp = np.divide(weights, odds, out=odds) @ powers.T
        # Never below 0: the difference of two equal numbers may be, by a last digit.
        of_missed = np.maximum(sums - of_sharp, 0.0)
        totals = [np.maximum(of_kind[..., 0], 1e-9) for of_kind in (of_sharp, of_missed)]
        centres = [
            of_kind[..., 1] / total for of_kind, total in zip((of_sharp, of_missed), totals, strict=True)
        ]
        spreads = []
        for of_kind, centre in zip((of_sharp, of_missed), centres, strict=True):
            squares = (of_kind[..., 2] - of_kind[..., 1] * centre).sum(axis=1)
            # Sums that differ by rounding alone must not make a variance negative.
            spreads.append(np.sqrt(np.maximum(squares, 0.0) / np.maximum(of_kind[..., 0].sum(axis=1), 1e-9)))
        own_spread = np.clip(spreads[0], FINEST_SPREAD, LARGEST_SPREAD)
        return _Kinds(
            centres[0],
            np.maximum(centres[1], centres[0]),
            np.clip(totals[0] / sums[..., 0], LEAST_KIND, MOST_KIND),
            np.column_stack([own_spread, np.maximum(spreads[1], MISSED_WIDER * own_spread)]),
        )

    def _log_odds_of_missed(self) -> Floats:
        """Of a missed frame against a sharp one, by powers of its place, shape (resamples, 2, 3).

        A normal density's logarithm is a parabola, so one exponential tells both kinds.
        """
        sharp_spread, missed_spread = self.spreads[:, :1], self.spreads[:, 1:]
        sharp_precision, missed_precision = sharp_spread**-2, missed_spread**-2
        constant = (
            np.log((1 - self.share) * sharp_spread / (self.share * missed_spread))
            + (self.sharp**2 * sharp_precision - self.missed**2 * missed_precision) / 2
        )
        slope = self.missed * missed_precision - self.sharp * sharp_precision
        curve = np.broadcast_to((sharp_precision - missed_precision) / 2, slope.shape)
        return np.stack([constant, slope, curve], axis=-1)


def _origin(kit: Blurs, bare: Blurs) -> float:
    return float(np.log(min(kit.blur_urad.min(), bare.blur_urad.min())))


def _tables(both: TwoKits) -> Floats:
    """Weights by kit, group of encounters and step of blur, shape (2, groups, steps)."""
    origin = _origin(both.kit, both.bare)
    group, groups, _draws = both.groups
    steps = round(WIDEST / STEP)
    tables = []
    for blurs, weights, kit_groups in zip((both.kit, both.bare), both.weights[:2], group, strict=True):
        step = np.minimum(((blurs.logs - origin) / STEP).astype(np.int64), steps - 1)
        table = np.bincount(kit_groups * steps + step, weights=weights, minlength=groups * steps)
        tables.append(table.reshape(groups, steps))
    return np.array(tables)


@lru_cache(maxsize=4)
def _draws(groups: int) -> Floats:
    """The same for every pair of kits with as many groups of encounters."""
    return drawn(groups, RESAMPLES, np.random.default_rng(SEED))


def _reach(tables: Floats, kinds: _Kinds, confidence: float, fewest: int) -> float | None:
    """Half of the interval of the logarithm of the ratio; None with fewer than two encounters."""
    if fewest < 2:
        return None
    weights = np.einsum("dg,kgs->dks", _draws(tables.shape[1]), tables)
    held = (weights.sum(axis=2) > 0).all(axis=1)  # a draw may hold none of one kit's encounters
    if held.sum() < RESAMPLES // 2:
        return None
    count = int(held.sum())
    start = _Kinds(
        *(
            np.repeat(values, count, axis=0)
            for values in (kinds.sharp, kinds.missed, kinds.share, kinds.spreads)
        )
    )
    settled = start.settled(weights[held], MORE_ROUNDS)
    return quantile(0.5 + confidence / 2, fewest - 1) * float(settled.ratios().std())
