"""Records from a second random model, so that nothing is tuned to one: rates multiply, luck is beta.

As in `simulated_records`, and different in everything that is drawn. Species differ in how easy they are and
in how far off they stay; the converter stays mounted for whole sittings and follows the species. Light and
haze multiply a rate. An encounter's own rate is beta-distributed about it, widely; scenes and bursts scatter
about that by betas again. The converter takes a share of the hits, another one for each animal. Bursts are
geometric, with some of a hundred frames. A hide has its good and bad hours."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from benchmarks.simulated_records import (
    ENCOUNTERS_A_TRIP,
    PARTLY_RECORDED,
    USED_WITH_IT,
    Photographer,
    Record,
)

Floats = NDArray[Any]

EASE = np.array([0.93, 0.85, 0.72, 0.55])
"""Rate of each species, bare, near and in good light."""
FREQUENCY = np.array([0.3, 0.3, 0.25, 0.15])
DOUBLINGS = np.array([4.4, 4.9, 5.4, 5.8])
OF_ENCOUNTER, OF_SCENE, OF_BURST = 2.2, 14.0, 8.0
"""How closely betas lie about their means: as so many frames."""
LONG_BURSTS = 0.04


def record(who: Photographer, chance: np.random.Generator, *, trips: int = 24) -> Record:
    """Draw the record of a photographer."""
    trip, sitting, light, doublings, rate = _met(who, chance, trips)
    count = len(trip)
    far, bright = (doublings - 5.0) / 0.7, (light - 11.0) / 1.8
    first = np.unique(sitting, return_index=True)[1]
    leaning = _starting(who) + who.far * far + who.bright * bright + chance.logistic(0, 0.4, trips)[trip]
    mounted = (chance.random(len(first)) < _logistic(leaning[first]))[sitting]
    with_it = np.where(chance.random(count) < 0.35, chance.random(count) < _logistic(leaning), mounted)
    both = chance.random(count) < who.both_kits
    encounter = np.concatenate([np.arange(count), np.flatnonzero(both)])
    treated = np.concatenate([with_it, ~with_it[both]])
    order = np.lexsort((treated, encounter))
    encounter, treated = encounter[order], treated[order]
    taken = _taken(who.loss, chance, count)[encounter] * treated
    own = _about(rate, OF_ENCOUNTER, chance)[encounter]
    own = np.where(taken >= 0, own * (1 - taken), own - taken * (1 - own))
    hits, frames = _shot(_about(own, OF_SCENE, chance), chance)
    deleted = chance.binomial((frames - hits).astype(np.int64), np.where(treated, *who.deletes)).astype(float)
    known = {"always": 1.0, "partly": PARTLY_RECORDED, "never": 0.0}[who.distance]
    told = chance.random(count) < known
    return Record(
        trip=trip[encounter],
        sitting=sitting[encounter],
        encounter=encounter,
        treated=treated,
        hits=hits,
        frames=frames - deleted,
        light_ev=light[encounter] + chance.normal(0, 0.1, len(encounter)),
        distance_log2=np.where(told[encounter], doublings[encounter], np.nan),
        deleted=deleted,
    )


def paired(loss: float, chance: np.random.Generator, *, animals: int = 12) -> Record:
    """Animals that were each taken with both kits, on one trip."""
    drawn = record(Photographer(loss=loss, both_kits=1.0, hides=0.0), chance, trips=6)
    first = drawn.only(drawn.encounter < animals)
    return replace(first, trip=np.zeros_like(first.trip))


@cache
def _mean_rates() -> tuple[float, float]:
    """Rate over the encounters that are met, bare; and what is left to gain."""
    rate = _met(Photographer(loss=0.0), np.random.default_rng(9), 4000)[4]
    return float(rate.mean()), float(1 - rate.mean())


@cache
def _starting(who: Photographer) -> float:
    chance = np.random.default_rng(10)
    _trip, _sitting, light, doublings, _rate = _met(replace(who, loss=0.0), chance, 1500)
    leaning = who.far * (doublings - 5.0) / 0.7 + who.bright * (light - 11.0) / 1.8
    low, high = -8.0, 8.0
    for _half in range(40):
        middle = (low + high) / 2
        low, high = (middle, high) if _logistic(middle + leaning).mean() < USED_WITH_IT else (low, middle)
    return (low + high) / 2


def _met(
    who: Photographer, chance: np.random.Generator, trips: int
) -> tuple[NDArray[np.int64], NDArray[np.int64], Floats, Floats, Floats]:
    """Trip, sitting, light, doublings of distance and bare rate of each encounter."""
    days = chance.choice([1, 2, 3, 6], trips, p=[0.3, 0.3, 0.25, 0.15])
    counts = 1 + chance.poisson((ENCOUNTERS_A_TRIP - 1) * days / 2.55)
    trip = np.repeat(np.arange(trips), counts)
    count = len(trip)
    hide = (chance.random(trips) < who.hides)[trip]
    starts = chance.random(count) < np.where(hide, 0.15, 0.4)
    starts |= np.concatenate([[True], trip[1:] != trip[:-1]])
    sitting = np.cumsum(starts) - 1
    sittings = int(sitting[-1]) + 1
    # Where one species is, the next animal is often of it too.
    species = chance.choice(4, count, p=FREQUENCY)
    of_sitting = chance.choice(4, sittings, p=FREQUENCY)
    species = np.where(chance.random(count) < 0.5, of_sitting[sitting], species)
    hour = chance.uniform(6.5, 14.0, sittings)[sitting]
    light = np.minimum(hour + chance.gumbel(0, 0.6, count) + chance.normal(0, 0.5, trips)[trip], 15.5)
    doublings = DOUBLINGS[species] + chance.laplace(0, 0.35, count)
    dim = 1 - 0.45 * np.exp(-np.maximum(light - 6.0, 0) / 2.5)
    haze = np.exp(-0.5 * (2 ** (doublings - 6.6)) ** 1.5)
    season = chance.beta(12, 2, trips)[trip]
    good_hour = np.where(hide, chance.beta(3, 1.2, sittings)[sitting], chance.beta(30, 3, sittings)[sitting])
    return trip, sitting, light, doublings, EASE[species] * dim * haze * season * good_hour


def _taken(loss: float, chance: np.random.Generator, count: int) -> Floats:
    """Share of the hits that the converter takes from each animal; below 0: of the misses that it saves."""
    if loss == 0:
        return np.zeros(count)
    hits, misses = _mean_rates()
    share = min(abs(loss) / (hits if loss > 0 else misses), 0.98)
    return float(np.sign(loss)) * chance.beta(5 * share, 5 * (1 - share), count)


def _about(mean: Floats, closeness: float, chance: np.random.Generator) -> Floats:
    mean = np.clip(mean, 0.01, 0.99)
    return chance.beta(closeness * mean, closeness * (1 - mean))


def _shot(rate: Floats, chance: np.random.Generator) -> tuple[Floats, Floats]:
    """Hits and frames: one to four bursts an arm."""
    bursts = np.minimum(chance.geometric(0.6, len(rate)), 4)
    arm = np.repeat(np.arange(len(rate)), bursts)
    long_ones = chance.random(len(arm)) < LONG_BURSTS
    frames = np.where(long_ones, 100, 1 + chance.geometric(0.11, len(arm)))
    hits = chance.binomial(frames, _about(rate[arm], OF_BURST, chance))
    return np.bincount(arm, hits, len(rate)), np.bincount(arm, frames, len(rate))


def _logistic(values: Any) -> Floats:
    return np.asarray(1 / (1 + np.exp(-values)))
