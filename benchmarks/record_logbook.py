"""A simulated record as cameras would have written it, stored and rebuilt as real frames are.

What `simulated_records` draws becomes frames with times, exposures, distances, file numbers and the camera's
word on focus; and, where that is asked for, what measuring would have read in their pixels, with the camera
wrong at times. All else, such as light, encounters, sittings, trips, verdicts and gaps in the numbers, is
worked out of those."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from statistics import NormalDist

import numpy as np

from auditor.derive.rebuild import rebuild
from auditor.focus.sharpness import CAMERA_BLUR_PX
from auditor.optics.sensor import FULL_FRAME_DIAGONAL_MM, criterion_sigma_px
from auditor.records import FileReading, FoundFile, Recorded
from auditor.settings import Settings
from auditor.store import files, readings
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.readings import Reading
from auditor.words import BlurKind, CameraWord, FileRole, PictureSource
from benchmarks.simulated_records import Record

FIRST_DAY = datetime(2022, 1, 3)
DAYS_BETWEEN_TRIPS = 25
SITTING_HOURS = (6.0, 10.5, 15.0)
"""When sittings of a day begin; more of them lie on further days."""
MINUTES_A_FRAME = 0.04
MINUTES_APART = 14.0
"""Between the end of an encounter and the next one of its sitting."""
LAST_NUMBER = 9999
BARE_MM = 400.0
PITCH_UM = 4.3
CAMERA_RIGHT = 0.85
"""How often the camera's word is right where pixels are measured, too."""
BLUR_OF_HITS, BLUR_OF_MISSES = 1.0, 0.9
"""Spread of the logarithm of blur from the limit on, to either side: near it lie hits and misses."""
READING_SPREAD = 0.15
"""Of the logarithm of what is read; the reading states it rightly. 15 of 100 frames are near the limit."""


def write_logbook(
    path: Path,
    record: Record,
    chance: np.random.Generator,
    *,
    auto_iso_said: bool,
    measured: bool = False,
) -> int:
    """Write the record's logbook and work out all that follows; returns the number of frames.

    Parameters
    ----------
    auto_iso_said
        Whether the camera writes that ISO was left to it; exposure is set by hand where it does not.
    measured
        Whether the pixels of the frames were measured; else only the camera tells, and is always right.
    """
    files_read = list(_readings(record, chance, auto_iso_said))
    hits = [reading.recorded.camera_word == CameraWord.CONFIRMED for reading in files_read]
    if measured:
        files_read = [_doubtful(reading, chance) for reading in files_read]
    with open_logbook(path, create=True) as logbook:
        with logbook.writing():
            numbers = files.store_readings(
                logbook, files_read, volume="simulated", still_there=lambda _path: False
            )
            if measured:
                _measure(logbook, files_read, hits, chance)
            files.mark_gone(logbook, numbers)
        rebuild(logbook, Settings())
    return len(files_read)


def _doubtful(reading: FileReading, chance: np.random.Generator) -> FileReading:
    """A frame of a body whose word is wrong at times, with what the criterion needs."""
    word = reading.recorded.camera_word
    if chance.random() > CAMERA_RIGHT:
        word = CameraWord.NOT_CONFIRMED if word == CameraWord.CONFIRMED else CameraWord.CONFIRMED
    focal_mm = reading.recorded.focal_length_mm
    known = replace(
        reading.recorded, camera_word=word, pixel_pitch_um=PITCH_UM, focal_length_35mm_mm=focal_mm
    )
    return replace(reading, recorded=known)


def _measure(
    logbook: Logbook, files_read: list[FileReading], hits: list[bool], chance: np.random.Generator
) -> None:
    """Keep what measuring would have read: blur under the limit on the subject for hits, over it else."""
    limit_px = criterion_sigma_px(FULL_FRAME_DIAGONAL_MM, PITCH_UM)
    reach = READING_SPREAD * NormalDist().inv_cdf(0.95)
    facts = {one.fingerprint: (hit, one.recorded) for one, hit in zip(files_read, hits, strict=True)}
    measured = []
    for frame in readings.waiting(logbook, version="", auditor_version=""):
        hit, recorded = facts[frame.fingerprint]
        off = -BLUR_OF_HITS if hit else BLUR_OF_MISSES
        blur = (
            np.log(limit_px * (recorded.converter_factor or 1.0))
            + off * abs(chance.normal())
            + READING_SPREAD * chance.normal()
        )
        sigma_px = float(np.exp(blur))
        measured.append(
            Reading(
                frame_id=frame.frame_id,
                measured_on=PictureSource.JPEG,
                reading_version="simulated",
                fingerprint=frame.fingerprint,
                scale=1.0,
                region={"x": 0.5, "y": 0.5, "width": 0.1, "height": 0.15},
                sigma_px=sigma_px,
                sigma_low_px=float(np.exp(blur - reach)),
                sigma_high_px=float(np.exp(blur + reach)),
                system_sigma_px=float(np.hypot(sigma_px, CAMERA_BLUR_PX)),
                noise=1.0,
                texture=0.8,
                kind=BlurKind.SHARP if hit else BlurKind.SOFT,
            )
        )
    readings.write(logbook, measured)


def _readings(record: Record, chance: np.random.Generator, auto_iso_said: bool) -> Iterator[FileReading]:
    number = 1
    at, sitting, encounter, of_trip = FIRST_DAY, -1, -1, 0
    for row in range(len(record.trip)):
        if record.sitting[row] != sitting:
            of_trip = 0 if row == 0 or record.trip[row] != record.trip[row - 1] else of_trip + 1
            day, turn = divmod(of_trip, len(SITTING_HOURS))
            begins = FIRST_DAY + timedelta(
                days=DAYS_BETWEEN_TRIPS * int(record.trip[row]) + day, hours=SITTING_HOURS[turn]
            )
            at = max(begins, at + timedelta(hours=2.5)) if row else begins
        elif record.encounter[row] != encounter:
            at += timedelta(minutes=MINUTES_APART)
        else:
            at += timedelta(minutes=1)
        sitting, encounter = int(record.sitting[row]), int(record.encounter[row])
        frames, gone = int(record.frames[row]), int(record.deleted[row])
        hits = chance.permutation(np.arange(frames) < record.hits[row])
        # Those that were deleted lay anywhere among the others.
        kept = np.sort(chance.permutation(frames + gone)[:frames])
        for shot in range(frames):
            place = (number + int(kept[shot]) - 1) % LAST_NUMBER + 1
            yield _reading(record, row, bool(hits[shot]), at, place, chance, auto_iso_said)
            at += timedelta(minutes=MINUTES_A_FRAME)
        number += frames + gone


def _reading(
    record: Record,
    row: int,
    hit: bool,
    at: datetime,
    number: int,
    chance: np.random.Generator,
    auto_iso_said: bool,
) -> FileReading:
    factor = 2.0 if record.treated[row] else 1.0
    light_ev = float(record.light_ev[row] + chance.normal(0, 0.1))
    f_number, exposure_time_s = 4.0 * factor, 1 / 1000
    stops = 2 * np.log2(f_number) - np.log2(exposure_time_s) - light_ev
    distance = record.distance_log2[row]
    recorded = Recorded(
        taken_at=at.isoformat(timespec="milliseconds")[:-1],
        body_make="Saltmark",
        body_model="Saltmark F2",
        body_serial="F2",
        lens_name="Saltmark 400mm f/4",
        lens_short_mm=BARE_MM,
        lens_long_mm=BARE_MM,
        lens_widest_at_short=4.0,
        lens_widest_at_long=4.0,
        focal_length_mm=BARE_MM * factor,
        f_number=f_number,
        widest_f_number=f_number,
        iso=round(100 * 2 ** (round(3 * max(float(stops), -1.0)) / 3), 1),
        auto_iso=True if auto_iso_said else None,
        exposure_time_s=exposure_time_s,
        exposure_bias_ev=0.0,
        exposure_program=1,
        exposure_mode=1,
        flash_fired=False,
        focus_mode="continuous",
        area_mode="tracking",
        drive_mode="burst",
        camera_word=CameraWord.CONFIRMED if hit else CameraWord.NOT_CONFIRMED,
        focus_distance_m=None if np.isnan(distance) else float(2**distance),
        converter_factor=factor,
        file_number=number,
    )
    day = at.date().isoformat()
    name = f"/simulated/{day}/S_{at:%H%M%S%f}_{number:04d}.JPG"
    found = FoundFile(name, FileRole.JPEG, 0, f"{day}T00:00:00.000000")
    return FileReading(found=found, fingerprint=name, recorded=recorded)
