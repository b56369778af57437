"""Resampling whole clusters, and quantiles of weighted values.

Frames of a scene or an encounter go together, so it is scenes or encounters that are drawn anew.

References
----------
B. Efron, R. J. Tibshirani, An Introduction to the Bootstrap (1993), chapters 6 and 13.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

SEED = 1
MOST_GROUPS = 400
"""More clusters than this are drawn in groups: the spread is the same, and it takes no longer."""


def in_groups(clusters: NDArray[Any], chance: np.random.Generator) -> tuple[NDArray[np.intp], int]:
    """Clusters gathered to at most MOST_GROUPS groups, by chance.

    Parameters
    ----------
    clusters
        What tells clusters apart, one entry a row, shape (rows,).
    chance
        Seeded, so that the same record gives the same interval.

    Returns
    -------
    tuple[NDArray[np.intp], int]
        The group of each row, from 0, shape (rows,); and how many groups.
    """
    (group,), groups = in_common_groups([Numbered.of(clusters)], chance)
    return group, groups


class Numbered(NamedTuple):
    """Clusters by number: found once, used by every question about the same rows."""

    names: NDArray[Any]
    """What tells clusters apart, rising, shape (clusters,)."""
    number: NDArray[np.intp]
    """The place in `names` of each row's cluster, shape (rows,)."""
    rows: NDArray[np.intp]
    """How many rows each cluster has, shape (clusters,)."""

    @classmethod
    def of(cls, clusters: NDArray[Any]) -> Numbered:
        """Number clusters.

        Parameters
        ----------
        clusters
            One entry a row, shape (rows,).

        Returns
        -------
        Numbered
            In order of their names.
        """
        return cls(*np.unique(clusters, return_inverse=True, return_counts=True))

    def held(self, chosen: NDArray[np.bool_]) -> int:
        """How many clusters hold a chosen row.

        Parameters
        ----------
        chosen
            A mask of shape (rows,).

        Returns
        -------
        int
            At most all of them.
        """
        return int(np.count_nonzero(np.bincount(self.number, chosen)))


def in_common_groups(
    parts: Sequence[Numbered], chance: np.random.Generator
) -> tuple[list[NDArray[np.intp]], int]:
    """Clusters of several sets of rows, which may share some, gathered as `in_groups` does.

    Parameters
    ----------
    parts
        The clusters of each set of rows.
    chance
        Seeded, so that the same record gives the same interval.

    Returns
    -------
    tuple[list[NDArray[np.intp]], int]
        The group of each row, set by set, and how many groups.
    """
    names = np.unique(np.concatenate([part.names for part in parts]))
    groups = min(len(names), MOST_GROUPS)
    group = chance.permutation(len(names)) % groups
    return [group[np.searchsorted(names, part.names)][part.number] for part in parts], groups


def drawn(groups: int, resamples: int, chance: np.random.Generator) -> NDArray[np.float64]:
    """How often each group comes in each resample of as many groups.

    Parameters
    ----------
    groups, resamples
        Counts.
    chance
        Seeded, so that the same record gives the same interval.

    Returns
    -------
    NDArray[np.float64]
        Shape (resamples, groups); each row adds up to `groups`.
    """
    return chance.multinomial(groups, np.full(groups, 1 / groups), size=resamples).astype(float)


def weighted_quantile(ordered: NDArray[np.float64], weights: NDArray[np.float64], quantile: float) -> float:
    """A quantile of weighted values: each stands in the middle of its weight, between two lies a line.

    Parameters
    ----------
    ordered
        Values in rising order, shape (values,).
    weights
        0 or more, shape (values,); values of weight 0 do not count.
    quantile
        0 to 1.

    Returns
    -------
    float
        In the unit of the values.
    """
    return weighted_quantile_at(ordered, weights, quantile * weights.sum())


def weighted_quantile_at(ordered: NDArray[np.float64], weights: NDArray[np.float64], place: float) -> float:
    """The value at which so much weight is reached, as `weighted_quantile` places values.

    Parameters
    ----------
    ordered, weights
        As for `weighted_quantile`.
    place
        0 to the sum of the weights.

    Returns
    -------
    float
        In the unit of the values.
    """
    reached = np.cumsum(weights) - 0.5 * weights
    used = weights > 0
    return float(np.interp(place, reached[used], ordered[used]))
