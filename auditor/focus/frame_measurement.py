"""Measuring a frame: which of its places is read, and what that shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.focus import regions, subject
from auditor.focus.luminance import Region
from auditor.focus.misplacement import CLEARLY, sharper_elsewhere
from auditor.focus.network import TILE_PX
from auditor.focus.sharpness import (
    SOFT_FROM_PX,
    Seen,
    SharpnessReading,
    decided,
    either,
    look,
    part_read,
    reading_of,
)

Area = tuple[float, float, float, float]
"""Centre x, centre y, width, height: fractions of the upright picture, from its top left."""
MOST_AREAS = 24
"""More than these are not gone through one by one: the box around them is searched."""

MEASURING_FLAGS = {
    "found_not_recorded": "no focus area was recorded: the part with the strongest detail was read",
    "one_of_areas": "several focus areas: the one with the strongest detail was read",
    "part_of_area": "the focus area is large: its part with the strongest detail was read",
    "sharper_around": "what lies around the focus area is much sharper than the focus area itself",
    "subject_found": "what stands out from its background at the focus area was read, not all of the area",
    "area_mostly_background": "the focus area is mostly background, and what stands out lies beside it",
    "only_thin_sharp": "only something thin is sharp in the focus area: a twig, or a thin animal",
    "sharp_beside_area": "what the focus area is on is soft there, and sharp beside it",
}
"""Words in `FrameMeasurement.flags`."""
UNSURE = {"beside": "area_mostly_background", "thin": "only_thin_sharp", "joined": "sharp_beside_area"}
"""Why nothing says which of two things is the animal, by how `subject.find` found them."""


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
    region, area, flags = _region(luma, areas, magnified)
    region = part_read(luma, region)
    reading, kind, flag = _of_subject(look(luma, region), region, area, iso)
    if flag:
        flags.append(flag)
    if sharper_elsewhere(luma, region, reading, iso=iso) is not None:
        kind = "elsewhere"
    return FrameMeasurement(region, reading, kind, tuple(flags))


def _of_subject(
    seen: Seen, region: Region, area: Region | None, iso: float | None
) -> tuple[SharpnessReading, str, str]:
    """The reading of what the focus area is likely about, its kind, and a word on how it was found."""
    if seen.tiles is None or area is None:
        reading = reading_of(seen, iso=iso)
        return reading, reading.kind, ""
    shape = seen.tiles.log2_sigma.shape
    found = subject.find(seen.tiles, _tiles_of(area, region, (shape[0], shape[1])), SOFT_FROM_PX)
    if found.how == "all":
        reading = reading_of(seen, iso=iso)
        return reading, reading.kind, ""
    standing_out = reading_of(seen, within=subject.around(found.tiles), iso=iso)
    if found.how == "touched":
        return standing_out, standing_out.kind, "subject_found"
    here = reading_of(seen, within=found.rest, iso=iso)
    if found.how == "enclosed":
        return here, "elsewhere" if _sharper(standing_out, here) else here.kind, "sharper_around"
    if _soft(standing_out):
        return standing_out, standing_out.kind, ""
    reading = either(standing_out, here, UNSURE[found.how])
    return reading, reading.kind, ""


def _region(
    luma: NDArray[np.uint8], areas: Sequence[Area], magnified: float
) -> tuple[Region, Region | None, list[str]]:
    """The region to look at, the focus area where there is one, and words on how they were chosen."""
    shape = (luma.shape[0], luma.shape[1])
    least_px = regions.side_px(shape, magnified)
    if not areas:
        return regions.sharpest_part(luma, least_px=least_px), None, ["found_not_recorded"]
    found = [regions.around(shape, *area, least_px=least_px) for area in areas]
    region, flags, area = found[0], [], areas[0]
    if len(found) > MOST_AREAS:
        tops, bottoms, lefts, rights = zip(*found, strict=True)
        region = min(tops), max(bottoms), min(lefts), max(rights)
    elif len(found) > 1:
        region = regions.strongest(luma, found)
        area = areas[found.index(region)]
        flags.append("one_of_areas")
    if regions.is_large(region, least_px):
        region = regions.sharpest_part(luma, region, least_px=least_px)
        flags.append("part_of_area")
    core_px = round(regions.CORE_PX * magnified)
    return region, None if len(found) > MOST_AREAS else regions.around(shape, *area, least_px=core_px), flags


def _tiles_of(area: Region, region: Region, shape: tuple[int, int]) -> NDArray[np.bool_]:
    """The tiles of a region that an area covers."""
    top, bottom, left, right = area
    return subject.area_tiles(
        shape,
        (top - region[0]) / TILE_PX,
        (bottom - region[0]) / TILE_PX,
        (left - region[2]) / TILE_PX,
        (right - region[2]) / TILE_PX,
    )


def _soft(reading: SharpnessReading) -> bool:
    """Whether a reading is surely soft."""
    if reading.sigma_px is None or reading.low is None or reading.high is None:
        return False
    return bool(decided(reading.sigma_px, reading.low, reading.high, SOFT_FROM_PX))


def _sharper(one: SharpnessReading, other: SharpnessReading) -> bool:
    """Whether one is surely and much sharper, and the other surely soft."""
    if one.sigma_px is None or one.high is None or other.sigma_px is None:
        return False
    return _soft(other) and one.sigma_px * CLEARLY < other.sigma_px and one.high < other.sigma_px
