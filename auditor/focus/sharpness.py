"""How blurred a region of a picture is, as the sigma of a Gaussian in px, and whether that can be told."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from auditor.focus import network
from auditor.focus.luminance import Region, cut
from auditor.focus.network import LEVELS, Tiles
from auditor.focus.noise import noise_level
from auditor.focus.regions import sharpest_part
from auditor.focus.surroundings import own_tiles, surroundings

VERSION = "13"
"""Raised whenever a reading could come out otherwise, so that old ones are made again."""
WHY_THIS_VERSION = (
    "small areas in focus were called blurred, glints or small animals out of focus were called sharp, "
    "and motion was sometimes taken for missed focus"
)
"""Said once to whoever has readings of an earlier version: goes on from "measured again, since"."""
CAMERA_BLUR_PX = 0.5
"""The camera's own blur until it is calibrated; the reading is without the camera's blur already, so this is
only what `camera_blur_px` is compared with."""
SHARP_READS_PX = 0.35
"""What the sharpest tenth of pieces of less than 0.45 px read at most: .352 (benchmarks/focus.py), .27 on the
second simulator; the larger takes less for the camera's own."""
SOFT_FROM_PX = 1.2
"""Full sensor diagonal / 1500 / 4 on a 24-megapixel full-frame sensor, in px."""
SMALLEST_REGION_PX = 64
LARGEST_READ_PX = 640
"""Of a larger region the part with the strongest detail is read: time grows with the area."""
TOO_WIDE = 6.0
"""A reading says nothing where its 90 % quantile is over this many times its 10 % quantile, or over this many
times the least that anything reads."""
UNSURE = 4.0
"""A 90 % interval that spans a larger factor, counted from the least that anything reads, is no near call."""
PLAIN = 0.35
"""Tiles whose own reading is off by more than this in the mean (log2) count as without texture."""
MOTION_FROM_SHARE = 0.5
"""From this probability on, blur over the limit, or near it and rather over it, is called motion. Of the
pieces to calibrate on (calibrate_focus.py) that are over it, in the proportions of second_focus.py, this
finds .99 of what moved and .80 of what is out of focus as well, and takes .044 of the defocused ones for
motion: of photographs .01, of drawn scenes, whose hairs and blades run one way, .13."""

DECIDES_FROM = 0.8
"""How likely a verdict must be to be given: the middle way between many verdicts and right ones."""

Kind = Literal["sharp", "soft", "smeared", "undetermined"]

READING_FLAGS = {
    "region_too_small": "fewer than 64 px to a side",
    "too_little_texture": "too little texture in the focus area, or too much noise",
    "near_criterion": "near the limit: sharp at a small print, soft at a large one",
}
"""Words in `SharpnessReading.flags`."""


@dataclass(frozen=True, slots=True)
class Seen:
    """A region looked at, of which any set of tiles can be read."""

    tiles: Tiles | None
    noise: float
    """Standard deviation at mid-grey, grey levels of 255."""
    why_untold: str = ""
    """A word of READING_FLAGS where there are no tiles."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SharpnessReading:
    """What a region shows. Blur is the sigma, in px, of the Gaussian that blurs alike; None where untold."""

    sigma_px: float | None
    """Without the camera's own blur: decides focus."""
    low: float | None
    high: float | None
    """90 % interval of sigma_px, px."""
    system_sigma_px: float | None
    """System blur: lens and camera included. It decides detail, and is never under sigma_px."""
    noise: float
    """Standard deviation at mid-grey, grey levels of 255."""
    texture: float
    """Share of the region whose tiles tell a blur by themselves, 0 to 1."""
    kind: Kind
    direction_deg: float | None
    """Direction of motion: 0 along a row, counterclockwise, modulo 180."""
    flags: tuple[str, ...] = ()
    quantiles_px: tuple[float, ...] | None = None
    """Of sigma_px, at network.LEVELS: from them follows how likely it is under any limit."""


def decided(sigma_px: float, low: float, high: float, limit_px: float) -> bool | None:
    """Whether a blur is over a limit; None where it is too near to it.

    Half of the 90 % interval, in the logarithm, decides: about the 20 % and the 80 % quantile.

    Parameters
    ----------
    sigma_px, low, high
        A reading and its 90 % interval, px.
    limit_px
        The largest blur that counts as sharp.

    Returns
    -------
    bool or None
        True for soft, False for sharp.
    """
    if (sigma_px * low) ** 0.5 > limit_px:
        return True
    return False if (sigma_px * high) ** 0.5 < limit_px else None


def probability_under(quantiles_px: tuple[float, ...], limit_px: float) -> float:
    """How likely the blur is under a limit, 0 to 1.

    Parameters
    ----------
    quantiles_px
        As in a reading. Between two the logarithm of blur counts as even; beyond the outermost, half of what
        lies beyond is given for each step as wide as the last.
    limit_px
        The largest blur that counts as sharp.

    Returns
    -------
    float
        0 to 1, never either end.
    """
    places = [math.log(value) for value in quantiles_px]
    place = math.log(limit_px)
    if place <= places[0]:
        step = max(places[1] - places[0], 1e-6)
        return float(LEVELS[0] * 0.5 ** ((places[0] - place) / step))
    if place >= places[-1]:
        step = max(places[-1] - places[-2], 1e-6)
        return float(1 - (1 - LEVELS[-1]) * 0.5 ** ((place - places[-1]) / step))
    return float(np.interp(place, places, LEVELS))


def over(quantiles_px: tuple[float, ...], limit_px: float) -> bool | None:
    """Whether a blur is over a limit; None where it is as likely as one in five to be on the other side.

    Parameters
    ----------
    quantiles_px
        As in a reading.
    limit_px
        The largest blur that counts as sharp.

    Returns
    -------
    bool or None
        True for soft, False for sharp.
    """
    under = probability_under(quantiles_px, limit_px)
    return None if DECIDES_FROM > under > 1 - DECIDES_FROM else under < 0.5


def without_camera(sigma_px: float, camera_blur_px: float) -> float:
    """Blur that was read with the default for the camera's own, read with another; px.

    Parameters
    ----------
    sigma_px
        As read with CAMERA_BLUR_PX.
    camera_blur_px
        The camera's own blur, sigma.

    Returns
    -------
    float
        Sigma, px, at least 0.1.
    """
    return float(np.sqrt(max(sigma_px**2 + CAMERA_BLUR_PX**2 - camera_blur_px**2, 0.01)))


def trusted(reading: SharpnessReading) -> bool:
    """Whether there is a figure to decide by.

    Parameters
    ----------
    reading
        Of a region.

    Returns
    -------
    bool
        False where nothing could be told.
    """
    return reading.sigma_px is not None


def measure(
    luma: NDArray[np.uint8] | NDArray[Any],
    *,
    region: Region | None = None,
    camera_blur_px: float | None = None,
    iso: float | None = None,
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
    iso
        Chooses the calibration of the interval.

    Returns
    -------
    SharpnessReading
        Blur with its interval, or the flag that says why there is none.

    Raises
    ------
    ValueError
        for an array that is no picture, or a region outside it.
    """
    return reading_of(look(luma, region), camera_blur_px=camera_blur_px, iso=iso)


def look(
    luma: NDArray[np.uint8] | NDArray[Any], region: Region | None = None, *, alone: bool = False
) -> Seen:
    """Look at a region once, to read it or parts of it; parameters and errors as for `measure`.

    Parameters
    ----------
    luma
        uint8, shape (rows, columns), gamma-coded as in a JPEG, at full resolution.
    region
        Region, px; None for all of it.
    alone
        What lies around a small region stays out of sight.

    Returns
    -------
    Seen
        Tiles to be read, or why there are none.

    Raises
    ------
    ValueError
        for an array that is no picture, or a region outside it.
    """
    picture = cut(luma, region)
    if min(picture.shape) < SMALLEST_REGION_PX:
        return Seen(None, 0.0, "region_too_small")
    noise = noise_level(picture)
    if np.ptp(picture) == 0:
        return Seen(None, noise, "too_little_texture")
    around = None if alone or region is None else surroundings(luma.shape, region)
    if region is None or around is None:
        return Seen(network.look(picture), noise)
    return Seen(own_tiles(network.look(cut(luma, around)), around, region), noise)


def part_read(luma: NDArray[np.uint8], region: Region) -> Region:
    """The part of a region that is read: all of it, or the strongest where it is large.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    region
        Around the focus area, px.

    Returns
    -------
    Region
        At most LARGEST_READ_PX to a side.
    """
    if max(region[1] - region[0], region[3] - region[2]) <= LARGEST_READ_PX:
        return region
    return sharpest_part(luma, region, least_px=LARGEST_READ_PX)


def reading_of(
    seen: Seen,
    *,
    within: NDArray[np.bool_] | None = None,
    camera_blur_px: float | None = None,
    iso: float | None = None,
) -> SharpnessReading:
    """The reading of a set of tiles.

    Parameters
    ----------
    seen
        A region as `look` saw it.
    within
        Which tiles; None for all.
    camera_blur_px
        The camera's own blur, sigma; None for CAMERA_BLUR_PX.
    iso
        Chooses the calibration of the interval.

    Returns
    -------
    SharpnessReading
        Blur with its interval, or the flag that says why there is none.
    """
    tiles, noise = seen.tiles, seen.noise
    if tiles is None:
        return _untold(seen.why_untold, noise, 0.0)
    quantities = network.read(tiles, within, iso=iso)
    spread = tiles.log_spread if within is None else tiles.log_spread[within]
    texture = float((np.exp(spread) < PLAIN).mean())
    if quantities.sigma_px[-2] > TOO_WIDE * max(quantities.sigma_px[1], SHARP_READS_PX):
        return _untold("too_little_texture", noise, texture)
    own_px = CAMERA_BLUR_PX if camera_blur_px is None else camera_blur_px
    quantiles = tuple(round(without_camera(value, own_px), 4) for value in quantities.sigma_px)
    middle = len(quantiles) // 2
    sigma, low, high = quantiles[middle], quantiles[0], quantiles[-1]
    blurred = over(quantiles, SOFT_FROM_PX)
    kind: Kind = "undetermined" if blurred is None else "soft" if blurred else "sharp"
    why = _why_undetermined(low, high) if blurred is None else ""
    over_it = blurred or (why == "near_criterion" and sigma > SOFT_FROM_PX)
    if over_it and quantities.motion_share >= MOTION_FROM_SHARE:
        kind = "smeared"
    return SharpnessReading(
        sigma_px=sigma,
        low=low,
        high=high,
        system_sigma_px=max(quantities.system_px[middle], quantities.sigma_px[middle], sigma),
        noise=noise,
        texture=texture,
        kind=kind,
        direction_deg=quantities.direction_deg if kind == "smeared" else None,
        flags=(why,) if why else (),
        quantiles_px=quantiles,
    )


def _why_undetermined(low_px: float, high_px: float) -> str:
    near = high_px <= UNSURE * max(low_px, SHARP_READS_PX)
    return "near_criterion" if near else "too_little_texture"


def either(one: SharpnessReading, other: SharpnessReading, flag: str) -> SharpnessReading:
    """The reading where nothing says which of two things is the subject: each as likely as the other.

    Parameters
    ----------
    one, other
        Readings of both; noise and texture are those of the first.
    flag
        Why it cannot be said which.

    Returns
    -------
    SharpnessReading
        The mean of both distributions, `undetermined` unless both say the same.
    """
    if one.quantiles_px is None or other.quantiles_px is None:
        return _untold(flag, one.noise, one.texture)
    both = (one.quantiles_px, other.quantiles_px)
    steps = np.geomspace(min(map(min, both)) / 2, max(map(max, both)) * 2, 400)
    under = [sum(probability_under(quantiles, float(step)) for quantiles in both) / 2 for step in steps]
    quantiles = tuple(round(float(value), 4) for value in np.exp(np.interp(LEVELS, under, np.log(steps))))
    return replace(
        one,
        sigma_px=quantiles[len(quantiles) // 2],
        low=quantiles[0],
        high=quantiles[-1],
        system_sigma_px=max(one.system_sigma_px or 0.0, quantiles[len(quantiles) // 2]),
        kind="undetermined",
        direction_deg=None,
        flags=(flag,),
        quantiles_px=quantiles,
    )


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
