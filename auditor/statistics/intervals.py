"""How sure a share is, when frames come in clusters.

Frames of one encounter succeed or fail together, so they count for less than as many
independent ones. The interval is Wilson's with an effective number of frames.

References
----------
E. B. Wilson, Probable inference, the law of succession, and statistical inference, JASA 22 (1927).
C. Franco, R. J. A. Little, T. A. Louis, E. V. Slud, Comparative study of confidence intervals for
proportions in complex sample surveys, J. Surv. Stat. Methodol. 7 (2019).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

PRIOR_ICC = 0.5
"""Intra-class correlation assumed before there is data: cautious for bursts of one animal."""
PRIOR_CLUSTERS = 10
"""How many clusters that assumption weighs as much as."""


@dataclass(frozen=True, slots=True)
class Interval:
    """A share with its interval and what it rests on."""

    estimate: float
    low: float
    high: float
    confidence: float
    clusters: int
    frames: int
    effective_frames: float
    icc: float


def wilson(hits: float, frames: float, *, confidence: float = 0.95) -> tuple[float, float]:
    """Wilson's interval for `hits` of `frames` independent frames.

    Both may be fractional, as an effective number is.

    Parameters
    ----------
    hits, frames
        Counts.
    confidence
        As a share.

    Returns
    -------
    tuple[float, float]
        Low and high end, shares.

    Raises
    ------
    ValueError
        for no frames, more hits than frames, or a confidence outside (0, 1).

    References
    ----------
    E. B. Wilson, Probable inference, the law of succession, and statistical inference, J. Am. Stat. Assoc. 22
    (1927).
    """
    if not (math.isfinite(frames) and frames > 0):
        raise ValueError(f"frames must be above 0, not {frames!r}")
    if not 0 <= hits <= frames:
        raise ValueError(f"hits must be between 0 and frames, not {hits!r}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, not {confidence!r}")
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = hits / frames
    centre = share + z * z / (2 * frames)
    half_width = z * math.sqrt(share * (1 - share) / frames + z * z / (4 * frames * frames))
    scale = 1 + z * z / frames
    low = 0.0 if hits == 0 else max(0.0, (centre - half_width) / scale)
    high = 1.0 if hits == frames else min(1.0, (centre + half_width) / scale)
    return low, high


def clustered_wilson(
    hits: ArrayLike, frames: ArrayLike, *, confidence: float = 0.95, pooled_icc: float | None = None
) -> Interval:
    """Share of hits with an interval that respects clusters.

    Parameters
    ----------
    hits, frames
        One entry an encounter, shape (encounters,). Encounters without frames are left out.
    confidence
        As a share.
    pooled_icc
        Intra-class correlation over all kits, see `pooled_icc`; PRIOR_ICC when not given.

    Returns
    -------
    Interval
        The share of hits, both ends, and the number of independent frames that the record is worth.

    Raises
    ------
    ValueError
        naming the argument that cannot be meant.
    """
    y, m = _checked(hits, frames)
    if pooled_icc is None:
        pooled_icc = PRIOR_ICC
    if not 0 <= pooled_icc <= 1:
        raise ValueError(f"pooled_icc must be between 0 and 1, not {pooled_icc!r}")
    total = float(m.sum())
    share = float(y.sum()) / total
    own_icc = anova_icc(y, m)
    clusters = len(m)
    if own_icc is None:
        icc = pooled_icc
    else:
        icc = (clusters * own_icc + PRIOR_CLUSTERS * pooled_icc) / (clusters + PRIOR_CLUSTERS)
    effective = total / (1 + (float((m * m).sum()) / total - 1) * icc)
    low, high = wilson(share * effective, effective, confidence=confidence)
    return Interval(share, low, high, confidence, clusters, int(total), effective, icc)


def difference(share: Interval, other_share: Interval) -> tuple[float, float, float]:
    """Difference of two shares, the first less the second, with its low and high end, from their intervals.

    For shares from different encounters, without adjusting for anything.

    Parameters
    ----------
    share, other_share
        Shares with their intervals.

    Returns
    -------
    tuple[float, float, float]
        Difference, low and high end, shares.

    References
    ----------
    R. G. Newcombe, Interval estimation for the difference between independent proportions, Statistics in
    Medicine 17 (1998), method 10.
    """
    estimate = share.estimate - other_share.estimate
    down = math.hypot(share.estimate - share.low, other_share.high - other_share.estimate)
    up = math.hypot(share.high - share.estimate, other_share.estimate - other_share.low)
    return estimate, max(-1.0, estimate - down), min(1.0, estimate + up)


def anova_icc(hits: ArrayLike, frames: ArrayLike) -> float | None:
    """Intra-class correlation of hits within clusters, by analysis of variance, clipped to [0, 1].

    None where it cannot be told: all hit or all miss, one cluster, or one frame a cluster.

    Parameters
    ----------
    hits, frames
        One entry a cluster, shape (clusters,).

    Returns
    -------
    float or None
        0 to 1.

    References
    ----------
    M. S. Ridout, C. G. B. Demetrio, D. Firth, Estimating intraclass correlation for binary data,
    Biometrics 55 (1999), the analysis-of-variance estimator for unequal clusters.
    """
    y, m = _checked(hits, frames)
    parts = _mean_squares(y, m)
    return None if parts is None else _icc(*parts)


def pooled_icc(kits: Sequence[tuple[ArrayLike, ArrayLike]]) -> float:
    """Intra-class correlation within kits, pooled over kits, drawn towards PRIOR_ICC.

    Parameters
    ----------
    kits
        For each kit the pair (hits, frames), one entry an encounter.

    Returns
    -------
    float
        0 to 1; PRIOR_ICC where nothing is told.
    """
    between = within = df_between = df_within = weighted_size = 0.0
    clusters = 0
    for hits, frames in kits:
        y, m = _checked(hits, frames)
        parts = _sums_of_squares(y, m)
        if parts is None:
            continue
        ss_between, ss_within, own_df_between, own_df_within, size = parts
        between += ss_between
        within += ss_within
        df_between += own_df_between
        df_within += own_df_within
        weighted_size += size * own_df_between
        clusters += len(m)
    if not clusters or df_within == 0 or between + within == 0:
        return PRIOR_ICC
    icc = _icc(between / df_between, within / df_within, weighted_size / df_between)
    return (clusters * icc + PRIOR_CLUSTERS * PRIOR_ICC) / (clusters + PRIOR_CLUSTERS)


def _icc(mean_between: float, mean_within: float, size: float) -> float:
    denominator = mean_between + (size - 1) * mean_within
    return min(1.0, max(0.0, (mean_between - mean_within) / denominator)) if denominator > 0 else 0.0


def _mean_squares(y: NDArray[np.float64], m: NDArray[np.float64]) -> tuple[float, float, float] | None:
    parts = _sums_of_squares(y, m)
    if parts is None or y.sum() in (0.0, m.sum()):
        return None
    ss_between, ss_within, df_between, df_within, size = parts
    return ss_between / df_between, ss_within / df_within, size


def _sums_of_squares(
    y: NDArray[np.float64], m: NDArray[np.float64]
) -> tuple[float, float, float, float, float] | None:
    """Between and within sums of squares, their degrees of freedom, and the typical cluster size."""
    total, clusters = float(m.sum()), len(m)
    if clusters < 2 or total <= clusters:
        return None
    shares = y / m
    share = float(y.sum()) / total
    ss_between = float((m * (shares - share) ** 2).sum())
    ss_within = float((m * shares * (1 - shares)).sum())
    size = (total - float((m * m).sum()) / total) / (clusters - 1)
    return ss_between, ss_within, clusters - 1.0, total - clusters, size


def _checked(hits: ArrayLike, frames: ArrayLike) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    y = np.asarray(hits, dtype=float)
    m = np.asarray(frames, dtype=float)
    if y.ndim != 1 or y.shape != m.shape:
        raise ValueError(f"hits and frames must be of one length, not of shapes {y.shape} and {m.shape}")
    if not np.isfinite(m).all() or (m < 0).any():
        raise ValueError("frames must be counts, 0 or more")
    if not np.isfinite(y).all() or (y < 0).any() or (y > m).any():
        raise ValueError("hits must be counts between 0 and frames")
    y, m = y[m > 0], m[m > 0]
    if not len(m):
        raise ValueError("frames must hold at least one frame")
    return y, m
