"""The camera's own blur (low-pass filter, noise reduction, sharpening), from a body's sharpest frames.

By body, ISO band and what was decoded: noise reduction at high ISO blurs more, and must not read as the
blur of the converter that made the ISO high. So only frames without a converter calibrate, in the same band.
The sharpest of at least 40 such frames, from at least 3 hours, say what the camera leaves at best; until
there are as many, the camera's blur is taken to be `sharpness.CAMERA_BLUR_PX`.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import replace

from auditor.focus.sharpness import CAMERA_BLUR_PX, SHARP_READS_PX, without_camera
from auditor.store import camera_blur as stored
from auditor.store.logbook import Logbook
from auditor.store.readings import Reading

FEWEST_FRAMES = 40
FEWEST_HOURS = 3
"""Hours of the clock, of whatever days, that they come from: one animal alone may give no sharp frame."""
SHARPEST_SHARE, FEWEST_SHARPEST = 0.03, 4
"""The camera's own blur is what the last of the sharpest frames reads: 3 of 100, and at least four. A tenth,
as it was before, holds much of the photographer's own blur; taken for the camera's, that favours the bare
lens, which shows the animal smaller (3 points in benchmarks/told.py)."""
LARGEST_PX = 0.9
"""More than this is the photographer's blur, not the camera's."""
STEP_PX = 0.05
"""Kept in steps, so that each new frame does not change all old ones a little."""

Key = tuple[str, int, str]
"""Body (make|model|serial), ISO band, what was decoded."""


def iso_band(iso: float | None) -> int | None:
    """0 below ISO 400, then one for each factor of 4; None where ISO is not known.

    Parameters
    ----------
    iso
        As set.

    Returns
    -------
    int or None
        A number that keys the calibration.
    """
    if iso is None or not iso > 0:
        return None
    return max(0, math.floor(math.log(iso / 100, 4) + 1e-9))


def from_readings(sigmas_px: Sequence[float]) -> float:
    """The camera's own blur from the blur that was read, with the default, of a body's frames.

    A perfectly sharp frame of a camera that blurs as the default reads SHARP_READS_PX; what the sharpest
    frames of this one read beyond that is the camera's.

    Parameters
    ----------
    sigmas_px
        Blur of the body's sharp frames, read with the default.

    Returns
    -------
    float
        Sigma, px.
    """
    sharpest = sorted(sigmas_px)[: max(FEWEST_SHARPEST, round(SHARPEST_SHARE * len(sigmas_px)))][-1]
    own_blur_px = math.sqrt(CAMERA_BLUR_PX**2 + max(0.0, sharpest**2 - SHARP_READS_PX**2))
    return min(LARGEST_PX, round(own_blur_px / STEP_PX) * STEP_PX)


def applied(reading: Reading | None, camera_blur_px: float | None) -> Reading | None:
    """A reading with this camera's own blur taken out in place of the default.

    Parameters
    ----------
    reading
        As measured; None for a frame that was not.
    camera_blur_px
        Calibrated; None for the default, which is taken out already.

    Returns
    -------
    Reading or None
        None where there is no reading.
    """
    if reading is None or reading.sigma_px is None or camera_blur_px is None:
        return reading

    def without(sigma_px: float | None) -> float | None:
        return None if sigma_px is None else without_camera(sigma_px, camera_blur_px)

    quantiles = reading.quantiles_px
    return replace(
        reading,
        sigma_px=without(reading.sigma_px),
        sigma_low_px=without(reading.sigma_low_px),
        sigma_high_px=without(reading.sigma_high_px),
        quantiles_px=quantiles and tuple(without_camera(quantile, camera_blur_px) for quantile in quantiles),
    )


def calibrate(logbook: Logbook) -> list[Key]:
    """Calibrate the bodies of touched frames anew; inside `writing()`.

    Returns what has changed: blur of these frames is to be told anew.
    """
    sigmas_of: dict[Key, array[float]] = {}
    hours: dict[Key, set[str]] = {}
    for row in stored.bare_readings(logbook):
        band = iso_band(row["iso"])
        if band is None:
            continue
        key = (row["body"], band, row["measured_on"])
        sigmas_of.setdefault(key, array("d")).append(row["sigma_px"])
        hours.setdefault(key, set()).add(row["taken_at"][:13])
    calibrated = stored.known(logbook)
    bodies = stored.touched_bodies(logbook)
    enough = {
        key: (from_readings(sigmas), len(sigmas))
        for key, sigmas in sigmas_of.items()
        if len(sigmas) >= FEWEST_FRAMES and len(hours[key]) >= FEWEST_HOURS
    }
    stored.replace(logbook, bodies, enough)
    before = {key: value for key, value in calibrated.items() if key[0] in bodies}
    return sorted(
        key
        for key in before.keys() | enough.keys()
        if before.get(key) != (enough[key][0] if key in enough else None)
    )
