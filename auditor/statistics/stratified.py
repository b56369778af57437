"""Mantel-Haenszel: one difference of shares from many strata, each compared within itself.

References
----------
K. J. Rothman, S. Greenland, T. L. Lash, Modern Epidemiology, 3rd ed. (2008), chapter 15, risk difference.
T. Sato, On the variance estimator for the Mantel-Haenszel risk difference, Biometrics 45 (1989) (R).
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike, NDArray

from auditor.statistics.intervals import wilson


@dataclass(frozen=True, slots=True)
class Difference:
    """A difference of shares, treated minus bare, with its standard error."""

    estimate: float
    standard_error: float
    """Sato's; nothing where all hit or all miss, however few they are."""
    shares: tuple[float, float]
    """Treated and bare, each standardised to the weights of the strata."""
    effective_frames: tuple[float, float]
    """How many frames in one stratum would show these shares as surely."""
    told: float = 1.0
    """How much of a difference in hits shows in the shares: the difference is that of hits."""

    def of_hits(self, told: float) -> Difference:
        """The difference in hits behind a difference in these shares.

        Parameters
        ----------
        told
            How much of it shows, 0 to 1.

        Returns
        -------
        Difference
            Larger, and less certain.
        """
        return replace(
            self, estimate=self.estimate / told, standard_error=self.standard_error / told, told=told
        )

    def interval(self, confidence: float) -> tuple[float, float]:
        """Low and high end: the wider of Sato's, and of Newcombe's from Wilson's interval of each share.

        Near 0 and 100 % Sato's alone is too short: 8 hits of 8 do not prove that all hit.

        Parameters
        ----------
        confidence
            As a share.

        Returns
        -------
        tuple[float, float]
            Shares, -1 to 1.

        References
        ----------
        R. G. Newcombe, Interval estimation for the difference between independent proportions, Statistics in
        Medicine 17 (1998), method 10.
        """
        reach = NormalDist().inv_cdf(0.5 + confidence / 2) * self.standard_error
        (share, other_share), (frames, other_frames) = self.shares, self.effective_frames
        low, high = wilson(share * frames, frames, confidence=confidence)
        other_low, other_high = wilson(other_share * other_frames, other_frames, confidence=confidence)
        down = max(reach, math.hypot(share - low, other_high - other_share) / self.told)
        up = max(reach, math.hypot(high - share, other_share - other_low) / self.told)
        return max(-1.0, self.estimate - down), min(1.0, self.estimate + up)


def mantel_haenszel(
    hits_treated: ArrayLike, treated: ArrayLike, hits_bare: ArrayLike, bare: ArrayLike
) -> Difference | None:
    """The pooled risk difference with Sato's variance; None where no stratum holds both.

    Parameters
    ----------
    hits_treated, treated, hits_bare, bare
        Counts, one entry a stratum; fractions are allowed, as weighted counts are.

    Returns
    -------
    Difference or None
        Treated minus bare, as a share, with its standard error.
    """
    y1, n1, y0, n0 = (np.asarray(counts, dtype=float) for counts in (hits_treated, treated, hits_bare, bare))
    both = (n1 > 0) & (n0 > 0)
    if not both.any():
        return None
    y1, n1, y0, n0 = y1[both], n1[both], y0[both], n0[both]
    n = n1 + n0
    weight = n1 * n0 / n
    total = float(weight.sum())
    estimate = float((weight * (y1 / n1 - y0 / n0)).sum()) / total
    p, q = _sato(y1, n1, y0, n0, n)
    variance = (estimate * float(p.sum()) + float(q.sum())) / total**2
    share = weight / total
    shares = (min(1.0, float((share * y1 / n1).sum())), min(1.0, float((share * y0 / n0).sum())))
    effective = (float(1 / (share**2 / n1).sum()), float(1 / (share**2 / n0).sum()))
    return Difference(estimate, float(np.sqrt(max(variance, 0.0))), shares, effective)


def _sato(
    y1: NDArray[np.float64],
    n1: NDArray[np.float64],
    y0: NDArray[np.float64],
    n0: NDArray[np.float64],
    n: NDArray[np.float64],
) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    p = (n1**2 * y0 - n0**2 * y1 + n1 * n0 * (n0 - n1) / 2) / n**2
    q = (y1 * (n0 - y0) + y0 * (n1 - y1)) / (2 * n)
    return p, q
