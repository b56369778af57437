"""Measuring a frame: which of its places is read, and what that shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.focus import regions
from auditor.focus.luminance import Region
from auditor.focus.misplacement import CLEARLY, sharper_elsewhere
from auditor.focus.sharpness import SOFT_FROM_PX, SharpnessReading, decided, measure, part_read

Area = tuple[float, float, float, float]
"""Centre x, centre y, width, height: fractions of the upright picture, from its top left."""
CORE_SHARE = 0.75
"""A focus area is read by itself, too, where the region grown around it is larger than it by this."""
MOST_AREAS = 24
"""More than these are not gone through one by one: the box around them is searched."""

MEASURING_FLAGS = {
    "found_not_recorded": "no focus area was recorded: the part with the strongest detail was read",
    "one_of_areas": "several focus areas: the one with the strongest detail was read",
    "part_of_area": "the focus area is large: its part with the strongest detail was read",
    "core_of_area": "the middle of the focus area tells more than what lies around it: it alone was read",
    "sharper_around": "what lies around the focus area is much sharper than the focus area itself",
}
"""Words in `FrameMeasurement.flags`."""


@dataclass(frozen=True, slots=True)
class FrameMeasurement:
    """What a frame shows, and where."""

    region: Region
    reading: SharpnessReading
    kind: str
    """That of the reading, or `elsewhere`."""
    flags: tuple[str, ...]


def measure_frame(
    luma: NDArray[np.uint8], areas: Sequence[Area], *, magnified: float = 1.0, iso: float | None = None
) -> FrameMeasurement:
    """Read a frame at its focus area, else where it has the strongest detail.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    areas
        The focus areas that count; empty where none is recorded.
    magnified
        Factor of the converter: the region spans one angle, with it and without.
    iso
        Chooses the calibration of the interval.
    """
    region, flags = _region(luma, areas, magnified)
    region = part_read(luma, region)
    reading = measure(luma, region=region, iso=iso)
    core = _core(luma, areas, region, magnified)
    inside = measure(luma, region=core, iso=iso) if core else None
    if core and inside and (_sharper(inside, reading) or (_decides(inside) and not _decides(reading))):
        region, reading = core, inside
        flags.append("core_of_area")
    elif core and inside and len(areas) == 1 and _sharper(reading, inside):
        return FrameMeasurement(core, inside, "elsewhere", (*flags, "sharper_around"))
    kind: str = reading.kind
    if sharper_elsewhere(luma, region, reading, iso=iso) is not None:
        kind = "elsewhere"
    return FrameMeasurement(region, reading, kind, tuple(flags))


def _region(luma: NDArray[np.uint8], areas: Sequence[Area], magnified: float) -> tuple[Region, list[str]]:
    shape = (luma.shape[0], luma.shape[1])
    least_px = regions.side_px(shape, magnified)
    if not areas:
        return regions.sharpest_part(luma, least_px=least_px), ["found_not_recorded"]
    found = [regions.around(shape, *area, least_px=least_px) for area in areas]
    region, flags = found[0], []
    if len(found) > MOST_AREAS:
        tops, bottoms, lefts, rights = zip(*found, strict=True)
        region = min(tops), max(bottoms), min(lefts), max(rights)
    elif len(found) > 1:
        region = regions.strongest(luma, found)
        flags.append("one_of_areas")
    if regions.is_large(region, least_px):
        region = regions.sharpest_part(luma, region, least_px=least_px)
        flags.append("part_of_area")
    return region, flags


def _core(luma: NDArray[np.uint8], areas: Sequence[Area], region: Region, magnified: float) -> Region | None:
    """The focus area itself where it is clearly smaller than the region, else the region's strongest part."""
    least_px = round(regions.CORE_PX * magnified)
    small = round(CORE_SHARE * min(region[1] - region[0], region[3] - region[2]))
    if len(areas) == 1:
        core = regions.around((luma.shape[0], luma.shape[1]), *areas[0], least_px=least_px)
        if max(core[1] - core[0], core[3] - core[2]) <= small:
            return core
    return regions.sharpest_part(luma, region, least_px=least_px) if least_px <= small else None


def _decides(reading: SharpnessReading) -> bool:
    """Whether a reading tells sharp from soft."""
    if reading.sigma_px is None or reading.low is None or reading.high is None:
        return False
    return decided(reading.sigma_px, reading.low, reading.high, SOFT_FROM_PX) is not None


def _sharper(one: SharpnessReading, other: SharpnessReading) -> bool:
    """Whether one is surely and much sharper, and the other surely soft."""
    if one.sigma_px is None or other.sigma_px is None:
        return False
    sigma, low, high = other.sigma_px or 0.0, other.low or 0.0, other.high or 0.0
    return bool(
        (one.sigma_px or 0.0) * CLEARLY < sigma
        and (one.high or 0.0) < sigma
        and decided(sigma, low, high, SOFT_FROM_PX)
    )
