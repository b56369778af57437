"""Fine contrast against coarse: whether a part of a picture is blurred, told without the network.

A blurred edge is nearly as steep after a little more blur as before, a sharp one is not. The steepest slopes
count, so that plain parts say nothing; noise adds to the fine ones, so that it makes no part look blurred.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma, Region, cut

FINE_PX, COARSE_PX = 1.0, 3.0
"""Sigma of the two amounts of blur."""
STEEPEST = 0.998
"""Few edges cross a part: of a single one the steepest px are a few in a thousand."""
STEEP = 2.0
"""Grey levels a px: the shading of a plain part is less steep, an edge of 30 levels at 5 px as much."""
BLURRED_UNDER = 1.6
"""Slopes of an edge of blur s are as sqrt(s^2 + 9) to sqrt(s^2 + 1): 1.6 at s = 2.0 px, 3.2 at none (D)."""


def is_blurred(luma: NDArray[np.uint8] | NDArray[Any], region: Region) -> bool:
    """Whether all that has edges in a region is blurred by 2 px or more.

    Parameters
    ----------
    luma
        0 to 255, shape (rows, columns).
    region
        Larger than 20 px to each side.

    Returns
    -------
    bool
        False, too, where nothing but noise is steep.
    """
    pixels = cut(luma, region)
    fine, coarse = (_steepest(pixels, sigma_px) for sigma_px in (FINE_PX, COARSE_PX))
    return coarse > STEEP and fine < BLURRED_UNDER * coarse


def _steepest(pixels: Luma, sigma_px: float) -> float:
    """The steepest slopes after so much more blur, grey levels a px."""
    from scipy.ndimage import gaussian_filter

    smooth = gaussian_filter(pixels, sigma_px, truncate=3.0)
    slopes = np.hypot(smooth[2:, 1:-1] - smooth[:-2, 1:-1], smooth[1:-1, 2:] - smooth[1:-1, :-2]) / 2
    edge = int(3 * COARSE_PX)
    inner = slopes[edge:-edge, edge:-edge]
    place = round(STEEPEST * (inner.size - 1))
    return float(np.partition(inner.ravel(), place)[place])
