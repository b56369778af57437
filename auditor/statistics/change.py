"""Did a kit's hits fall inside a trip: a knock, a drift, the shimmer of midday air?

What the light explains is taken out of the bursts, in order of time. Then the stretch whose hits lie
furthest below the rest is looked for: one that lasts to the end (a knock), and one that passes (shimmer).
How likely such a stretch is by chance follows from putting whole encounters, whose bursts share their luck,
into other orders.

References
----------
E. S. Page, Continuous inspection schemes, Biometrika 41 (1954): sums of deviations (R).
P. Good, Permutation, Parametric and Bootstrap Tests of Hypotheses (2005): exchangeable blocks (R).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.statistics import clustered_logistic
from auditor.statistics.intervals import pooled_icc

FEWEST_ENCOUNTERS = 8
"""With fewer, no order of encounters could be surprising."""
EDGE = 0.1
"""A stretch begins after a tenth of the bursts at the earliest, and holds a tenth to nine tenths of them."""
MOST_CUTS = 60
"""Longer trips are cut at this many places, evenly: the ends of the stretch are then a little coarser."""
ORDERS = 999
ORDERS_AT_ONCE = 111
"""So that a trip of thousands of bursts takes some megabytes."""
SEED = 1

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """The stretch of bursts whose hits lie furthest below the rest."""

    first: int
    """Its first burst, counted from 0 in order of time."""
    after: int
    """The burst after its last one; the number of bursts where it reaches the end."""
    rate_inside: float
    rate_outside: float
    p_value: float
    """How often encounters in another order show a stretch as low as this."""
    bursts: int
    encounters: int
    encounters_inside: int


def fall(
    hits: ArrayLike, frames: ArrayLike, encounter: ArrayLike, covariates: ArrayLike | None = None
) -> Change | None:
    """Look for a stretch of fewer hits; None where the bursts are too few or too alike to show one.

    Parameters
    ----------
    hits, frames, encounter
        One entry a burst in order of time, shape (bursts,).
    covariates
        What else moves the hits, shape (bursts, columns): light in EV, say, or the logarithm of the exposure
        time.

    Returns
    -------
    Change or None
        The stretch, how far it falls and how likely that is by chance.

    Raises
    ------
    ValueError
        for arrays that are not of one length.
    """
    y, m = np.asarray(hits, dtype=float), np.asarray(frames, dtype=float)
    block = np.unique(np.asarray(encounter), return_inverse=True)[1].astype(np.int64)
    if not y.shape == m.shape == block.shape:
        raise ValueError(
            f"hits, frames and encounter must be of one length: {y.shape}, {m.shape}, {block.shape}"
        )
    encounters = int(block.max(initial=-1)) + 1
    if encounters < FEWEST_ENCOUNTERS or y.sum() in (0.0, m.sum()):
        return None
    residuals = _residuals(y, m, block, covariates)
    if residuals is None:
        return None
    first, after, p_value = _told_apart(residuals, block)
    inside = np.zeros(len(y), dtype=bool)
    inside[first:after] = True
    return Change(
        first=first,
        after=after,
        rate_inside=float(y[inside].sum() / m[inside].sum()),
        rate_outside=float(y[~inside].sum() / m[~inside].sum()),
        p_value=p_value,
        bursts=len(y),
        encounters=encounters,
        encounters_inside=len(np.unique(block[inside])),
    )


def lowest_stretch(values: ArrayLike, *, to_the_end: bool = False) -> tuple[int, int, float]:
    """First entry, entry after the last, and depth of the stretch that lies furthest below the rest.

    The depth is the sum by which the stretch falls short of its share, over the spread that such a sum has by
    chance where each entry has a spread of 1: short and long stretches compare.

    Parameters
    ----------
    values
        In order of time, shape (entries,).
    to_the_end
        Only stretches that last to the last entry.

    Returns
    -------
    tuple[int, int, float]
        Indices, and spreads below the rest.
    """
    series = np.asarray(values, dtype=float)
    cuts = _cuts(len(series))
    fallen = _fallen(series[None], cuts)
    stretches = [
        (float(depths[0, place]), first, int(cuts[after]))
        for first, afters, depths in _depths(fallen, cuts, to_the_end=to_the_end)
        for place, after in enumerate(afters)
    ]
    depth, first, after = max(stretches, key=lambda stretch: stretch[0])
    return first, after, depth


def _cuts(bursts: int) -> NDArray[np.int64]:
    """Where stretches may begin and end: burst numbers, the first 0 and the last the number of bursts."""
    return np.unique(np.linspace(0, bursts, min(bursts, MOST_CUTS) + 1).round().astype(np.int64))


def _fallen(orders: Floats, cuts: NDArray[np.int64]) -> Floats:
    """How far each series, shape (orders, bursts), has fallen short of its share, shape (orders, cuts)."""
    sums = np.cumsum(orders, axis=1)
    upto = np.concatenate([np.zeros((len(orders), 1)), sums[:, cuts[1:] - 1]], axis=1)
    return np.asarray(cuts / cuts[-1] * sums[:, -1:] - upto)


def _depths(
    fallen: Floats, cuts: NDArray[np.int64], *, to_the_end: bool
) -> Iterator[tuple[int, NDArray[np.int64], Floats]]:
    """Stretches by the burst that they begin with: that, their ends as places in `cuts`, and their depths.

    Depths are of shape (orders, ends)."""
    bursts = int(cuts[-1])
    ends = np.array([len(cuts) - 1]) if to_the_end else np.arange(len(cuts))
    for place, first in enumerate(cuts.tolist()):
        if first < EDGE * bursts:
            continue
        share = (cuts[ends] - first) / bursts
        chosen = (share >= EDGE) & (share <= 1 - EDGE)
        afters, share = ends[chosen], share[chosen]
        if len(afters):
            spread = np.sqrt(bursts * share * (1 - share))
            yield first, afters, (fallen[:, afters] - fallen[:, place : place + 1]) / spread


def _told_apart(residuals: Floats, block: NDArray[np.int64]) -> tuple[int, int, float]:
    """The first burst of the stretch, the burst after it, and how often other orders show one as low.

    Each order is judged by the rarer of its two stretches, lasting and passing, so that having looked twice
    is paid for once."""
    chance = np.random.default_rng(SEED)
    by_encounter = np.argsort(block, kind="stable")
    size = np.bincount(block)
    begins = np.cumsum(size) - size
    cuts = _cuts(len(residuals))
    fallen = np.empty((1 + ORDERS, len(cuts)))
    fallen[0] = _fallen(residuals[None], cuts)[0]
    for start in range(1, 1 + ORDERS, ORDERS_AT_ONCE):
        numbers = range(min(ORDERS_AT_ONCE, 1 + ORDERS - start))
        encounters = np.stack([chance.permutation(len(size)) for _order in numbers])
        bursts = size[encounters]
        moved = begins[encounters] - (np.cumsum(bursts, axis=1) - bursts)
        places = np.repeat(moved.ravel(), bursts.ravel()).reshape(len(numbers), -1) + np.arange(len(block))
        fallen[start : start + len(numbers)] = _fallen(residuals[by_encounter[places]], cuts)
    depths = np.full((len(fallen), 2), -np.inf)
    for column, to_the_end in enumerate((True, False)):
        for _first, _afters, order_depths in _depths(fallen, cuts, to_the_end=to_the_end):
            depths[:, column] = np.maximum(depths[:, column], order_depths.max(axis=1))
    rarity = np.column_stack([_share_as_deep(column) for column in depths.T])
    p_value = float((rarity.min(axis=1) <= rarity[0].min() + 1e-12).mean())
    first, after, _depth = lowest_stretch(residuals, to_the_end=bool(rarity[0, 0] <= rarity[0, 1]))
    return first, after, p_value


def _share_as_deep(depths: Floats) -> Floats:
    """For each entry the share of entries that are as large or larger."""
    ordered = np.sort(depths)
    return np.asarray((len(depths) - np.searchsorted(ordered, depths - 1e-12)) / len(depths))


def _residuals(y: Floats, m: Floats, block: NDArray[np.int64], covariates: ArrayLike | None) -> Floats | None:
    """What the covariates leave of each burst's hits, in spreads; None where they leave no difference."""
    columns = [np.ones(len(y))]
    for column in () if covariates is None else np.asarray(covariates, dtype=float).reshape(len(y), -1).T:
        if np.ptp(column) > 0:
            columns.append(column - column.mean())
    rho = pooled_icc([(y, m)])
    weights = 1 / (1 + (m - 1) * rho)
    fitted = clustered_logistic.fit(np.column_stack(columns), y, m, weights, block)
    if fitted is None:
        return None
    share = 1 / (1 + np.exp(-np.column_stack(columns) @ fitted.coefficients))
    return np.asarray((y - m * share) / np.sqrt(m * share * (1 - share) / weights))
