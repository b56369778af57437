"""Logistic regression on clusters, its standard errors made for few of them: the second opinion.

With covariates that are constant within an arm of a cluster, an exchangeable estimating equation is
a logistic regression weighted by 1 / (1 + (m - 1) rho).

References
----------
L. A. Mancl, T. A. DeRouen, A covariance estimator for GEE with improved small-sample properties,
Biometrics 57 (2001), equation 3 (R).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

ROUNDS = 50
CLOSE = 1e-9
RIDGE = 1e-8
LARGEST_LOGIT = 30.0
INFINITE_LOGIT = 12.0
SURELY_DETERMINED = 1e-8
"""Of the largest square: what is above lies far over what rounding leaves, and over where rank ends."""

Floats = NDArray[Any]


@dataclass(frozen=True, slots=True)
class Fit:
    """Coefficients and their standard errors, one entry a column of the design."""

    coefficients: Floats
    standard_errors: Floats
    model_errors: Floats
    """Errors as if the model held: where all clusters are alike, theirs alone are not nothing."""
    degrees_of_freedom: int


def fit(
    design: Floats, hits: Floats, frames: Floats, weights: Floats, cluster: NDArray[np.int64]
) -> Fit | None:
    """Fit; None where the rows do not determine it.

    Parameters
    ----------
    design
        Shape (rows, columns), one row an arm of a cluster.
    hits, frames, weights
        Counts and what a frame of the row weighs, shape (rows,).
    cluster
        Numbers from 0, shape (rows,).

    Returns
    -------
    Fit or None
        Coefficients with standard errors that hold for clusters.
    """
    clusters = int(cluster.max()) + 1
    columns = design.shape[1]
    if clusters <= columns or not _determined(design):
        return None
    beta = np.zeros(columns)
    for _round in range(ROUNDS):
        share = _share(design, beta)
        variance = weights * frames * share * (1 - share)
        information = design.T @ (design * variance[:, None]) + RIDGE * np.eye(columns)
        step = np.linalg.solve(information, design.T @ (weights * (hits - frames * share)))
        beta = beta + np.clip(step, -4, 4)
        if np.abs(step).max() < CLOSE:
            break
    if np.abs(design @ beta).max() > INFINITE_LOGIT:
        return None  # one arm all hit or all miss: there is no finite answer
    share = _share(design, beta)
    inverse = np.linalg.inv(design.T @ (design * (weights * frames * share * (1 - share))[:, None]))
    return Fit(
        coefficients=beta,
        standard_errors=_errors(design, hits, frames, weights, cluster, share, inverse),
        model_errors=np.sqrt(np.diag(inverse)),
        degrees_of_freedom=clusters - columns,
    )


def _errors(
    design: Floats,
    hits: Floats,
    frames: Floats,
    weights: Floats,
    cluster: NDArray[np.int64],
    share: Floats,
    inverse: Floats,
) -> Floats:
    """Square roots of the sandwich's diagonal, each cluster's residual freed of its own pull on the fit."""
    variance = weights * frames * share * (1 - share)
    residual = weights * (hits - frames * share)
    meat = np.zeros_like(inverse)
    order = np.argsort(cluster, kind="stable")
    size = np.bincount(cluster)[cluster[order]]
    for rows_a_cluster in np.unique(size):  # clusters of one size at once: there may be 100,000
        rows = order[size == rows_a_cluster].reshape(-1, rows_a_cluster)
        stacked = design[rows]
        leverage = (stacked * variance[rows][..., None]) @ inverse @ stacked.transpose(0, 2, 1)
        kept = np.eye(rows_a_cluster) * (1 + RIDGE) - leverage
        freed = np.linalg.solve(kept, residual[rows][..., None])
        score = (stacked.transpose(0, 2, 1) @ freed)[..., 0]
        meat += score.T @ score
    return np.asarray(np.sqrt(np.clip(np.diag(inverse @ meat @ inverse), 0, None)))


def _determined(design: Floats) -> bool:
    """Whether no column follows from the others, as `numpy.linalg.matrix_rank` tells it, sooner.

    Far from the limit the products of the columns tell, whose eigenvalues are the squares of the singular
    values; near it the triangle that has the same singular values.
    """
    squares = np.linalg.eigvalsh(design.T @ design)
    if squares[0] > SURELY_DETERMINED * squares[-1]:
        return True
    sizes = np.linalg.svd(np.linalg.qr(design, mode="r"), compute_uv=False)
    above = sizes > sizes.max() * max(design.shape) * np.finfo(float).eps
    return bool(np.count_nonzero(above) == design.shape[1])


def _share(design: Floats, beta: Floats) -> Floats:
    return np.asarray(1 / (1 + np.exp(-np.clip(design @ beta, -LARGEST_LOGIT, LARGEST_LOGIT))))
