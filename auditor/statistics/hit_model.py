"""How many hits a converter costs: one model that uses every encounter of a record.

The chance of a hit follows the kit, the light and, where known, distance, shutter speed and what the
animal did (a logit). Frames go together in the scene of a kit, the encounter, the sitting and the trip; how
much they do is learned from the record. So an encounter with both kits on one animal weighs most by itself:
what its frames share cancels. These are generalised estimating equations whose working covariance is that
of nested random effects (`shared_luck`).

References
----------
K.-Y. Liang, S. L. Zeger, Longitudinal data analysis using generalized linear models, Biometrika 73 (1986)
(R).
R. J. Carroll, D. Ruppert, L. A. Stefanski, C. M. Crainiceanu, Measurement Error in Nonlinear Models, 2nd ed.
(2006), chapter 4: a missing covariate replaced by its expectation given the others (R).
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.shared_luck import (
    NEAR_THE_PROCESSOR,
    USUAL_PARTS,
    Nest,
    fitted_parts,
    nested_covariance,
    shares,
    usual_parts,
)

Floats = NDArray[Any]

FEWEST_WITH_DISTANCE = 6
"""Encounters of each kit whose distance is known: with fewer it is not adjusted for."""
LEAST_DISTANCE_SHARE = 0.2
"""Of the rows whose distance is known: the same."""
KNOTS = (0.1, 0.5, 0.9)
"""Quantiles of the light between which its curve bends."""
FEWEST_CURVED = 24
"""Encounters from which on light may act along a curve (F. E. Harrell, Regression Modeling Strategies: three
knots for small samples, R)."""
SPREAD_OF_COEFFICIENTS = 2.5
"""Logits for a covariate's own spread: so wide that it only holds what no data determine."""
SPREAD_OF_ACTIVITIES = 1.0
LEAST_SHARE = 0.02
ROUNDS, LEARNS_PARTS = 6, 2
"""Rounds of the fit, and the one in which what frames share is learned."""
BETWEEN_SITTINGS = 4
"""Coefficients that rest on sittings more than on encounters within one: level, kit, light and distance.
Animals with both kits show the kit's by themselves, each like a sitting."""
KIT, LIGHT = 1, 2
"""Columns of the design."""
DEVIATIONS = np.linspace(-8, 8, 161)
"""Standard errors from the estimate at which the loss is worked out."""
MOST_STANDARD = 4000
"""The effect is averaged over so many encounters at most."""
LEAST_GROWTH = 1.03
"""A trip that adds fewer arms, as a share, is no look of its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Arms:
    """Frames gathered: one row a kit in an encounter, shape (rows,)."""

    trip: NDArray[np.int64]
    sitting: NDArray[np.int64]
    encounter: NDArray[np.int64]
    treated: NDArray[np.bool_]
    hits: Floats
    """Fractions where frames are weighed by their probability of being a hit."""
    frames: Floats
    light_ev: Floats
    distance_log2: Floats | None = None
    """Doublings of distance, NaN where not known."""
    shutter_log2: Floats | None = None
    activity: NDArray[np.int64] | None = None
    deleted: Floats | None = None
    """Frames that seem to have been deleted in camera."""

    def only(self, chosen: NDArray[Any]) -> Arms:
        """The chosen rows, in the order of the choice.

        Parameters
        ----------
        chosen
            A mask of shape (rows,), or indices.

        Returns
        -------
        Arms
            Every array cut to the chosen rows.
        """
        values: dict[str, Any] = {column.name: getattr(self, column.name) for column in fields(self)}
        return replace(
            self, **{name: column[chosen] for name, column in values.items() if column is not None}
        )

    @property
    def levels(self) -> NDArray[np.int64]:
        """Trip, sitting and encounter of each row, shape (rows, 3)."""
        return np.column_stack([self.trip, self.sitting, self.encounter])


class Look(NamedTuple):
    """What was known when a trip ended: trips are when a photographer looks."""

    error: float
    """Standard error of the loss, as a share."""
    encounters: int
    """Encounters with the converter, with the bare lens, and with both."""
    encounters_bare: int
    encounters_both: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What the record says of the loss, before any prior."""

    loss: float
    """Hits that the converter costs, as a share, over the light and the animals that were met."""
    error: float
    """Its standard error."""
    degrees_of_freedom: int
    """Of its error: a few hours with either kit are a few looks at luck, however many animals they held."""
    deviations: Floats
    """Standard errors, from -8 to 8, at which losses are given: it is on the scale of logits that an error is
    even to both sides."""
    losses: Floats
    """The loss at each of them, rising."""
    rate: float
    """Hits with the converter, as a share, over all encounters that were met; and without, over the same."""
    rate_bare: float
    odds_ratio: float
    """Odds of a hit bare, over those with the converter, all else alike."""
    parts: dict[str, float]
    """How much of a frame's luck is shared at each level."""
    distance_share: float
    """Share of the arms whose distance is known; 0 where it is not adjusted for."""
    encounters: int
    """Encounters with the converter, with the bare lens, and with both."""
    encounters_bare: int
    encounters_both: int
    looks: tuple[Look, ...]
    """In order of trips; the last is the record as it stands."""
    design: Floats
    """Rows as they were fitted, and the inverse of the coefficients' covariance."""
    precision: Floats
    light_ev: Floats


def fit(arms: Arms) -> Fit | None:
    """Fit; None where a kit has no frames, or all frames hit or missed.

    Encounters of unknown distance stay in: it is put in as expected from the kit and the light. Where it is
    known for too few, it is not adjusted for, and `distance_share` is 0.

    Parameters
    ----------
    arms
        Of a kit and of its bare kit.

    Returns
    -------
    Fit or None
        The loss as a share, its standard error, and what both rest on.
    """
    arms = arms.only(arms.frames > 0)
    total = arms.frames.sum()
    if arms.treated.all() or not arms.treated.any() or not 0 < arms.hits.sum() < total:
        return None
    arms = arms.only(np.lexsort((arms.treated, arms.encounter, arms.sitting, arms.trip)))
    design, penalty, share = _design(arms)
    nest = Nest.of(arms.levels)
    rates = arms.hits / arms.frames
    beta = np.zeros(design.shape[1])
    start = arms.hits.sum() / total
    beta[0] = np.log(start / (1 - start))
    theta = usual_parts()
    for turn in range(ROUNDS):
        columns = _linearised(design, beta, rates)
        if turn == LEARNS_PARTS:
            theta = fitted_parts(columns, arms.levels, arms.frames, penalty)
        gram = nest.products(columns, nested_covariance(theta[None], arms.frames))[0][0]
        precision = gram[:-1, :-1] + np.diag(penalty)
        beta = np.linalg.solve(precision, gram[:-1, -1])
    precisions = _precisions(arms, columns, theta, penalty)
    return _as_fit(arms, design, beta, precisions, theta, share)


def _as_fit(
    arms: Arms,
    design: Floats,
    beta: Floats,
    precisions: dict[int, Floats],
    theta: Floats,
    distance_share: float,
) -> Fit:
    precision = precisions[len(design)]
    covariance = np.linalg.inv(precision)
    _names, first, number = np.unique(arms.encounter, return_index=True, return_inverse=True)
    met = design[first]
    if len(met) > MOST_STANDARD:
        met = met[np.linspace(0, len(met) - 1, MOST_STANDARD).astype(np.int64)]
    with_it, bare = met.copy(), met.copy()
    with_it[:, KIT], bare[:, KIT] = 1.0, 0.0
    rate, rate_bare = _logistic(with_it @ beta), _logistic(bare @ beta)
    gradient = bare.T @ (rate_bare * (1 - rate_bare)) - with_it.T @ (rate * (1 - rate))
    error = float(np.sqrt(gradient @ covariance @ gradient)) / len(met)
    # The direction in which coefficients move as the loss does.
    along = covariance @ gradient / np.sqrt(gradient @ covariance @ gradient)
    betas = beta + np.outer(DEVIATIONS, along)
    # All of a small record at once; of a large one as many as stay near the processor.
    at_once = max(1, NEAR_THE_PROCESSOR // len(met))
    losses = np.concatenate(
        [
            (_logistic(some @ bare.T) - _logistic(some @ with_it.T)).mean(axis=1)
            for some in (betas[first : first + at_once] for first in range(0, len(betas), at_once))
        ]
    )
    kits = np.bincount(number, arms.treated) > 0, np.bincount(number, ~arms.treated) > 0
    both, sittings = int((kits[0] & kits[1]).sum()), len(np.unique(arms.sitting))
    return Fit(
        loss=float(rate_bare.mean() - rate.mean()),
        error=error,
        degrees_of_freedom=max(1, min(len(first) - design.shape[1], sittings + both - BETWEEN_SITTINGS)),
        deviations=DEVIATIONS,
        losses=_rising(losses),
        rate=float(rate.mean()),
        rate_bare=float(rate_bare.mean()),
        odds_ratio=float(np.exp(-beta[KIT])),
        parts=dict(zip(USUAL_PARTS, shares(theta).tolist(), strict=True)),
        distance_share=distance_share,
        encounters=int(kits[0].sum()),
        encounters_bare=int(kits[1].sum()),
        encounters_both=both,
        looks=_looks(arms, precisions, gradient / len(met)),
        design=design,
        precision=precision,
        light_ev=arms.light_ev,
    )


def _precisions(arms: Arms, columns: Floats, theta: Floats, penalty: Floats) -> dict[int, Floats]:
    """Inverse covariance of the coefficients after so many arms: wherever a trip ends."""
    ends = np.append(np.flatnonzero(np.diff(arms.trip)) + 1, len(arms.trip))
    levels = arms.levels
    start, precision, precisions = 0, np.diag(penalty), {}
    for end in ends.tolist():
        if end < LEAST_GROWTH * start and end < len(arms.trip):
            continue
        added = slice(start, end)
        covariance = nested_covariance(theta[None], arms.frames[added])
        grams, _log = Nest.of(levels[added]).products(columns[added], covariance)
        precision = precision + grams[0, :-1, :-1]
        precisions[end] = precision
        start = end
    return precisions


def _looks(arms: Arms, precisions: dict[int, Floats], gradient: Floats) -> tuple[Look, ...]:
    starts = np.ones((2, len(arms.trip)), dtype=bool)
    starts[0, 1:] = np.diff(arms.encounter) != 0
    starts[1, 1:] = starts[0, 1:] | (np.diff(arms.treated.astype(np.int8)) != 0)
    # In an encounter bare arms come first.
    counts = [starts[1] & arms.treated, starts[1] & ~arms.treated, starts[1] & ~starts[0]]
    with_it, bare, both = (np.cumsum(mask) for mask in counts)
    return tuple(
        Look(
            float(np.sqrt(gradient @ np.linalg.solve(precision, gradient))),
            int(with_it[end - 1]),
            int(bare[end - 1]),
            int(both[end - 1]),
        )
        for end, precision in precisions.items()
    )


def _rising(losses: Floats) -> Floats:
    """Losses that never fall back: far out all rates are near 0 or 1, and what parts the kits is lost."""
    middle = len(losses) // 2
    up = np.maximum.accumulate(losses[middle:])
    down = np.minimum.accumulate(losses[middle::-1])[::-1]
    return np.concatenate([down, up[1:]])


def _linearised(design: Floats, beta: Floats, rates: Floats) -> Floats:
    """Slopes and working response, in spreads of a frame's own luck."""
    mean = _logistic(design @ beta)
    slope = np.maximum(mean * (1 - mean), LEAST_SHARE * (1 - LEAST_SHARE))
    slopes = design * np.sqrt(slope)[:, None]
    return np.column_stack([slopes, slopes @ beta + (rates - mean) / np.sqrt(slope)])


def _logistic(values: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(values, -30, 30))))


def _design(arms: Arms) -> tuple[Floats, Floats, float]:
    light = arms.light_ev - np.median(arms.light_ev)
    columns = [np.ones(len(light)), arms.treated.astype(float)]
    penalty = [1 / 25, 1 / SPREAD_OF_COEFFICIENTS**2]

    def add(values: Floats, wide: float = SPREAD_OF_COEFFICIENTS) -> None:
        spread = values.std()
        if spread > 1e-9:
            columns.append((values - values.mean()) / spread)
            penalty.append(1 / wide**2)

    columns.append(light / max(light.std(), 0.1))
    penalty.append(1 / SPREAD_OF_COEFFICIENTS**2)
    if len(np.unique(arms.encounter)) >= FEWEST_CURVED:
        add(_curve(light))
    share = 0.0
    distance, share = _distance(arms)
    if distance is not None:
        add(distance)
    if arms.shutter_log2 is not None:
        add(arms.shutter_log2)
    for kind in () if arms.activity is None else np.flatnonzero(np.bincount(arms.activity))[1:]:
        add((arms.activity == kind).astype(float), SPREAD_OF_ACTIVITIES)
    return np.column_stack(columns), np.array(penalty), share


def _curve(light: Floats) -> Floats:
    a, b, c = np.quantile(light, KNOTS)
    if not a < b < c:
        return np.zeros_like(light)

    first, second, third = (np.maximum(light - knot, 0) ** 3 for knot in (a, b, c))
    return np.asarray((first - second * (c - a) / (c - b) + third * (b - a) / (c - b)) / (c - a) ** 2)


def _distance(arms: Arms) -> tuple[Floats | None, float]:
    """Doublings of distance, or what kit and light let expect; and the share that is known."""
    if arms.distance_log2 is None:
        return None, 0.0
    has_distance = np.isfinite(arms.distance_log2)
    share = float(has_distance.mean())
    fewest = min((has_distance & arms.treated).sum(), (has_distance & ~arms.treated).sum())
    if fewest < FEWEST_WITH_DISTANCE or share < LEAST_DISTANCE_SHARE:
        return None, 0.0
    if has_distance.all():
        return arms.distance_log2, share
    light = arms.light_ev - np.median(arms.light_ev)
    predictors = np.column_stack([np.ones(len(has_distance)), arms.treated, light])
    coefficients = np.linalg.lstsq(predictors[has_distance], arms.distance_log2[has_distance], rcond=None)[0]
    return np.where(has_distance, arms.distance_log2, predictors @ coefficients), share
