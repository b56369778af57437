"""How blurred a region of a picture is, as the sigma of a Gaussian in px, and whether that can be told."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from auditor.focus import learned
from auditor.focus.features import features
from auditor.focus.luminance import Region, cut
from auditor.focus.motion import motion
from auditor.focus.noise import noise_level
from auditor.focus.statistics_of_edges import JUDGE, RANK, LevelStatistics, blended_px, levels

VERSION = "3"
"""Raised whenever a reading could come out otherwise, so that old ones are made again."""
CAMERA_BLUR_PX = 0.5
"""The camera's own blur until it is calibrated: 0.4 sharpened to 0.64 not, measured on simulated frames."""
SHARP_READS_PX = 0.4
"""What the sharpest tenth of frames without blur read, on simulated frames of many cameras."""
SOFT_FROM_PX = 1.2
"""Full sensor diagonal / 1500 / 4 on a 24-megapixel full-frame sensor, in px."""
SMALLEST_REGION_PX = 64
LEAST_TILES = 3
LEAST_EDGES = 40
FINEST_PX = 0.3
DISAGREE_FACTOR = 2.5
"""The learned reading is not trusted where it is this far from the one made by hand."""
MOTION_FROM_SHARE = 0.5

Kind = Literal["sharp", "soft", "smeared", "undetermined"]

READING_FLAGS = {
    "region_too_small": "fewer than 64 px to a side",
    "too_little_texture": "too few edges to tell blur from smoothness",
    "outside_experience": "unlike every picture that the reading was trained on",
    "readings_disagree": "the learned reading and the one made by hand are far apart",
    "near_criterion": "too near to the blur that counts as sharp",
}
"""Words in `SharpnessReading.flags`."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpnessReading:
    """What a region shows. Blur is the sigma, in px, of the Gaussian that blurs alike; None where untold."""

    sigma_px: float | None
    """Without the camera's own blur: decides focus."""
    low: float | None
    high: float | None
    """90 % interval of sigma_px, px."""
    system_sigma_px: float | None
    """The whole blur, camera included: decides detail, and ranks frames of one scene."""
    noise: float
    """Standard deviation at mid-grey, grey levels of 255."""
    texture: float
    """Share of the region with enough edges, 0 to 1."""
    kind: Kind
    direction_deg: float | None
    """Direction of motion: 0 along a row, counterclockwise, modulo 180."""
    flags: tuple[str, ...] = ()


def decided(sigma_px: float, low: float, high: float, limit_px: float) -> bool | None:
    """Whether a blur is over a limit; None where it is too near to it.

    Half of the 90 % interval, in the logarithm, decides: on held-out scenes 77 of 100 frames were then
    decided, and 98 of 100 of these rightly (benchmarks/focus.py).
    """
    if (sigma_px * low) ** 0.5 > limit_px:
        return True
    return False if (sigma_px * high) ** 0.5 < limit_px else None


def without_camera(sigma_px: float, camera_blur_px: float) -> float:
    """Blur that was read with the default for the camera's own, read with another; px."""
    return float(np.sqrt(max(sigma_px**2 + CAMERA_BLUR_PX**2 - camera_blur_px**2, 0.01)))


UNTRUSTED = ("outside_experience", "readings_disagree")
"""Flags of readings whose figures decide nothing."""


def trusted(reading: SharpnessReading) -> bool:
    """Whether there is a figure, and one that may decide."""
    return reading.sigma_px is not None and not any(flag in reading.flags for flag in UNTRUSTED)


def measure(
    luma: NDArray[np.uint8] | NDArray[Any],
    *,
    region: Region | None = None,
    camera_blur_px: float | None = None,
) -> SharpnessReading:
    """Measure the blur of a region.

    Parameters
    ----------
    luma
        uint8, shape (rows, columns), gamma-coded as in a JPEG, at full resolution.
    region
        (first row, row after the last, first column, column after the last), px; None for all of it.
    camera_blur_px
        The camera's own blur, sigma in px, where it is known; else CAMERA_BLUR_PX.

    Raises
    ------
    ValueError
        for an array that is no picture, or a region outside it.
    """
    picture = cut(luma, region)
    if min(picture.shape) < SMALLEST_REGION_PX:
        return _untold("region_too_small", 0.0, 0.0)
    found = levels(picture)
    noise = noise_level(picture)
    texture = max(one.tiles / one.found.tiles if one.found else 0.0 for one in found)
    by_hand = blended_px(found, JUDGE)
    if by_hand is None or max(one.tiles for one in found) < LEAST_TILES or _edges(found) < LEAST_EDGES:
        return _untold("too_little_texture", noise, texture)
    told = learned.read(features(picture, found, noise))
    flags = []
    if told.outside:
        flags.append("outside_experience")
    if (
        not 1 / DISAGREE_FACTOR
        < np.hypot(told.sigma_px, CAMERA_BLUR_PX) / max(by_hand, FINEST_PX)
        < DISAGREE_FACTOR
    ):
        flags.append("readings_disagree")
    own_px = CAMERA_BLUR_PX if camera_blur_px is None else camera_blur_px
    sigma, low, high = (without_camera(value, own_px) for value in (told.sigma_px, told.low_px, told.high_px))
    kind, direction_deg = _kind(found, told, sigma, low, high, tuple(flags))
    if kind == "undetermined" and not flags:
        flags.append("near_criterion")
    return SharpnessReading(
        sigma_px=sigma,
        low=low,
        high=high,
        system_sigma_px=max(blended_px(found, RANK) or by_hand, FINEST_PX),
        noise=noise,
        texture=texture,
        kind=kind,
        direction_deg=direction_deg,
        flags=tuple(flags),
    )


def _kind(
    found: list[LevelStatistics],
    told: learned.Learned,
    sigma: float,
    low: float,
    high: float,
    flags: tuple[str, ...],
) -> tuple[Kind, float | None]:
    if flags:
        return "undetermined", None
    blurred = decided(sigma, low, high, SOFT_FROM_PX)
    if blurred and told.motion_share >= MOTION_FROM_SHARE:
        return "smeared", _direction_deg(found, sigma)
    if blurred is None:
        return "undetermined", None
    return ("soft" if blurred else "sharp"), None


def _direction_deg(found: list[LevelStatistics], sigma: float) -> float | None:
    """From the size at which the blur is a few px wide, else from the next that has enough edges."""
    first = 0 if sigma < 2 else 1 if sigma < 4 else 2
    for level in (first, *(level for level in range(len(found)) if level != first)):
        edges = found[level].found
        moved = motion(edges) if edges else None
        if moved:
            return moved.direction_deg
    return None


def _edges(found: list[LevelStatistics]) -> int:
    return max(one.edges for one in found)


def _untold(flag: str, noise: float, texture: float) -> SharpnessReading:
    return SharpnessReading(
        sigma_px=None,
        low=None,
        high=None,
        system_sigma_px=None,
        noise=noise,
        texture=texture,
        kind="undetermined",
        direction_deg=None,
        flags=(flag,),
    )
