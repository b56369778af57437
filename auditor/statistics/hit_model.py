"""How many hits a converter costs: one model that uses every encounter of a record.

The chance of a hit follows the kit, the light and, where known, distance, shutter speed and what the animal did
(a logit). Frames go together in the scene of a kit, the encounter, the sitting and the trip; how much, is told
from the record, so that an encounter with both kits on one animal weighs most by itself: what its frames share
cancels. These are generalised estimating equations whose working covariance is that of nested random effects,
its components by restricted maximum likelihood.

References
----------
K.-Y. Liang, S. L. Zeger, Longitudinal data analysis using generalized linear models, Biometrika 73 (1986) (R).
D. A. Harville, Maximum likelihood approaches to variance component estimation, JASA 72 (1977): restricted
maximum likelihood (R).
R. J. Carroll, D. Ruppert, L. A. Stefanski, C. M. Crainiceanu, Measurement Error in Nonlinear Models, 2nd ed.
(2006), chapter 4: a missing covariate replaced by its expectation given the others (R).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[Any]

FEWEST_WITH_DISTANCE = 6
"""Encounters of each kit whose distance is known: with fewer it is not adjusted for."""
LEAST_DISTANCE_SHARE = 0.2
KNOTS = (0.1, 0.5, 0.9)
FEWEST_CURVED = 24
"""Encounters from which on light may act along a curve (F. E. Harrell, Regression Modeling Strategies: three
knots for small samples, R)."""
SPREAD_OF_COEFFICIENTS = 2.5
"""Logits for a covariate's own spread: so wide that it only holds what no data determine."""
USUAL_PARTS = {"trip": 0.05, "sitting": 0.08, "encounter": 0.25, "scene": 0.12}
"""How much of a frame's luck is usually shared, in sum the 1/2 that is assumed elsewhere before there is data."""
SPREAD_OF_PARTS = 1.2
"""How far such a part may usually lie off, in logarithms of its ratio to a frame's own luck (assumed)."""
LEAST_SHARE = 0.02
ROUNDS = 4
MOST_TOLD_ARMS = 3000
"""So many arms tell how much frames go together; more would only take longer."""
MOST_STANDARD = 4000
"""The effect is averaged over so many encounters at most."""


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

    def only(self, chosen: NDArray[np.bool_]) -> Arms:
        """The chosen rows."""
        values = {name: getattr(self, name) for name in self.__slots__}
        return Arms(**{name: None if one is None else one[chosen] for name, one in values.items()})


@dataclass(frozen=True, slots=True, kw_only=True)
class Fit:
    """What the record says of the loss, before any prior."""

    slope: float
    """Logits of a hit with the converter, less those without."""
    error: float
    degrees_of_freedom: float
    slopes: Floats
    """Possible slopes, rising."""
    losses: Floats
    """Loss of hits at each of them, as a share, over the light and the animals that were met."""
    rate: float
    """Hits with the converter over all encounters, as a share, and without."""
    rate_bare: float
    parts: dict[str, float]
    """How much of a frame's luck is shared at each level."""
    distance_share: float
    """Share of the encounters whose distance is known; 0 where it is not adjusted for."""
    encounters: int
    encounters_bare: int
    encounters_both: int
    design: Floats
    precision: Floats
    light_ev: Floats


def fit(arms: Arms) -> Fit | None:
    """Fit; None where one kit has no frames or the rows do not determine it."""
    arms = arms.only(arms.frames > 0)
    if len(np.unique(arms.treated)) < 2:
        return None
    order = np.lexsort((arms.encounter, arms.sitting, arms.trip))
    chosen = np.zeros(len(order), dtype=bool)
    arms = Arms(**{n: None if getattr(arms, n) is None else getattr(arms, n)[order] for n in arms.__slots__})
    design, penalty, share = _design(arms)
    nest = _Nest.of(arms)
    y = arms.hits / arms.frames
    start = (arms.hits.sum() + 0.5) / (arms.frames.sum() + 1)
    beta = np.zeros(design.shape[1])
    beta[0] = np.log(start / (1 - start))
    theta = _usual()
    for number in range(ROUNDS + 2):
        mean = _logistic(design @ beta)
        spread = np.sqrt(np.maximum(mean * (1 - mean), LEAST_SHARE * (1 - LEAST_SHARE)))
        slopes = design * (mean * (1 - mean) / spread)[:, None]
        response = slopes @ beta + (y - mean) / spread
        columns = np.column_stack([slopes, response])
        if number in (1, 3):
            theta = _parts(columns, arms.frames, nest, penalty, theta)
        gram, _log = nest.products(columns, _covariance(theta, arms.frames))
        precision = gram[:-1, :-1] + np.diag(penalty)
        beta = np.linalg.solve(precision, gram[:-1, -1])
    covariance = np.linalg.inv(precision)
    return beta, covariance, precision, theta, design, share, nest, slopes, y, mean, spread


def _logistic(values: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(values, -30, 30))))


def _usual() -> Floats:
    shared = np.array(list(USUAL_PARTS.values()))
    return np.log(shared / (1 - shared.sum()))


def _covariance(theta: Floats, frames: Floats) -> tuple[Floats, Floats]:
    """Own variance of each row, and the parts that trip, sitting and encounter share."""
    parts = np.exp(theta)
    parts = parts / (1 + parts.sum())
    return parts[3] + (1 - parts.sum()) / frames, parts[:3]


@dataclass(frozen=True, slots=True)
class _Nest:
    """Where encounters, sittings and trips begin, in rows of the level below."""

    starts: tuple[NDArray[np.int64], ...]

    @classmethod
    def of(cls, arms: Arms) -> _Nest:
        keys = np.column_stack([arms.trip, arms.sitting, arms.encounter])
        starts = []
        for depth in (3, 2, 1):
            new = np.ones(len(keys), dtype=bool)
            new[1:] = (keys[1:, :depth] != keys[:-1, :depth]).any(axis=1)
            starts.append(np.flatnonzero(new))
            keys = keys[new]
        return cls(tuple(starts))

    def products(self, columns: Floats, covariance: tuple[Floats, Floats]) -> tuple[Floats, float]:
        """Products of columns under the inverse of the nested covariance, and its log determinant."""
        own, (trip, sitting, encounter) = covariance
        weighted = columns / own[:, None]
        gram = columns.T @ weighted
        log = float(np.log(own).sum())
        sums, ones = weighted, 1 / own
        for starts, part in zip(self.starts, (encounter, sitting, trip), strict=True):
            sums = np.add.reduceat(sums, starts, axis=0)
            ones = np.add.reduceat(ones, starts)
            held = 1 + part * ones
            gram = gram - sums.T @ (sums * (part / held)[:, None])
            log += float(np.log(held).sum())
            sums, ones = sums / held[:, None], ones / held
        return gram, log


def _parts(columns: Floats, frames: Floats, nest: _Nest, penalty: Floats, start: Floats) -> Floats:
    from scipy.optimize import minimize

    usual = _usual()

    def unlikely(theta: Floats) -> float:
        gram, log = nest.products(columns, _covariance(theta, frames))
        precision = gram[:-1, :-1] + np.diag(penalty)
        _sign, determined = np.linalg.slogdet(precision)
        left = gram[-1, -1] - gram[:-1, -1] @ np.linalg.solve(precision, gram[:-1, -1])
        far = float((((theta - usual) / SPREAD_OF_PARTS) ** 2).sum())
        return 0.5 * (log + float(determined) + float(left) + far)

    return minimize(unlikely, start, method="L-BFGS-B", bounds=[(-6, 3)] * 4, options={"maxiter": 12}).x


def _design(arms: Arms) -> tuple[Floats, Floats, float]:
    light = arms.light_ev - np.median(arms.light_ev)
    columns = [np.ones(len(light)), arms.treated.astype(float)]
    penalty = [1 / 25, 1 / SPREAD_OF_COEFFICIENTS**2]

    def add(values: Floats, wide: float = SPREAD_OF_COEFFICIENTS) -> None:
        spread = values.std()
        if spread > 1e-9:
            columns.append((values - values.mean()) / spread)
            penalty.append(1 / wide**2)

    add(light)
    if len(np.unique(arms.encounter)) >= FEWEST_CURVED:
        add(_curve(light))
    share = 0.0
    if arms.distance_log2 is not None:
        distance, share = _distance(arms)
        if share:
            add(distance)
    return np.column_stack(columns), np.array(penalty), share


def _curve(light: Floats) -> Floats:
    a, b, c = np.quantile(light, KNOTS)
    if not a < b < c:
        return np.zeros_like(light)

    def cube(values):
        return np.maximum(values, 0) ** 3

    return (
        cube(light - a) - cube(light - b) * (c - a) / (c - b) + cube(light - c) * (b - a) / (c - b)
    ) / (c - a) ** 2


def _distance(arms: Arms) -> tuple[Floats, float]:
    known = np.isfinite(arms.distance_log2)
    fewest = min((known & arms.treated).sum(), (known & ~arms.treated).sum())
    share = float(known.mean())
    if fewest < FEWEST_WITH_DISTANCE or share < LEAST_DISTANCE_SHARE:
        return arms.distance_log2, 0.0
    light = arms.light_ev - np.median(arms.light_ev)
    other = np.column_stack([np.ones(len(known)), arms.treated, light])
    told, *_rest = np.linalg.lstsq(other[known], arms.distance_log2[known], rcond=None)
    return np.where(known, arms.distance_log2, other @ told), share
