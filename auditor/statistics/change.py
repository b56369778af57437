"""Did a kit's hits fall inside a trip: a knock, a drift, the shimmer of midday air?

Bursts in order of time are freed of what the light explains; then the stretch is looked for whose hits lie
furthest below the rest: one that lasts to the end (a knock), and one that passes (shimmer). How likely such a
stretch is by chance is told by putting whole encounters, whose bursts share their luck, into other orders.

References
----------
E. S. Page, Continuous inspection schemes, Biometrika 41 (1954): sums of deviations (R).
P. Good, Permutation, Parametric and Bootstrap Tests of Hypotheses (2005): exchangeable blocks (R).
"""

from __future__ import annotations

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
"""Longer trips are cut at this many places, evenly: the stretch is then told a little more coarsely."""
ORDERS = 999
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
    """Look for a stretch of fewer hits; None where the bursts are too few or too alike to tell one.

    Parameters
    ----------
    hits, frames, encounter
        One entry a burst in order of time, shape (bursts,).
    covariates
        What else moves the hits, shape (bursts, columns): light in EV, say, or the logarithm of the exposure
        time.

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
    """
    series = np.asarray(values, dtype=float)
    stretches = _stretches(len(series), to_the_end)
    depths = _depths(series, stretches)
    best = int(np.argmax(depths))
    return int(stretches[0][best]), int(stretches[1][best]), float(depths[best])


def _stretches(bursts: int, to_the_end: bool) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    cuts = np.unique(np.linspace(0, bursts, min(bursts, MOST_CUTS) + 1).round().astype(np.int64))
    ends = cuts[-1:] if to_the_end else cuts
    firsts, afters = (grid.ravel() for grid in np.meshgrid(cuts, ends, indexing="ij"))
    share = (afters - firsts) / bursts
    chosen = (firsts >= EDGE * bursts) & (share >= EDGE) & (share <= 1 - EDGE)
    return firsts[chosen], afters[chosen]


def _depths(series: Floats, stretches: tuple[NDArray[np.int64], NDArray[np.int64]]) -> Floats:
    firsts, afters = stretches
    sums = np.concatenate(([0.0], np.cumsum(series)))
    share = (afters - firsts) / len(series)
    shortfall = share * sums[-1] - (sums[afters] - sums[firsts])
    return np.asarray(shortfall / np.sqrt(len(series) * share * (1 - share)))


def _told_apart(residuals: Floats, block: NDArray[np.int64]) -> tuple[int, int, float]:
    """First burst of the stretch, burst after it, and how often other orders show one as low.

    Each order is judged by the rarer of its two stretches, lasting and passing, so that having looked twice
    is paid for once."""
    chance = np.random.default_rng(SEED)
    order = np.argsort(block, kind="stable")
    encounters = np.split(residuals[order], np.flatnonzero(np.diff(block[order])) + 1)
    orders = [residuals]
    for _order in range(ORDERS):
        orders.append(np.concatenate([encounters[one] for one in chance.permutation(len(encounters))]))
    depths = np.empty((len(orders), 2))
    for column, to_the_end in enumerate((True, False)):
        stretches = _stretches(len(residuals), to_the_end)
        depths[:, column] = [_depths(one, stretches).max() for one in orders]
    rarity = np.column_stack([_share_as_deep(column) for column in depths.T])
    p_value = float((rarity.min(axis=1) <= rarity[0].min() + 1e-12).mean())
    first, after, _depth = lowest_stretch(residuals, to_the_end=bool(rarity[0, 0] <= rarity[0, 1]))
    return first, after, p_value


def _share_as_deep(depths: Floats) -> Floats:
    """For each entry the share of entries that are as large or larger."""
    ordered = np.sort(depths)
    return np.asarray((len(depths) - np.searchsorted(ordered, depths - 1e-12)) / len(depths))


def _residuals(y: Floats, m: Floats, block: NDArray[np.int64], covariates: ArrayLike | None) -> Floats | None:
    """What the covariates leave of each burst's hits, in spreads; None where they leave nothing to tell."""
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
