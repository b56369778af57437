"""One photograph of a slanted edge: what the kit that took it resolved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log
from pathlib import Path
from statistics import fmean, median
from typing import TYPE_CHECKING

from auditor.errors import UnreadableFileError
from auditor.frames.inspection import facts_of_file
from auditor.store.frame_facts import FrameFacts

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from auditor.focus.edge_finding import MeasuredEdge
    from auditor.focus.luminance import Region

CURVE_CYCLES_PER_PX = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5)
"""Where the curve of contrast is given, up to the highest frequency that pixels record."""
CLOSE_SPREAD = 0.5
"""Edges of one shot further apart than this, as a share, are not of one target."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchKit:
    """What took a shot, as far as a bench needs it."""

    name: str
    """Short, as everywhere; see `frames.kit_names`."""
    body: tuple[str, str, str]
    """Make, model, serial number."""
    lens_name: str
    converter_factor: float
    focal_length_mm: float
    """In effect."""
    f_number: float
    """In effect."""
    pixel_pitch_um: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One photograph of the target. Frequencies are along the normals of its edges."""

    path: str
    kit: BenchKit
    across_mtf50: float | None
    """Half contrast, cycles per px of the sensor, from edges near upright."""
    down_mtf50: float | None
    """The same from edges near level."""
    mtf10: float | None
    contrast: tuple[float, ...]
    """Share of contrast left at each of CURVE_CYCLES_PER_PX, the middle one of the edges."""
    angle_deg: float
    noise_share: float
    """Noise over the step of the edge."""
    developed: str
    """jpeg, embedded, developed: what was decoded."""
    warnings: tuple[str, ...]

    @property
    def mtf50(self) -> float:
        """Of both directions, their geometric mean; of one where only one was found."""
        directions = [value for value in (self.across_mtf50, self.down_mtf50) if value is not None]
        return exp(fmean(log(value) for value in directions))

    @property
    def line_pairs_per_mm(self) -> float:
        """On the sensor."""
        return self.mtf50 * 1000 / self.kit.pixel_pitch_um

    @property
    def cycles_per_mrad(self) -> float:
        """On the subject: what compares kits, whatever their focal length and pixels."""
        return self.mtf50 * self.kit.focal_length_mm / self.kit.pixel_pitch_um


@dataclass(frozen=True, slots=True)
class NoShot:
    """A photograph that could not be used."""

    path: str
    reason: str


def measured_shot(path: Path, region: Region | None = None) -> Shot | NoShot:
    """Measure one photograph, or say why it cannot be.

    Parameters
    ----------
    path
        Of the photograph.
    region
        Where the edge is, px of the upright picture; None to look for it.

    Returns
    -------
    Shot or NoShot
        What the kit resolved, or why the photograph cannot be used.
    """
    try:
        return measure_shot(path, region)
    except UnreadableFileError as error:
        return NoShot(str(path), error.reason)
    except ValueError as error:
        return NoShot(str(path), str(error))


def measure_shot(path: Path, region: Region | None = None) -> Shot:
    """Measure one photograph of the target.

    Parameters
    ----------
    path
        Of the photograph.
    region
        Where the edge is, px of the upright picture; None to look for it.

    Returns
    -------
    Shot
        What the kit resolved, in cycles per px of the sensor.

    Raises
    ------
    UnreadableFileError
        for a file that cannot be read.
    ValueError
        where no edge can be measured, or focal length or pixel size is not known.
    """
    from auditor.readers.frame import found_file, read_file
    from auditor.readers.pixels import decode

    facts = facts_of_file(path)
    kit = _kit(facts)
    # The way up is no column of the frame table: it is asked for by itself.
    orientation = read_file(found_file(path)).recorded.orientation
    pixels = decode(str(path), orientation=orientation, raw_width_px=facts.width_px)
    edges = _edges(pixels.luma, region)
    # A smaller preview has larger pixels: frequencies are given for those of the sensor.
    sensor_px = max(facts.width_px or 0, facts.height_px or 0)
    finer = sensor_px / max(pixels.luma.shape) if sensor_px else 1.0
    tenths = [edge.response.mtf10 / finer for edge in edges if edge.response.mtf10]
    return Shot(
        path=str(path),
        kit=kit,
        across_mtf50=_half_contrast(edges, "columns", finer),
        down_mtf50=_half_contrast(edges, "rows", finer),
        mtf10=median(tenths) if tenths else None,
        contrast=_contrast(edges, finer),
        angle_deg=median(edge.response.angle_deg for edge in edges),
        noise_share=median(edge.noise / edge.step for edge in edges),
        developed=pixels.source,
        warnings=tuple(sorted({word for edge in edges for word in edge.warnings})),
    )


def _edges(luma: NDArray[np.uint8], region: Region | None) -> list[MeasuredEdge]:
    """Every edge of the target that can be measured; ValueError where there is none, saying why."""
    from auditor.focus.edge_finding import find_edges, measure_edge

    if region is not None:
        _check_inside(region, luma.shape)
    places = [region] if region else find_edges(luma)
    if not places:
        raise ValueError(_no_edge(luma))
    edges, why = [], ""
    for place in places:
        try:
            edges.append(measure_edge(luma, place))
        except ValueError as error:
            why = str(error)
    told = [edge for edge in edges if edge.response.mtf50]
    if not told:
        raise ValueError(why)
    return told


def _contrast(edges: Sequence[MeasuredEdge], finer: float) -> tuple[float, ...]:
    """The middle curve of contrast at CURVE_CYCLES_PER_PX of the sensor, whose pixels are `finer` times."""
    import numpy as np

    curves = [
        np.interp(CURVE_CYCLES_PER_PX, edge.response.cycles_per_px / finer, edge.response.contrast)
        for edge in edges
    ]
    return tuple(float(value) for value in np.median(curves, axis=0))


def _no_edge(luma: NDArray[np.uint8]) -> str:
    from auditor.focus.edge_finding import slant_of_strongest_deg

    slant_deg = slant_of_strongest_deg(luma)
    there = "" if slant_deg is None else f"; its strongest edge is {slant_deg:.0f} degrees off"
    return f"no slanted edge was found in it: 2 to 12 degrees off upright or level, over 128 px{there}"


def _check_inside(region: Region, shape: tuple[int, ...]) -> None:
    top, bottom, left, right = region
    if bottom > shape[0] or right > shape[1]:
        raise ValueError(
            f"region {left},{top},{right - left},{bottom - top} reaches outside the picture, which is "
            f"{shape[1]} x {shape[0]} px"
        )


def _half_contrast(edges: Sequence[MeasuredEdge], follows: str, finer: float) -> float | None:
    """Cycles per px of the sensor at half contrast, the middle one of edges along columns or rows."""
    frequencies = [
        edge.response.mtf50 / finer
        for edge in edges
        if edge.response.follows == follows and edge.response.mtf50
    ]
    if not frequencies:
        return None
    # Something else with an edge may be in the picture: the target is what is sharpest.
    return median(value for value in frequencies if value * (1 + CLOSE_SPREAD) >= max(frequencies))


def _kit(facts: FrameFacts) -> BenchKit:
    if facts.f_number is None:
        raise ValueError(_unknown("the f-number"))
    if facts.focal_length_mm is None:
        raise ValueError(_unknown("the focal length"))
    if facts.pixel_pitch_um is None:
        raise ValueError(_unknown("the size of a pixel"))
    if facts.converter_factor is None:
        raise ValueError("whether a converter was on cannot be told from it")
    return BenchKit(
        name=facts.kit_name,
        body=(facts.body_make or "", facts.body_model or "", facts.body_serial or ""),
        lens_name=facts.lens_name or "unknown lens",
        converter_factor=facts.converter_factor,
        focal_length_mm=facts.focal_length_mm,
        f_number=facts.f_number,
        pixel_pitch_um=facts.pixel_pitch_um,
    )


def _unknown(what: str) -> str:
    return f"{what} is not known, so what it resolves cannot be put in angles"
