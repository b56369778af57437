"""What kits resolve, from photographs of a slanted edge: each converter against cropping the bare frame."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, replace
from enum import StrEnum
from math import exp, log
from pathlib import Path
from statistics import fmean, median, stdev
from typing import TYPE_CHECKING

from auditor.frames.kit_names import short_names
from auditor.planning.bench_shots import BenchKit, NoShot, Shot, measured_shot
from auditor.records import KitIdentity, KnownKit
from auditor.store.bench import BenchResult

if TYPE_CHECKING:
    from auditor.focus.luminance import Region
    from auditor.statistics.better_shots import BetterShots


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
    for kit_shots in grouped.values():
        logs = [log(shot.cycles_per_mrad) for shot in kit_shots]
        kits.append(
            KitBench(
                kit=kit_shots[0].kit,
                shots=kit_shots,
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
