"""The invented trip: spring tides on an estuary, two bodies, and whatever came by.

Days run from first light to dusk. Light rises and falls, clouds come over at midday, and the
converters go on more often for what is far away, as they do.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from math import ceil
from random import Random

from auditor.demo.gear import FULL_KITS, SMALL_KITS, Kit

FIRST_DAY = date(2026, 4, 18)
DAYS = 2
MOST_ENCOUNTERS_A_DAY = 60
"""Longer trips have more of them a day first, then more days."""
FRAMES_AN_ENCOUNTER = 6.0
"""About; the number of encounters follows from it."""

# (hour, EV at ISO 100): dawn, morning, bright, cloud, sun again, dusk.
_LIGHT = (
    (5.7, 7.0),
    (6.5, 9.5),
    (8.5, 12.5),
    (11.0, 14.2),
    (13.0, 12.0),
    (15.5, 13.5),
    (18.5, 12.0),
    (20.4, 7.8),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Animal:
    """What was photographed."""

    name: str
    keyword: str
    length_mm: float
    exposure_time_s: float
    """The shutter speed that its movement asks for."""
    flies: bool = False


WADER = Animal(name="wader", keyword="wader", length_mm=260, exposure_time_s=1 / 1000)
TERN = Animal(name="tern", keyword="tern", length_mm=360, exposure_time_s=1 / 2000, flies=True)
HERON = Animal(name="heron", keyword="heron", length_mm=520, exposure_time_s=1 / 800)
OTTER = Animal(name="otter", keyword="otter", length_mm=450, exposure_time_s=1 / 800)
_ANIMALS = (WADER, TERN, HERON, WADER, OTTER, TERN, WADER, HERON)


@dataclass(frozen=True, slots=True, kw_only=True)
class Encounter:
    """One animal in one light, and the kits that were on it."""

    number: int
    starts_at: datetime
    animal: Animal
    light_ev: float
    kits: tuple[Kit, ...]
    distance_m: float
    luck: float
    """What all its frames share in focusing, from -1 (hard) to 1 (easy)."""
    exposed_by_hand: bool = False
    flash: bool = False
    focused_by_hand: bool = False
    upright: bool = False
    """Taken with the camera turned on its side."""


def encounters(frames: int, random: Random, first_day: date = FIRST_DAY) -> list[Encounter]:
    """Encounters for about so many frames, in order of time."""
    count = max(1, round(frames / FRAMES_AN_ENCOUNTER))
    days = max(DAYS, ceil(count / MOST_ENCOUNTERS_A_DAY))
    invented = []
    for number in range(count):
        day, place = divmod(number * days, count)
        hour = 5.8 + 14.4 * (place / count) + random.uniform(-0.1, 0.1)
        starts_at = datetime.combine(first_day, time()) + timedelta(days=day, hours=hour)
        invented.append(_encounter(number, starts_at, hour, random))
    return invented


def light_at(hour: float) -> float:
    """The estuary's light at a time of day, in EV at ISO 100."""
    hour = min(max(hour, _LIGHT[0][0]), _LIGHT[-1][0])
    for (before, low_ev), (after, high_ev) in pairwise(_LIGHT):
        if hour <= after:
            return low_ev + (high_ev - low_ev) * (hour - before) / (after - before)
    return _LIGHT[-1][1]


def _encounter(number: int, starts_at: datetime, hour: float, random: Random) -> Encounter:
    animal = _ANIMALS[number % len(_ANIMALS)]
    full, small = FULL_KITS[number % 3], SMALL_KITS[(number // 2) % 3]
    both = number % 5 in (0, 2, 3)
    kits = (full, small) if both else ((full,) if number % 2 else (small,))
    longest = max(kits, key=lambda kit: kit.focal_length_mm / kit.body.pixel_pitch_um)
    # The animal fills about as much of the picture whatever is mounted: longer kits are for farther animals.
    length_px = random.uniform(230, 330)
    scale = longest.focal_length_mm / (longest.body.pixel_pitch_um / 1000)
    distance_m = animal.length_mm * scale / length_px / 1000
    return Encounter(
        number=number + 1,
        starts_at=starts_at,
        animal=animal,
        light_ev=light_at(hour) + random.uniform(-0.3, 0.3),
        kits=kits,
        distance_m=distance_m,
        luck=random.uniform(-1, 1),
        exposed_by_hand=number % 11 == 6,
        flash=number == 10,
        focused_by_hand=number % 13 == 8,
        upright=number % 9 == 4,
    )
