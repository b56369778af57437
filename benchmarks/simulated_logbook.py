"""A logbook of invented frames, written straight into its tables: for tests of what is made of verdicts.

Two bodies, one of them with a smaller sensor; each with its lens bare, behind 1.4x and behind 2x.
Encounters share light, animal, distance and luck; in some of them both kits of a body are used, or both
bodies."""

from __future__ import annotations

import json
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np

from auditor.derive.freshness import facts_stamp, groups_stamp
from auditor.settings import Settings
from auditor.store.logbook import Logbook, open_logbook

FACTS_STAMP, GROUPS_STAMP = facts_stamp(Settings()), groups_stamp(Settings())
"""As if rebuilt already, with the default settings: these frames hold too little to be rebuilt from."""
FIRST_DAY = datetime(2025, 3, 1, 6)
ANIMALS = ("heron", "otter", "tern", "wader")


@dataclass(frozen=True, slots=True)
class Kit:
    """A kit as it is simulated."""

    body: str
    lens: str
    factor: float
    focal_length_mm: float
    widest: float
    crop: float
    pitch_um: float
    fall_logit: float = 0.0
    """How much worse it hits, all else alike."""
    gain: float = 0.0
    """How much finer its whole blur is as an angle; 0 is as the bare lens."""


KITS = (
    Kit("Saltmark F2", "Saltmark 400mm f/4", 1.0, 400, 4.0, 1.0, 6.0),
    Kit("Saltmark F2", "Saltmark 400mm f/4", 1.4, 560, 4.0, 1.0, 6.0),
    Kit("Saltmark F2", "Saltmark 400mm f/4", 2.0, 800, 4.0, 1.0, 6.0, fall_logit=1.0),
    Kit("Saltmark S2", "Saltmark 360mm f/4", 1.0, 360, 4.0, 1.5, 3.9),
    Kit("Saltmark S2", "Saltmark 360mm f/4", 1.4, 504, 4.0, 1.5, 3.9, gain=0.2),
    Kit("Saltmark S2", "Saltmark 360mm f/4", 2.0, 720, 4.0, 1.5, 3.9),
)


@dataclass(frozen=True, slots=True)
class Trip:
    """What is simulated, and what is put in on purpose."""

    encounters: int
    mean_frames: float = 8.0
    kits: tuple[Kit, ...] = KITS
    deleted_misses: dict[float, float] = field(default_factory=dict)
    """Converter factor -> share of its misses that are deleted in camera."""
    confounded: float = 0.6
    """How much more often, in logits an EV, converters are mounted in low light."""
    seed: int = 1


def write(path: Path, trip: Trip) -> int:
    """Write the logbook; returns the number of frames."""
    chance = np.random.default_rng(trip.seed)
    with open_logbook(path, create=True) as logbook, logbook.writing():
        for kit_id, kit in enumerate(trip.kits, 1):
            logbook.execute(
                "INSERT INTO kits VALUES (?, ?, ?, 'Saltmark', ?, ?, ?, ?)",
                (kit_id, str(kit_id), _name(kit), kit.body, f"0{kit.body[-2:]}", kit.lens, kit.factor),
            )
        rows: dict[str, list[tuple[Any, ...]]] = {name: [] for name in _INSERT}
        frame_id = 0
        numbers = {kit.body: 1 for kit in trip.kits}
        for encounter in range(trip.encounters):
            frame_id = _encounter(trip, chance, encounter, frame_id, numbers, rows)
            if len(rows["frames"]) > 20_000:
                _flush(logbook, rows)
        _flush(logbook, rows)
        logbook.execute(
            "INSERT INTO trips SELECT trip_id, 'trip ' || trip_id, min(taken_at), max(taken_at), "
            "count(*), ? "
            "FROM membership JOIN inferred USING (frame_id) GROUP BY trip_id",
            (GROUPS_STAMP,),
        )
    return frame_id


_INSERT = {
    "frames": (
        "INSERT INTO frames (frame_id, exposure_key, taken_at, body_make, body_model, body_serial, iso, "
        "exposure_time_s, camera_word, area_mode, drive_mode, focus_distance_m, keywords, file_number) "
        "VALUES (?, ?, ?, 'Saltmark', ?, ?, ?, ?, 'silent', 'tracking', 'burst', ?, ?, ?)"
    ),
    "inferred": (
        "INSERT INTO inferred (frame_id, taken_at, kit_id, lens_name, focal_length_mm, light_value_ev, "
        "converter_factor, converter_source, lens_widest_f_number, crop_factor, pixel_pitch_um, "
        "forced_push_ev, "
        "iso_without_converter, excluded, flags, missing, stamp) "
        "VALUES (?, ?, ?, ?, ?, ?, ?, 'maker_note', ?, ?, ?, ?, ?, 0, '[]', 0, '" + FACTS_STAMP + "')"
    ),
    "membership": "INSERT INTO membership VALUES (?, ?, ?, ?, ?, ?, 0)",
    "verdicts": "INSERT INTO verdicts VALUES (?, ?, 'pixels', ?, '" + FACTS_STAMP + "', NULL)",
    "readings": (
        "INSERT INTO readings (frame_id, measured_on, reading_version, fingerprint, scale, region, sigma_px, "
        "sigma_low_px, sigma_high_px, system_sigma_px, noise, texture, kind, flags) "
        "VALUES (?, 'jpeg', '1', 'f', 1, '{}', ?, ?, ?, ?, 2.0, 1.0, 'sharp', '[]')"
    ),
}


def _encounter(
    trip: Trip,
    chance: np.random.Generator,
    encounter: int,
    frame_id: int,
    numbers: dict[str, int],
    rows: dict[str, list[tuple[Any, ...]]],
) -> int:
    day, place = divmod(encounter, 40)
    begins = FIRST_DAY + timedelta(days=day + 5 * (day // 3), minutes=20 * place)
    trip_id = 1 + day // 3
    light = float(11 + 2.5 * chance.normal())
    luck = float(1.1 * chance.normal())
    animal = ANIMALS[int(chance.integers(len(ANIMALS)))]
    distance_m = float(np.exp(chance.normal(3.4, 0.4)))
    encounter_id = frame_id + 1
    at = begins
    for kit_id, kit in _kits_of(trip, chance, light):
        scene_id = frame_id + 1
        for position in range(1 + int(chance.negative_binomial(1.5, 1.5 / (0.5 + trip.mean_frames)))):
            logit = 0.8 + 0.35 * (light - 11) + luck - kit.fall_logit
            hit = bool(chance.random() < 1 / (1 + np.exp(-logit)))
            numbers[kit.body] = numbers[kit.body] % 9999 + 1
            focused = 12.0 * float(np.exp(0.15 * chance.normal() + 0.1 * luck)) * (1 - kit.gain)
            missed_by = 25 * float(chance.exponential())
            # Drawn for every frame, so that trips with and without deleting are alike in all else.
            if chance.random() < trip.deleted_misses.get(kit.factor, 0.0) and not hit:
                continue
            frame_id += 1
            at += timedelta(seconds=0.2)
            blur_urad = focused if hit else focused + missed_by
            _add(
                rows, kit, kit_id, frame_id, at, light, animal, distance_m, hit, blur_urad, numbers[kit.body]
            )
            burst_id = scene_id + 8 * (position // 8)
            rows["membership"].append((frame_id, burst_id, scene_id, encounter_id, trip_id, position % 8))
    return frame_id


def _kits_of(trip: Trip, chance: np.random.Generator, light: float) -> list[tuple[int, Kit]]:
    """The kits of an encounter: of one body or both, converters more often in low light."""
    bodies = sorted({kit.body for kit in trip.kits})
    used = bodies if chance.random() < 0.3 else [bodies[int(chance.integers(len(bodies)))]]
    found = []
    for body in used:
        own = [(number, kit) for number, kit in enumerate(trip.kits, 1) if kit.body == body]
        converted = [one for one in own if one[1].factor > 1]
        bare = [one for one in own if one[1].factor == 1]
        with_it = chance.random() < 1 / (1 + np.exp(trip.confounded * (light - 11)))
        first, second = (converted, bare) if with_it else (bare, converted)
        if first:
            found.append(first[int(chance.integers(len(first)))])
        if second and (not first or chance.random() < 0.2):
            found.append(second[int(chance.integers(len(second)))])
    return found


def _add(
    rows: dict[str, list[tuple[Any, ...]]],
    kit: Kit,
    kit_id: int,
    frame_id: int,
    at: datetime,
    light: float,
    animal: str,
    distance_m: float,
    hit: bool,
    blur_urad: float,
    number: int,
) -> None:
    time = at.isoformat(timespec="milliseconds")
    push = 2 * round(np.log2(kit.factor) * 2) / 2
    iso = float(round(100 * 2 ** (14.5 - light + push)))
    exposure_time_s = 1 / 1000 if light > 10 else 1 / 500
    sigma_px = blur_urad * kit.focal_length_mm / 1000 / kit.pitch_um
    verdict = "hit" if hit else "miss"
    rows["frames"].append(
        (
            frame_id, str(frame_id), time, kit.body, f"0{kit.body[-2:]}", iso, exposure_time_s, distance_m,
            json.dumps([animal]), number,
        )
    )  # fmt: skip
    rows["inferred"].append(
        (
            frame_id, time, kit_id, kit.lens, kit.focal_length_mm, light, kit.factor, kit.widest, kit.crop,
            kit.pitch_um, push, iso / 2**push,
        )
    )  # fmt: skip
    rows["verdicts"].append((frame_id, verdict, verdict))
    rows["readings"].append((frame_id, sigma_px, 0.9 * sigma_px, 1.1 * sigma_px, sigma_px))


def _flush(logbook: Logbook, rows: dict[str, list[tuple[Any, ...]]]) -> None:
    for table, sql in _INSERT.items():
        logbook.execute_many(sql, list(rows[table]))
        rows[table].clear()


def _name(kit: Kit) -> str:
    converter = "" if kit.factor == 1 else f" + {kit.factor:g}x"
    return f"{kit.body} + {kit.lens}{converter}"
