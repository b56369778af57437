"""What kits resolve, from photographs of a slanted edge: each converter against cropping the bare frame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from math import exp, log
from pathlib import Path
from statistics import fmean, median, stdev
from typing import TYPE_CHECKING

from auditor.errors import UnreadableFileError
from auditor.frames.inspection import facts_of_file
from auditor.frames.kit_names import short_names
from auditor.records import KitIdentity, KnownKit
from auditor.store.bench import BenchResult
from auditor.store.frame_facts import FrameFacts

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from auditor.focus.edge_finding import MeasuredEdge
    from auditor.focus.luminance import Region
    from auditor.statistics.better_shots import BetterShots

CURVE_CYCLES_PER_PX = (0.05, 0.1, 0.15, 0.2, 0.25, 0.3, 0.35, 0.4, 0.45, 0.5)
"""Where the curve of contrast is told, up to the highest frequency that pixels record."""
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


@dataclass(frozen=True, slots=True, kw_only=True)
class KitBench:
    """The shots of one kit."""

    kit: BenchKit
    shots: list[Shot]
    cycles_per_mrad: float
    """Mean of its better shots."""
    repeatability: float | None
    """Standard deviation from shot to shot, as a share: how surely it refocuses; None for one shot."""
    focus_shift: float | None
    """Share by which the middle shot falls short of the better ones: what refocusing costs; None for one."""


class BenchWord(StrEnum):
    """What a bench says of a converter."""

    RESOLVES_MORE = "resolves_more"
    """It shows more of the subject than a crop of the bare frame, beyond the spread from shot to shot."""
    RESOLVES_LESS = "resolves_less"
    """It shows less."""
    NO_DIFFERENCE = "no_difference"
    """The spread from shot to shot leaves both open."""
    TOO_FEW_SHOTS = "too_few_shots"
    """Fewer than four shots of either kit."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BenchComparison:
    """A kit with a converter against the same body and lens bare."""

    kit: BenchKit
    bare: BenchKit
    word: BenchWord
    gain: BetterShots | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """All that photographs of a target say."""

    kits: list[KitBench]
    comparisons: list[BenchComparison]
    failures: list[tuple[str, str]]
    """(path, reason) of photographs that could not be used."""
    developed_alike: bool
    """Whether all shots came out of one kind of file."""


def bench(paths: Iterable[Path], region: Region | None = None) -> Bench:
    """Measure photographs of a slanted edge and compare the kits that took them.

    Parameters
    ----------
    paths
        Photographs, of any kits.
    region
        (first row, row after the last, first column, column after the last) of the upright picture, px, where
        the edge is; None to look for it.

    Returns
    -------
    Bench
        Each kit with what it resolves, each converter against the bare lens, and files that could not be
        used.
    """
    return summed_up(measured_shot(path, region) for path in paths)


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


def summed_up(results: Iterable[Shot | NoShot]) -> Bench:
    """What photographs of a target say together.

    Parameters
    ----------
    results
        One a photograph.

    Returns
    -------
    Bench
        Each kit, and each converter against the bare lens.
    """
    shots: list[Shot] = []
    failures: list[tuple[str, str]] = []
    for result in results:
        if isinstance(result, Shot):
            shots.append(result)
        else:
            failures.append((result.path, result.reason))
    kits = _by_kit(_named(shots))
    return Bench(
        kits=kits,
        comparisons=_comparisons(kits),
        failures=failures,
        developed_alike=len({shot.developed for shot in shots}) <= 1,
    )


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
    import numpy as np

    from auditor.focus.edge_finding import find_edges, measure_edge
    from auditor.readers.frame import found_file, read_file
    from auditor.readers.pixels import decode

    facts = facts_of_file(path)
    kit = _kit(facts)
    # The way up is no column of the frame table: it is asked for by itself.
    orientation = read_file(found_file(path)).recorded.orientation
    pixels = decode(str(path), orientation=orientation, raw_width_px=facts.width_px)
    if region is not None:
        _inside(region, pixels.luma.shape)
    regions = [region] if region else find_edges(pixels.luma)
    edges, why = [], "" if regions else _no_edge(pixels.luma)
    for place in regions:
        try:
            edges.append(measure_edge(pixels.luma, place))
        except ValueError as error:
            why = str(error)
    edges = [edge for edge in edges if edge.response.mtf50]
    if not edges:
        raise ValueError(why)
    # A smaller preview has larger pixels: frequencies are told for those of the sensor.
    scale = max(facts.width_px or 0, facts.height_px or 0) / max(pixels.luma.shape)
    scale = scale if scale > 0 else 1.0
    across, down = (_middle(edges, follows, scale) for follows in ("columns", "rows"))
    curves = [
        np.interp(CURVE_CYCLES_PER_PX, edge.response.cycles_per_px / scale, edge.response.contrast)
        for edge in edges
    ]
    tenths = [edge.response.mtf10 / scale for edge in edges if edge.response.mtf10]
    return Shot(
        path=str(path),
        kit=kit,
        across_mtf50=across,
        down_mtf50=down,
        mtf10=median(tenths) if tenths else None,
        contrast=tuple(float(value) for value in np.median(curves, axis=0)),
        angle_deg=median(edge.response.angle_deg for edge in edges),
        noise_share=median(edge.noise / edge.step for edge in edges),
        developed=pixels.source,
        warnings=tuple(sorted({word for edge in edges for word in edge.warnings})),
    )


def _no_edge(luma: NDArray[np.uint8]) -> str:
    from auditor.focus.edge_finding import slant_of_strongest_deg

    slant_deg = slant_of_strongest_deg(luma)
    there = "" if slant_deg is None else f"; its strongest edge is {slant_deg:.0f} degrees off"
    return f"no slanted edge was found in it: 2 to 12 degrees off upright or level, over 128 px{there}"


def _inside(region: Region, shape: tuple[int, ...]) -> None:
    top, bottom, left, right = region
    if bottom > shape[0] or right > shape[1]:
        raise ValueError(
            f"region {left},{top},{right - left},{bottom - top} reaches out of the picture, which is "
            f"{shape[1]} x {shape[0]} px"
        )


def _middle(edges: Sequence[MeasuredEdge], follows: str, scale: float) -> float | None:
    frequencies = [
        edge.response.mtf50 / scale
        for edge in edges
        if edge.response.follows == follows and edge.response.mtf50
    ]
    if frequencies and max(frequencies) > (1 + CLOSE_SPREAD) * min(frequencies):
        # Something else with an edge is in the picture: the target is what is sharpest.
        frequencies = [value for value in frequencies if value * (1 + CLOSE_SPREAD) >= max(frequencies)]
    return median(frequencies) if frequencies else None


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


def _named(shots: Sequence[Shot]) -> list[Shot]:
    """With short names by which the kits of this bench are told apart."""
    numbers: dict[KitIdentity, int] = {}
    for shot in shots:
        numbers.setdefault(_identity(shot.kit), len(numbers) + 1)
    names = short_names(
        KnownKit(kit_id=number, kit_name="", **asdict(kit)) for kit, number in numbers.items()
    )
    return [replace(shot, kit=replace(shot.kit, name=names[numbers[_identity(shot.kit)]])) for shot in shots]


def _identity(kit: BenchKit) -> KitIdentity:
    make, model, serial = (part or None for part in kit.body)
    return KitIdentity(
        body_make=make, body_model=model, body_serial=serial, lens_name=kit.lens_name,
        converter_factor=kit.converter_factor,
    )  # fmt: skip


def _by_kit(shots: Sequence[Shot]) -> list[KitBench]:
    from auditor.statistics.better_shots import better

    # By serial number too: two bodies of one model have the same name.
    grouped: dict[tuple[object, ...], list[Shot]] = {}
    for shot in shots:
        kit = shot.kit
        grouped.setdefault((kit.body, kit.lens_name, kit.converter_factor), []).append(shot)
    kits = []
    for own in grouped.values():
        logs = [log(shot.cycles_per_mrad) for shot in own]
        kits.append(
            KitBench(
                kit=own[0].kit,
                shots=own,
                cycles_per_mrad=exp(fmean(better(logs))) if len(logs) > 1 else exp(logs[0]),
                repeatability=stdev(logs) if len(logs) > 1 else None,
                focus_shift=1 - exp(median(logs) - fmean(better(logs))) if len(logs) > 1 else None,
            )
        )
    return sorted(kits, key=lambda kit: (kit.kit.body, kit.kit.lens_name, kit.kit.converter_factor))


def results(bench: Bench) -> list[BenchResult]:
    """What the logbook keeps of a bench.

    Parameters
    ----------
    bench
        As measured.

    Returns
    -------
    list[BenchResult]
        One a kit.
    """
    return [
        BenchResult(
            body_make=kit.kit.body[0],
            body_model=kit.kit.body[1],
            body_serial=kit.kit.body[2],
            lens_name=kit.kit.lens_name,
            converter_factor=kit.kit.converter_factor,
            focal_length_mm=kit.kit.focal_length_mm,
            f_number=kit.kit.f_number,
            pixel_pitch_um=kit.kit.pixel_pitch_um,
            shots=len(kit.shots),
            cycles_per_mrad=kit.cycles_per_mrad,
            repeatability=kit.repeatability,
        )
        for kit in bench.kits
    ]


def _comparisons(kits: Sequence[KitBench]) -> list[BenchComparison]:
    rows = []
    for with_it in kits:
        for bare in kits:
            same = (with_it.kit.body, with_it.kit.lens_name) == (bare.kit.body, bare.kit.lens_name)
            if same and with_it.kit.converter_factor > 1 and bare.kit.converter_factor == 1:
                rows.append(_comparison(with_it, bare))
    return rows


def _comparison(with_it: KitBench, bare: KitBench) -> BenchComparison:
    from auditor.statistics.better_shots import FEWEST_SHOTS, compare_better_shots

    if min(len(with_it.shots), len(bare.shots)) < FEWEST_SHOTS:
        return BenchComparison(kit=with_it.kit, bare=bare.kit, word=BenchWord.TOO_FEW_SHOTS, gain=None)
    gain = compare_better_shots(
        [shot.cycles_per_mrad for shot in with_it.shots], [shot.cycles_per_mrad for shot in bare.shots]
    )
    word = BenchWord.NO_DIFFERENCE
    if gain.low > 0:
        word = BenchWord.RESOLVES_MORE
    elif gain.high < 0:
        word = BenchWord.RESOLVES_LESS
    return BenchComparison(kit=with_it.kit, bare=bare.kit, word=word, gain=gain)
