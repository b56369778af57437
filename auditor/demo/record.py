"""Earlier trips of the invented photographer: a logbook without pictures, and the truth beside it.

One trip settles little. The record that goes before it is made of what a camera writes down, so that
everything from kits to answers is worked out of it as from real frames; pixels are not there, so what
measuring would have read in them is invented. Trips lie five weeks apart, the last one five weeks before the
invented trip.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, time, timedelta
from pathlib import Path
from random import Random

from auditor import __version__
from auditor.demo.gear import FULL_KITS, Kit
from auditor.demo.invented_readings import SPREAD_BY_ANIMAL, invented_reading
from auditor.demo.metadata import marked_f_number
from auditor.demo.scenario import FIRST_DAY
from auditor.derive.rebuild import rebuild
from auditor.errors import OutputError
from auditor.records import FileReading, FoundFile, Recorded
from auditor.settings import Settings
from auditor.store import files, readings
from auditor.store.logbook import Logbook, open_logbook
from auditor.words import CameraWord, FileRole

SEED = 20260418
LOGBOOK, TRUTH = "logbook.sqlite", "truth_record.csv"
WEEKS_APART = 5
ENCOUNTERS_A_DAY, DAYS = 9, 2
LOGITS_LOST = {1.0: 0.0, 1.4: 0.2, 2.0: 1.2}
"""How much harder focus is behind each converter, all else alike."""
USED = {1.0: 0.5, 1.4: 0.25, 2.0: 0.25}
BOTH_SHARE = 0.3
"""Share of the encounters in which a converter was tried as well."""
ANIMALS = ("wader", "tern", "heron", "otter")
LAST_NUMBER = 9999


@dataclass(frozen=True, slots=True)
class RecordWritten:
    """What was written."""

    logbook: Path
    frames: int
    losses: dict[float, float]
    """Hits that each converter truly costs, as a share, by factor."""


@dataclass(frozen=True, slots=True)
class _Met:
    """One animal in one light."""

    begins: datetime
    light_ev: float
    distance_m: float
    animal: str
    ease: float
    """Logits of a hit with the bare lens."""
    reads: float
    """Logarithm of what its texture adds to every reading of blur."""

    def chance(self, factor: float) -> float:
        return 1 / (1 + math.exp(LOGITS_LOST[factor] - self.ease))


@dataclass(frozen=True, slots=True)
class _Shot:
    """One frame, and what is true of it."""

    read: FileReading
    animal: _Met
    kit: Kit
    hit: bool


def write_record(folder: Path, trips: int, *, seed: int = SEED) -> RecordWritten:
    """Write the logbook of so many earlier trips, and the true losses beside it; the same seed, the same.

    Raises
    ------
    OutputError
        for a folder that holds one already.
    """
    path = folder / LOGBOOK
    if path.exists():
        raise OutputError(f"{path}: is there already. Name another folder.")
    folder.mkdir(parents=True, exist_ok=True)
    met: list[_Met] = []
    shots = list(_shots(Random(seed), trips, met))
    with open_logbook(path, create=True) as logbook:
        with logbook.writing():
            ids = files.store_readings(
                logbook, [shot.read for shot in shots], volume="invented", still_there=lambda _path: False
            )
            _measure(logbook, shots, Random(seed))
            files.mark_gone(logbook, ids)
        rebuild(logbook, Settings())
    losses = {
        factor: sum(animal.chance(1.0) - animal.chance(factor) for animal in met) / len(met)
        for factor in LOGITS_LOST
    }
    (folder / TRUTH).write_text(_truth(losses), encoding="utf-8", newline="\n")
    return RecordWritten(path, len(shots), losses)


def _measure(logbook: Logbook, shots: list[_Shot], chance: Random) -> None:
    """Keep what measuring would have read in each frame."""
    shot_by_fingerprint = {shot.read.fingerprint: shot for shot in shots}
    measured = []
    for frame in readings.waiting(logbook, version="", auditor_version=__version__):
        shot = shot_by_fingerprint[frame.fingerprint]
        measured.append(
            invented_reading(chance, frame, shot.kit, hit=shot.hit, animal_reads=shot.animal.reads)
        )
    readings.write(logbook, measured)


def _shots(chance: Random, trips: int, met: list[_Met]) -> Iterator[_Shot]:
    number = 1
    for trip in range(trips):
        first_day = FIRST_DAY - timedelta(weeks=WEEKS_APART * (trips - trip))
        for place in range(DAYS * ENCOUNTERS_A_DAY):
            day, turn = divmod(place, ENCOUNTERS_A_DAY)
            hour = 6 + 12 * (turn + 0.5 * chance.random()) / ENCOUNTERS_A_DAY
            begins = datetime.combine(first_day + timedelta(days=day), time()) + timedelta(hours=hour)
            met.append(_animal(chance, begins, hour))
            for turn_of_kit, kit in enumerate(_kits(chance, met[-1])):
                begins_at = begins + timedelta(seconds=60 * turn_of_kit)
                for shot in range(3 + int(chance.expovariate(1 / 5))):
                    at = begins_at + timedelta(seconds=0.2 * (shot % 12) + 20 * (shot // 12))
                    yield _shot(chance, met[-1], kit, at, number)
                    number = number % LAST_NUMBER + 1


def _animal(chance: Random, begins: datetime, hour: float) -> _Met:
    light_ev = 13 - 0.12 * (hour - 12) ** 2 + chance.gauss(0, 0.7)
    doublings = chance.gauss(0, 0.7)
    ease = 1.0 + 0.25 * (light_ev - 11) - 0.5 * doublings + chance.gauss(0, 0.9)
    distance_m, animal = 60 * 2**doublings, chance.choice(ANIMALS)
    # Of its own dice, so that all else stays as it was drawn.
    reads = Random(f"{begins}").gauss(0, SPREAD_BY_ANIMAL)
    return _Met(begins, light_ev, distance_m, animal, ease, reads)


def _kits(chance: Random, met: _Met) -> list[Kit]:
    """The kits of an encounter: converters rather for what is far."""
    far = math.log2(met.distance_m / 60)
    weights = [USED[kit.factor] * (1.0 if kit.factor == 1 else math.exp(0.5 * far)) for kit in FULL_KITS]
    chosen = chance.choices(FULL_KITS, weights)
    if chance.random() < BOTH_SHARE:
        others = FULL_KITS[1:] if chosen[0].factor == 1 else FULL_KITS[:1]
        chosen.append(chance.choice(others))
    return chosen


def _shot(chance: Random, met: _Met, kit: Kit, at: datetime, number: int) -> _Shot:
    hit = chance.random() < met.chance(kit.factor)
    f_number, exposure_time_s = marked_f_number(kit.widest), 1 / 1000 if met.light_ev > 9.5 else 1 / 250
    stops = 2 * math.log2(f_number) - math.log2(exposure_time_s) - met.light_ev
    iso = 100 * 2 ** (round(3 * min(max(stops, 0), 8)) / 3)
    name = f"{kit.body.prefix}{number:04d}.JPG"
    day = at.date().isoformat()
    recorded = Recorded(
        taken_at=at.isoformat(timespec="milliseconds")[:-1],
        utc_offset=kit.body.utc_offset,
        utc_offset_source="offset_time_original",
        body_make="Saltmark",
        body_model=kit.body.model,
        body_serial=kit.body.serial,
        lens_name=kit.written_lens_name,
        lens_short_mm=kit.lens.focal_length_mm,
        lens_long_mm=kit.lens.focal_length_mm,
        lens_widest_at_short=marked_f_number(kit.lens.widest),
        lens_widest_at_long=marked_f_number(kit.lens.widest),
        focal_length_mm=kit.focal_length_mm,
        focal_length_35mm_mm=round(kit.focal_length_mm * kit.body.crop_factor),
        pixel_pitch_um=kit.body.pixel_pitch_um,
        f_number=f_number,
        widest_f_number=f_number,
        iso=iso,
        auto_iso=True,
        exposure_time_s=exposure_time_s,
        exposure_bias_ev=0.0,
        exposure_program=4,
        exposure_mode=0,
        flash_fired=False,
        focus_mode="continuous",
        area_mode="tracking",
        drive_mode="burst",
        camera_word=CameraWord.CONFIRMED if hit else CameraWord.NOT_CONFIRMED,
        focus_distance_m=round(met.distance_m, 1),
        converter_factor=kit.factor if kit.body.writes_converter else None,
        keywords=(met.animal,),
        file_number=number,
    )
    file = FoundFile(f"/invented record/{day}/{name}", FileRole.JPEG, 0, f"{day}T00:00:00.000000")
    read = FileReading(found=file, fingerprint=f"invented:{day}:{number}", recorded=recorded)
    return _Shot(read, met, kit, hit)


def _finer(kit: Kit) -> float:
    """How much finer a kit truly resolves than its lens bare, as a share; negative where coarser."""
    bare = Kit(body=kit.body, lens=kit.lens)
    return 1 - kit.system_sigma_px / kit.factor / bare.system_sigma_px


def _truth(losses: dict[float, float]) -> str:
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(("converter_factor", "hits_lost_of_100", "detail_finer_percent"))
    rows.writerows(
        (f"{kit.factor:g}", f"{100 * losses[kit.factor]:.1f}", f"{100 * _finer(kit):.1f}")
        for kit in FULL_KITS
    )
    return text.getvalue()
