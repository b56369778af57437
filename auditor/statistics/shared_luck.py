"""How much of their luck frames share: in the scene of a kit, the encounter, the sitting and the trip.

The covariance of nested random effects, inverted level by level, and its parts by restricted maximum
likelihood: what `hit_model` weighs the rows of a record by.

References
----------
D. A. Harville, Maximum likelihood approaches to variance component estimation, JASA 72 (1977): restricted
maximum likelihood (R).
S. R. Searle, G. Casella, C. E. McCulloch, Variance Components (1992): the inverse of a covariance that one
shared effect adds to, (D + p 11')^-1 = D^-1 - p D^-1 11' D^-1 / (1 + p 1' D^-1 1) (R).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.newton import least

Floats = NDArray[Any]

USUAL_PARTS = {"trip": 0.05, "sitting": 0.08, "encounter": 0.25, "scene": 0.12}
"""How much of a frame's luck is usually shared: in sum the 1/2 that `intervals` assumes before there is
data."""
SPREAD_OF_PARTS = 1.2
"""How far such a part may usually lie off, in logarithms of its ratio to a frame's own luck (assumed)."""
SENSIBLE_PARTS = (-6.0, 3.0)
MOST_ROWS = 3000
"""So many rows are enough to learn how much frames go together; more would only take longer."""
NEAR_THE_PROCESSOR = 30_000
"""Numbers that can be worked on at once without fetching them from memory again and again."""


def usual_parts() -> Floats:
    """`USUAL_PARTS` as the fit searches them.

    Returns
    -------
    ndarray
        Shape (4,): the logarithm of each part over a frame's own.
    """
    shared = np.array(list(USUAL_PARTS.values()))
    return np.asarray(np.log(shared / (1 - shared.sum())))


def shares(logarithms: Floats) -> Floats:
    """What `usual_parts` and `fitted_parts` give, as shares of a frame's luck.

    Parameters
    ----------
    logarithms
        Shape (..., 4): of each part over a frame's own.

    Returns
    -------
    ndarray
        The same shape: trip, sitting, encounter and scene, in sum under 1.
    """
    parts = np.exp(logarithms)
    return np.asarray(parts / (1 + parts.sum(axis=-1, keepdims=True)))


def nested_covariance(logarithms: Floats, frames: Floats) -> tuple[Floats, Floats]:
    """Own variance of each row, and the parts that trip, sitting and encounter share.

    Parameters
    ----------
    logarithms
        Shape (points, 4): several choices of the parts at once.
    frames
        Frames of each row, shape (rows,).

    Returns
    -------
    tuple of ndarray
        Shapes (points, rows) and (points, 3).
    """
    parts = shares(logarithms)
    return parts[:, 3:] + (1 - parts.sum(axis=1, keepdims=True)) / frames, parts[:, :3]


@dataclass(frozen=True, slots=True)
class Nest:
    """Which rows share an encounter, and where sittings and trips begin."""

    alone: NDArray[np.bool_]
    """Rows that have their encounter to themselves, shape (rows,): most of them."""
    together: NDArray[np.int64]
    """The others, and where their encounters begin among them."""
    encounters: NDArray[np.int64]
    sittings: NDArray[np.int64]
    """Where they begin: sittings in rows, trips in sittings."""
    trips: NDArray[np.int64]

    @classmethod
    def of(cls, levels: NDArray[np.int64]) -> Nest:
        """The nest of rows that stand in the order of trips, sittings and encounters.

        Parameters
        ----------
        levels
            Trip, sitting and encounter of each row, shape (rows, 3).

        Returns
        -------
        Nest
            What they share.
        """
        new = np.ones(levels.shape, dtype=bool)
        new[1:] = np.logical_or.accumulate(levels[1:] != levels[:-1], axis=1)
        of_trips, of_sittings, of_encounters = new.T
        alone = of_encounters & np.append(of_encounters[1:], True)
        together = np.flatnonzero(~alone)
        sittings = np.flatnonzero(of_sittings)
        return cls(
            alone=alone,
            together=together,
            encounters=np.flatnonzero(of_encounters[together]),
            sittings=sittings,
            trips=np.flatnonzero(of_trips[sittings]),
        )

    def products(self, columns: Floats, covariance: tuple[Floats, Floats]) -> tuple[Floats, Floats]:
        """Products of columns under the inverse of the nested covariance, and its log determinant.

        Parameters
        ----------
        columns
            Shape (rows, columns).
        covariance
            As `nested_covariance` gives it, several points at once.

        Returns
        -------
        tuple of ndarray
            Shapes (points, columns, columns) and (points,).
        """
        with_ones = np.vstack([columns.T, np.ones(len(columns))])
        own_variances, shared = covariance
        # So many points at a time that what they take stays near the processor: with few rows all, which
        # takes a quarter as long as one by one; with many rows one by one, which takes half as long as all.
        at_once = max(1, NEAR_THE_PROCESSOR // with_ones.size)
        parts = [
            self._products(with_ones, own_variances[first : first + at_once], shared[first : first + at_once])
            for first in range(0, len(shared), at_once)
        ]
        grams, logs = zip(*parts, strict=True)
        return np.concatenate(grams), np.concatenate(logs)

    def _products(self, with_ones: Floats, own_variances: Floats, shared: Floats) -> tuple[Floats, Floats]:
        trip, sitting, encounter = shared.T
        # What nobody shares adds to a row's own.
        variances = own_variances + encounter[:, None] * self.alone
        sums = with_ones / variances[:, None]
        gram = with_ones[:-1] @ sums[:, :-1].transpose(0, 2, 1)
        log = np.log(variances).sum(axis=1)
        if len(self.together):
            below = np.add.reduceat(sums[..., self.together], self.encounters, axis=2)
            above, less, more = _shared(below, encounter)
            sums[..., self.together] = 0.0
            sums[..., self.together[self.encounters]] = above
            gram, log = gram - less, log + more
        for starts, variance in ((self.sittings, sitting), (self.trips, trip)):
            sums, less, more = _shared(np.add.reduceat(sums, starts, axis=2), variance)
            gram, log = gram - less, log + more
        return gram, log


def _shared(sums: Floats, variance: Floats) -> tuple[Floats, Floats, Floats]:
    """What goes on to the next level, what products lose, and the logarithm that the determinant gains.

    The last of `sums` is of ones; all are of several points.
    """
    held = 1 + variance[:, None] * sums[:, -1]
    above = sums / held[:, None]
    less = variance[:, None, None] * (sums[:, :-1] @ above[:, :-1].transpose(0, 2, 1))
    return above, less, np.log(held).sum(axis=1)


def fitted_parts(columns: Floats, levels: NDArray[np.int64], frames: Floats, penalty: Floats) -> Floats:
    """How much frames share at each level, by restricted maximum likelihood, held near what is usual.

    Parameters
    ----------
    columns
        Slopes and, last, the working response, shape (rows, coefficients + 1).
    levels
        Trip, sitting and encounter of each row, in order, shape (rows, 3).
    frames
        Frames of each row, shape (rows,).
    penalty
        Of each coefficient, shape (coefficients,).

    Returns
    -------
    ndarray
        Shape (4,): the logarithm of each part over a frame's own.
    """
    usual = usual_parts()
    trips = levels[:, 0]
    if len(columns) > MOST_ROWS:
        step = -(-len(columns) // MOST_ROWS)
        some = np.isin(trips, np.unique(trips)[::step])
        columns, levels, frames = columns[some], levels[some], frames[some]
    nest = Nest.of(levels)

    def unlikely(points: Floats) -> Floats:
        gram, log = nest.products(columns, nested_covariance(points, frames))
        precision, response = gram[:, :-1, :-1] + np.diag(penalty), gram[:, :-1, -1:]
        explained = response.transpose(0, 2, 1) @ np.linalg.solve(precision, response)
        left = gram[:, -1, -1] - explained[:, 0, 0]
        far = (((points - usual) / SPREAD_OF_PARTS) ** 2).sum(axis=1)
        return np.asarray(0.5 * (log + np.linalg.slogdet(precision)[1] + left + far))

    return least(unlikely, usual, SENSIBLE_PARTS)
