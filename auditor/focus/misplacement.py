"""Focus that went elsewhere: another part of the picture is clearly sharper than the focus area."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Region
from auditor.focus.regions import shared, sharpest_parts, side_px
from auditor.focus.sharpness import SOFT_FROM_PX, SharpnessReading, measure, over

CANDIDATES = 2
CLEARLY = 2.0
"""What is this many times as sharp as the focus area counts as elsewhere."""
MOST_SHARED = 0.25
"""A part may share this much of itself with the focus area: in a small picture nothing lies farther off."""
CANDIDATE_PX = 256
"""Smaller than a focus area's region, and so quicker: all that is asked is whether it is clearly sharper."""


def sharper_elsewhere(
    luma: NDArray[np.uint8],
    region: Region,
    reading: SharpnessReading,
    *,
    camera_blur_px: float | None = None,
    iso: float | None = None,
) -> tuple[Region, SharpnessReading] | None:
    """The part that is clearly sharper than a soft focus area, with its reading; None where there is none.

    Only a focus area that reads soft is compared: in focus there is nothing to look for.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    region
        The focus area, px.
    reading
        What the focus area reads.
    camera_blur_px
        The camera's own blur, sigma; None for CAMERA_BLUR_PX.
    iso
        Chooses the calibration of the interval.

    Returns
    -------
    tuple[Region, SharpnessReading] or None
        The sharpest part that is at least CLEARLY times as sharp; None too where the focus area is not surely
        soft.
    """
    if reading.sigma_px is None or reading.quantiles_px is None:
        return None
    if not over(reading.quantiles_px, SOFT_FROM_PX):
        return None
    sharpest: tuple[Region, SharpnessReading] | None = None
    side = min(CANDIDATE_PX, side_px(luma.shape))
    candidates = [
        candidate
        for candidate in sharpest_parts(luma, count=CANDIDATES + 2, least_px=side)
        if shared(candidate, region) <= MOST_SHARED
    ]
    for candidate in candidates[:CANDIDATES]:
        there = measure(luma, region=candidate, camera_blur_px=camera_blur_px, iso=iso)
        if there.sigma_px is None or there.high is None:
            continue
        clearly = there.sigma_px * CLEARLY < reading.sigma_px
        if clearly and (sharpest is None or there.sigma_px < (sharpest[1].sigma_px or 0)):
            sharpest = candidate, there
    return sharpest
