"""Measuring a frame: which of its places is read, and what that shows."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.focus import regions, subject
from auditor.focus.contrast import is_blurred
from auditor.focus.luminance import Region
from auditor.focus.misplacement import CLEARLY, sharper_elsewhere
from auditor.focus.network import TILE_PX
from auditor.focus.sharpness import (
    SOFT_FROM_PX,
    SharpnessReading,
    either,
    look,
    measure,
    over,
    part_read,
    reading_of,
)
from auditor.focus.surroundings import surroundings

Area = tuple[float, float, float, float]
"""Centre x, centre y, width, height: fractions of the upright picture, from its top left."""
MOST_AREAS = 24
"""More than these are not gone through one by one: the box around them is searched."""

MEASURING_FLAGS = {
    "found_not_recorded": "no focus area was recorded: the part with the strongest detail was read",
    "one_of_areas": "several focus areas: the one with the strongest detail was read",
    "part_of_area": "the focus area is large: its part with the strongest detail was read",
    "core_of_area": "the middle of the focus area tells more than what lies around it: it alone was read",
    "sharper_around": "what lies around the focus area is much sharper than the focus area itself",
    "subject_found": "what stands out from its background at the focus area was read, not all of the area",
    "area_mostly_background": "the focus area is mostly background, and what stands out lies beside it",
    "only_thin_sharp": "only something thin is sharp in the focus area: a twig, or a thin animal",
    "sharp_beside_area": "what the focus area is on is soft there, and sharp beside it",
}
"""Words in `FrameMeasurement.flags`."""
CORE_SHARE = 0.75
"""A focus area is looked at by itself where the region around it is larger than it by this."""
SPOT_PX = 96
"""A smaller focus area is grown to this, to see whether it is blurred; to regions.CORE_PX to be read."""
MOSTLY = 0.25
"""Less of the focus area on what stands out, and it is mostly background."""
FAR_SOFTER, GROWN_SOFTER = 4.0, 3.0
"""So many times the blur of its region, a focus area by itself and with what lies close around it: one or the
other is true of 7 of 11 blurred animals before a background in focus that the map of tiles did not show, of
none of 56 sharp animals (composed frames), and of 1 of 203 places of sharp pictures (second simulator), where
an area within what stands out was still taken for one beside it."""
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

    Returns
    -------
    FrameMeasurement
        Where the frame was read, what that shows, and flags that say why there.
    """
    region, area, flags = _region(luma, areas, magnified)
    region = part_read(luma, region)
    reading, kind, flag = _read(luma, region, area, iso)
    if flag:
        flags.append(flag)
    if sharper_elsewhere(luma, region, reading, iso=iso) is not None:
        kind = "elsewhere"
    return FrameMeasurement(region, reading, kind, tuple(flags))


def _read(
    luma: NDArray[np.uint8], region: Region, area: Region | None, iso: float | None
) -> tuple[SharpnessReading, str, str]:
    """The reading of what the focus area is likely about, its kind, and a word on how it was found."""
    seen = look(luma, region)
    if seen.tiles is None or area is None:
        reading = reading_of(seen, iso=iso)
        return reading, reading.kind, ""
    shape = seen.tiles.log2_sigma.shape
    tiles = _tiles_of(_grown(luma, area), region, (shape[0], shape[1]))
    subject_found = subject.find(seen.tiles, tiles, SOFT_FROM_PX)
    within = None if subject_found.how == "all" else subject.around(subject_found.tiles)
    reading = reading_of(seen, within=within, iso=iso)
    if subject_found.how == "all":
        return _checked(luma, region, area, reading, iso)
    if subject_found.how == "touched":
        mostly_on_it = float(subject_found.tiles[tiles].mean()) >= MOSTLY
        beside = not mostly_on_it and not subject.enclosed(~subject_found.tiles, tiles)
        return _checked(
            luma, region, area, reading, iso, mostly_on_it=mostly_on_it, beside=beside, flag="subject_found"
        )
    here = reading_of(seen, within=subject_found.rest, iso=iso)
    if subject_found.how == "enclosed":
        return here, "elsewhere" if _sharper(reading, here) else here.kind, "sharper_around"
    if _soft(reading):
        return reading, reading.kind, ""
    return _one_of(reading, here, UNSURE[subject_found.how])


def _checked(
    luma: NDArray[np.uint8],
    region: Region,
    area: Region,
    reading: SharpnessReading,
    iso: float | None,
    *,
    mostly_on_it: bool = True,
    beside: bool = False,
    flag: str = "",
) -> tuple[SharpnessReading, str, str]:
    """The reading of a region, or of what stands out in it, unless its focus area by itself says otherwise.

    What is sharp all around a blurred animal hides it from the map of tiles; and where a region does not
    tell, its middle may, or, of a small one, the region cut out.
    """
    if _soft(reading):
        return reading, reading.kind, flag
    small = max(area[1] - area[0], area[3] - area[2]) <= CORE_SHARE * (region[1] - region[0])
    if reading.kind == "sharp":
        here = _surely_blurred(luma, area, iso) if small else None
        if here is None and small and not (flag and mostly_on_it):
            doubt = _far_softer(luma, area, reading, iso, beside=beside)
            if doubt is not None:
                return _one_of(reading, doubt, UNSURE["beside" if flag else "joined"])
        if here is None or here.kind == "sharp":
            return reading, reading.kind, flag
        if not _sharper(reading, here):
            return _one_of(reading, here, UNSURE["joined"])
        return (here, "elsewhere", "sharper_around") if not flag else _one_of(reading, here, UNSURE["beside"])
    core = _grown(luma, area) if small else regions.sharpest_part(luma, region, least_px=regions.CORE_PX)
    here = measure(luma, region=core, iso=iso)
    # In a small picture the core is the larger, and may hold what lies before the animal.
    if here.kind == "sharp" and not is_blurred(luma, min(core, region, key=_size)):
        return here, here.kind, "core_of_area"
    here = here if mostly_on_it else _by_itself(luma, core, iso)
    if _soft(here) and is_blurred(luma, core):
        return (here, here.kind, "core_of_area") if mostly_on_it else _one_of(reading, here, UNSURE["beside"])
    if mostly_on_it and surroundings(luma.shape, region) is not None:
        # What is in focus around a small region reads through it.
        here = _by_itself(luma, region, iso)
        if _soft(here) and is_blurred(luma, region):
            return here, here.kind, flag
    return reading, reading.kind, flag


def _surely_blurred(luma: NDArray[np.uint8], area: Region, iso: float | None) -> SharpnessReading | None:
    """The reading of a focus area by itself where its edges, too, are blurred."""
    return _by_itself(luma, area, iso) if is_blurred(luma, area) else None


def _by_itself(luma: NDArray[np.uint8], area: Region, iso: float | None) -> SharpnessReading:
    """The reading of an area cut out. It errs towards soft, so it only raises doubts, or bears out blurred
    edges; looked at with its surroundings, a blurred animal before something in focus would read as sharp."""
    return reading_of(look(luma, area, alone=True), iso=iso)


def _far_softer(
    luma: NDArray[np.uint8], area: Region, than: SharpnessReading, iso: float | None, *, beside: bool
) -> SharpnessReading | None:
    """The reading of a focus area by itself, or with what lies close around it, where that is far softer than
    its region.

    A background in focus hides a blurred animal from the map of tiles, and its outlines are too faint to be
    measured as edges. Where the area lies `beside` what stands out, and not within it, plain ground reads as
    softly, and only what is around the area counts as well.
    """
    here = _by_itself(luma, area, iso)
    if not beside and _times_softer(here, than, FAR_SOFTER):
        return here
    if here.kind == "sharp":
        return None
    around = _by_itself(luma, _grown(luma, area), iso)
    return around if _times_softer(around, than, GROWN_SOFTER) else None


def _times_softer(reading: SharpnessReading, than: SharpnessReading, times: float) -> bool:
    """Whether a reading is over the limit by all of its interval, and over another by so many times."""
    if reading.sigma_px is None or reading.low is None or than.sigma_px is None:
        return False
    return reading.low > SOFT_FROM_PX and reading.sigma_px > times * than.sigma_px


def _one_of(
    standing_out: SharpnessReading, here: SharpnessReading, flag: str
) -> tuple[SharpnessReading, str, str]:
    """The reading where the animal is what stands out or what the focus area is on, and nothing says which.

    Where what stands out is not surely sharp itself, it is told: half of a doubt would read as surely soft.
    """
    if standing_out.kind == "sharp":
        standing_out = either(standing_out, here, flag)
    return standing_out, standing_out.kind, flag


def _region(
    luma: NDArray[np.uint8], areas: Sequence[Area], magnified: float
) -> tuple[Region, Region | None, list[str]]:
    """The region to look at, the focus area where there is one, and words on how they were chosen."""
    shape = (luma.shape[0], luma.shape[1])
    least_px = regions.side_px(shape, magnified)
    if not areas:
        return regions.sharpest_part(luma, least_px=least_px), None, ["found_not_recorded"]
    candidates = [regions.around(shape, *area, least_px=least_px) for area in areas]
    region, flags, area = candidates[0], [], areas[0]
    if len(candidates) > MOST_AREAS:
        tops, bottoms, lefts, rights = zip(*candidates, strict=True)
        region = min(tops), max(bottoms), min(lefts), max(rights)
    elif len(candidates) > 1:
        region = regions.strongest(luma, candidates)
        area = areas[candidates.index(region)]
        flags.append("one_of_areas")
    if regions.is_large(region, least_px):
        region = regions.sharpest_part(luma, region, least_px=least_px)
        flags.append("part_of_area")
    if len(candidates) > MOST_AREAS:
        return region, None, flags
    return region, regions.around(shape, *area, least_px=round(SPOT_PX * magnified)), flags


def _grown(luma: NDArray[np.uint8], area: Region) -> Region:
    """A focus area grown to what can be read well."""
    rows, columns = luma.shape
    x, y = (area[2] + area[3]) / 2 / columns, (area[0] + area[1]) / 2 / rows
    width, height = (area[3] - area[2]) / columns, (area[1] - area[0]) / rows
    return regions.around((rows, columns), x, y, width, height, least_px=regions.CORE_PX)


def _size(region: Region) -> int:
    return (region[1] - region[0]) * (region[3] - region[2])


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
    return reading.quantiles_px is not None and bool(over(reading.quantiles_px, SOFT_FROM_PX))


def _sharper(one: SharpnessReading, other: SharpnessReading) -> bool:
    """Whether one is surely and much sharper, and the other surely soft."""
    if one.sigma_px is None or one.high is None or other.sigma_px is None:
        return False
    return _soft(other) and one.sigma_px * CLEARLY < other.sigma_px and one.high < other.sigma_px
