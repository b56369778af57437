"""Records of invented photographers, as arms of encounters, for scoring what is told of them.

Nothing here is drawn as the fitted model assumes. A frame hits where its blur, a normal deviate, stays under
a limit (a probit, not a logit). How hard an animal is has heavy tails (Student's t). Light helps until there
is enough of it; distance hurts ever faster. Whole bursts go to the background. Converters are put on for far
birds, for good light or for both. The loss differs from animal to animal. In a hide one hard or easy hour
makes many encounters. Distance is recorded always, partly or never."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from auditor.statistics.detail import Blurs

Distance = Literal["always", "partly", "never"]
Floats = NDArray[Any]

TRIPS_A_YEAR = 6
WITH_IT_A_YEAR, BARE_A_YEAR = 28, 49
BOTH_SHARE = 0.08
"""Share of the encounters that hold both kits."""
USED_WITH_IT = (WITH_IT_A_YEAR / (WITH_IT_A_YEAR + BARE_A_YEAR) - BOTH_SHARE / 2) / (1 - BOTH_SHARE)
ENCOUNTERS_A_TRIP = (WITH_IT_A_YEAR + BARE_A_YEAR) / TRIPS_A_YEAR / (1 + BOTH_SHARE)
BURST_LOST = 0.06
"""Share of bursts whose focus went to the background."""
PARTLY_RECORDED = 0.6
"""Where distance is recorded partly, so many of the encounters have it."""
PLACE, TRIP_SPREAD, DIFFICULTY, BURST_SPREAD = 1.05, 0.3, 0.45, 0.35
LOSS_SPREAD = 0.5
"""Spread of the loss over animals, as a share of its mean."""


@dataclass(frozen=True, slots=True)
class Photographer:
    """What one photographer does, the same on every trip."""

    loss: float
    """True loss of hits with the converter, as a share, over the encounters that are met, each alike."""
    far: float = 1.0
    """How much more often the converter goes on for each spread of distance, in logits."""
    bright: float = 0.6
    """The same for each spread of light."""
    distance: Distance = "always"
    hides: float = 0.25
    """Share of trips that are spent in a hide."""
    both_kits: float = BOTH_SHARE
    deletes: tuple[float, float] = (0.0, 0.0)
    """Share of the misses with the converter that are deleted in camera, and of the bare ones."""


@dataclass(frozen=True, slots=True)
class Record:
    """One row an arm: the frames of one kit in one encounter, in order of trips."""

    trip: NDArray[np.int64]
    sitting: NDArray[np.int64]
    encounter: NDArray[np.int64]
    treated: NDArray[np.bool_]
    hits: Floats
    frames: Floats
    light_ev: Floats
    distance_log2: Floats
    """Doublings of distance from a metre; NaN where not recorded."""
    deleted: Floats

    def until(self, trips: int) -> Record:
        """What is known after so many trips."""
        return self.only(self.trip < trips)

    def only(self, chosen: NDArray[np.bool_]) -> Record:
        """The chosen arms."""
        return Record(**{name: getattr(self, name)[chosen] for name in self.__slots__})


@dataclass(frozen=True, slots=True)
class _Met:
    """Encounters as they are met, one entry each."""

    trip: NDArray[np.int64]
    sitting: NDArray[np.int64]
    light_ev: Floats
    distance_log2: Floats
    ease: Floats
    """Spreads of blur by which the encounter lies under the limit, bare."""
    loss_share: Floats
    """Its loss, as a multiple of the mean one."""


def record(who: Photographer, chance: np.random.Generator, *, trips: int = 24) -> Record:
    """Draw the record of a photographer."""
    met = _met(who, chance, trips)
    count = len(met.trip)
    far = (met.distance_log2 - 5.2) / 0.8
    bright = (met.light_ev - 11.2) / 1.8
    leaning = chance.normal(0, 0.5, trips)[met.trip] + who.far * far + who.bright * bright
    with_it = chance.random(count) < _logistic(_starting(who) + leaning)
    both = chance.random(count) < who.both_kits
    encounter = np.concatenate([np.arange(count), np.flatnonzero(both)])
    treated = np.concatenate([with_it, ~with_it[both]])
    order = np.lexsort((treated, encounter))
    encounter, treated = encounter[order], treated[order]
    push = shift(who.loss, who.hides) * met.loss_share[encounter] * treated
    hits, frames = _shot(met.ease[encounter] - push, chance)
    deleted = chance.binomial((frames - hits).astype(np.int64), np.where(treated, *who.deletes)).astype(float)
    known = {"always": 1.0, "partly": PARTLY_RECORDED, "never": 0.0}[who.distance]
    told = chance.random(count) < known
    return Record(
        trip=met.trip[encounter],
        sitting=met.sitting[encounter],
        encounter=encounter,
        treated=treated,
        hits=hits,
        frames=frames - deleted,
        light_ev=met.light_ev[encounter] + chance.normal(0, 0.1, len(encounter)),
        distance_log2=np.where(told[encounter], met.distance_log2[encounter], np.nan),
        deleted=deleted,
    )


def paired(loss: float, chance: np.random.Generator, *, animals: int = 12) -> Record:
    """Animals that were each taken with both kits, on one trip."""
    who = Photographer(loss=loss, both_kits=1.0, hides=0.0)
    drawn = record(who, chance, trips=1 + 3 * animals // int(ENCOUNTERS_A_TRIP))
    first = drawn.only(drawn.encounter < animals)
    return replace(first, trip=np.zeros_like(first.trip))


@cache
def shift(loss: float, hides: float = 0.25) -> float:
    """How many spreads of blur cost so many hits, over the encounters that are met."""
    if loss == 0:
        return 0.0
    chance = np.random.default_rng(7)
    met = _met(Photographer(loss=0.0, hides=hides), chance, 3000)
    ease = np.repeat(met.ease, 4) + chance.normal(0, BURST_SPREAD, 4 * len(met.ease))
    share = np.repeat(met.loss_share, 4)
    kept = 1 - BURST_LOST

    def cost(push: float) -> float:
        return kept * float((ndtr(ease) - ndtr(ease - push * share)).mean())

    low, high = -6.0, 6.0
    for _half in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if cost(middle) < loss else (low, middle)
    return (low + high) / 2


@cache
def _starting(who: Photographer) -> float:
    """Leaning at which the converter is on as often as it should be."""
    chance = np.random.default_rng(8)
    far, bright, trip = chance.normal(0, 1, (3, 20000))
    low, high = -6.0, 6.0
    for _half in range(40):
        middle = (low + high) / 2
        used = _logistic(middle + who.far * far + who.bright * bright + 0.5 * trip).mean()
        low, high = (middle, high) if used < USED_WITH_IT else (low, middle)
    return (low + high) / 2


def _met(who: Photographer, chance: np.random.Generator, trips: int) -> _Met:
    counts = 2 + chance.negative_binomial(4, 4 / (4 + ENCOUNTERS_A_TRIP - 2), trips)
    trip = np.repeat(np.arange(trips), counts)
    count = len(trip)
    # Two to five encounters make a sitting; in a hide the whole day is one.
    hide = (chance.random(trips) < who.hides)[trip]
    starts = np.where(hide, chance.random(count) < 0.12, chance.random(count) < 0.45)
    starts |= np.concatenate([[True], trip[1:] != trip[:-1]])
    sitting = np.cumsum(starts) - 1
    season = chance.normal(0, 0.9, trips)[trip]
    dusk = chance.random(count) < 0.3
    light = 11.8 + season - 2.6 * dusk + chance.normal(0, 1.0, count)
    doublings = 4.6 + chance.gamma(1.6, 0.45, count) + chance.normal(0, 0.25, trips)[trip]
    dim = np.logaddexp(0, (10.0 - light) / 0.8) * 0.8
    haze = np.maximum(doublings - 4.6, 0) ** 1.5
    hour = chance.standard_t(4, int(sitting[-1]) + 1)[sitting] * np.where(hide, 0.7, 0.1)
    own = chance.standard_t(3, count) * DIFFICULTY * np.where(hide, 0.6, 1.0)
    ease = PLACE - 0.35 * dim - 0.32 * haze + hour + own + chance.normal(0, TRIP_SPREAD, trips)[trip]
    loss_share = 1 + LOSS_SPREAD * (chance.gamma(4, 0.25, count) - 1) * 2
    return _Met(trip, sitting, light, doublings, ease, loss_share)


def _shot(ease: Floats, chance: np.random.Generator) -> tuple[Floats, Floats]:
    """Hits and frames: one to three bursts of 2 to 60 frames an arm."""
    bursts = chance.choice([1, 2, 3], len(ease), p=[0.6, 0.3, 0.1])
    arm = np.repeat(np.arange(len(ease)), bursts)
    frames = np.clip(np.exp(chance.normal(2.0, 0.8, len(arm))), 2, 60).astype(np.int64)
    rate = ndtr(ease[arm] + chance.normal(0, BURST_SPREAD, len(arm))) * (chance.random(len(arm)) > BURST_LOST)
    hits = chance.binomial(frames, rate)
    return np.bincount(arm, hits, len(ease)), np.bincount(arm, frames, len(ease))


def _logistic(values: Any) -> Floats:
    return np.asarray(1 / (1 + np.exp(-values)))


def blurs(chance: np.random.Generator, encounters: int, *, size: float, misses: float, missed: str) -> Blurs:
    """Whole blur of the frames of a kit, 12 microradians where sharp and `size` is 1.

    Missed frames blur by more, from nothing on; by a jump, about 30 microradians; or by any amount: then
    sharp and missed frames are no two kinds, and so many lie beyond 18 microradians.
    """
    scene = np.repeat(np.arange(encounters), 1 + chance.negative_binomial(1.5, 1.5 / 8.5, encounters))
    count = len(scene)
    luck = 0.15 * chance.standard_t(5, encounters)[scene]
    urad = 12 * size * np.exp(luck + 0.12 * chance.normal(0, 1, count))
    hard = 0.9 * chance.normal(0, 1, encounters)[scene]
    if missed == "by any amount":
        off = np.abs(chance.standard_t(3, count)) * np.exp(0.4 * hard)
        urad = np.hypot(urad, off * np.sqrt(18**2 - (12 * size) ** 2) / np.quantile(off, 1 - misses))
    else:
        is_missed = chance.random(count) < _logistic(1.15 * np.log(misses / (1 - misses)) + hard)
        by_more = urad + 25 * chance.exponential(1, count)
        by_jump = np.hypot(urad, np.exp(chance.normal(np.log(30), 0.7, count)))
        urad = np.where(is_missed, by_more if missed == "by more" else by_jump, urad)
    return Blurs(urad, scene, scene)
