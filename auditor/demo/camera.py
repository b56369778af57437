"""How the invented cameras expose, focus and number their frames."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from math import hypot, log2
from random import Random

from auditor.demo.gear import Body, Kit
from auditor.demo.scenario import Encounter
from auditor.optics.sensor import criterion_sigma_px
from auditor.words import CameraWord

FRAMES_A_SECOND = 7.0
DELETED_SHARE = 0.06


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """One frame: what the camera wrote, and what was true."""

    path: str
    """Below the card's root."""
    kit: Kit
    encounter: Encounter
    burst: int
    shot: int
    number: int
    taken_at: datetime
    f_number: float
    """In effect, true."""
    exposure_time_s: float
    iso: int
    exposure_bias_ev: float
    light_ev: float
    camera_word: CameraWord
    kind: str
    blur_sigma_px: float
    direction_deg: float | None
    focus_x: float
    focus_y: float
    rating: int | None

    @property
    def verdict(self) -> str:
        """Hit or miss by the criterion: focus, motion and optics together, without the pixel."""
        body = self.kit.body
        limit_px = criterion_sigma_px(body.sensor_diagonal_mm, body.pixel_pitch_um)
        return "hit" if hypot(self.blur_sigma_px, self.kit.optics_sigma_px) <= limit_px else "miss"


class Card:
    """File names of one body: numbers run on, 9999 is followed by 0001, deleted frames leave gaps."""

    def __init__(self, body: Body) -> None:
        self._body = body
        self._number = body.first_number - 1
        self._folder = 100
        self.deleted = 0

    def next_frame(self) -> tuple[int, str]:
        """Number and path of the next frame."""
        self._number += 1
        if self._number > 9999:
            self._number, self._folder = 1, self._folder + 1
        name = f"{self._body.prefix}{self._number:04d}.JPG"
        return self._number, f"DCIM/{self._folder}SALT/{name}"


def take(encounter: Encounter, cards: dict[str, Card], frames: int, random: Random) -> list[Taken]:
    """The frames of one encounter that were kept, about so many, over its kits."""
    taken: list[Taken] = []
    for kit in encounter.kits:
        left = max(2, round(frames / len(encounter.kits)))
        starts_at = encounter.starts_at + timedelta(seconds=random.uniform(0, 40))
        burst = 0
        while left > 0:
            burst += 1
            length = min(left, random.randint(2, 5))
            taken += _burst(encounter, kit, cards[kit.body.model], burst, length, starts_at, random)
            left -= length
            starts_at += timedelta(seconds=random.uniform(15, 90))
    return taken


def _burst(
    encounter: Encounter,
    kit: Kit,
    card: Card,
    burst: int,
    length: int,
    starts_at: datetime,
    random: Random,
) -> list[Taken]:
    frames = []
    for shot in range(length):
        number, path = card.next_frame()
        if random.random() < DELETED_SHARE:
            card.deleted += 1
            continue
        light_ev = encounter.light_ev + random.uniform(-0.08, 0.08)
        f_number, exposure_time_s, iso, bias_ev = _exposure(encounter, kit, light_ev, burst)
        kind, sigma_px, direction_deg = _focus(encounter, kit, light_ev, random)
        frames.append(
            Taken(
                path=path,
                kit=kit,
                encounter=encounter,
                burst=burst,
                shot=shot + 1,
                number=number,
                taken_at=starts_at + timedelta(seconds=shot / FRAMES_A_SECOND),
                f_number=f_number,
                exposure_time_s=exposure_time_s,
                iso=iso,
                exposure_bias_ev=bias_ev,
                light_ev=light_ev,
                camera_word=_word(encounter, kind, random),
                kind=kind,
                blur_sigma_px=sigma_px,
                direction_deg=direction_deg,
                focus_x=round(random.uniform(0.42, 0.58), 4),
                focus_y=round(random.uniform(0.42, 0.56), 4),
                rating=random.choice((3, 4, 5)) if kind == "sharp" and random.random() < 0.2 else None,
            )
        )
    return frames


def _exposure(encounter: Encounter, kit: Kit, light_ev: float, burst: int) -> tuple[float, float, int, float]:
    """F-number (true), exposure time, ISO and bias, as a photographer in a hide would set them."""
    stopped_down_ev = 1.0 if light_ev > 13.5 and burst % 2 == 0 else 0.0
    f_number = kit.widest * 2 ** (stopped_down_ev / 2)
    # In poor light the shutter is let down, by two stops at most.
    exposure_time_s = encounter.animal.exposure_time_s * 2 ** min(2, max(0, round(11 - light_ev)))
    bias_ev = 1 / 3 if encounter.animal.flies else 0.0
    # Normal exposure: light + bias darker is 2 log2 N - log2 t - log2(ISO / 100).
    iso_stops = 2 * log2(f_number) - log2(exposure_time_s) - (light_ev - bias_ev)
    while iso_stops < 0:  # at base ISO the shutter has to follow
        exposure_time_s /= 2
        iso_stops += 1
    thirds = min(round(iso_stops * 3), round(3 * log2(kit.body.highest_iso / 100)))
    return f_number, exposure_time_s, marked_iso(thirds), bias_ev


def marked_iso(thirds: int) -> int:
    """The ISO as marked, so many thirds of a stop above 100: 100, 125, 160, 200, 250, 320, 400 ..."""
    stops, rest = divmod(thirds, 3)
    return (100, 125, 160)[rest] << stops


def _focus(
    encounter: Encounter, kit: Kit, light_ev: float, random: Random
) -> tuple[str, float, float | None]:
    """Kind, blur besides the lens (sigma, px) and direction of motion."""
    chance = 0.86 - 0.10 * (kit.factor > 1) - 0.14 * (kit.factor >= 2)
    chance -= 0.07 * max(0.0, 11 - light_ev) * (kit.factor if kit.factor > 1 else 0.6)
    chance += 0.12 * encounter.luck
    if random.random() < min(0.97, max(0.08, chance)):
        return "sharp", round(random.uniform(0.0, 0.4), 3), None
    if random.random() < 0.08:  # near the criterion: a close call for anyone
        return "soft", round(random.uniform(0.9, 1.5), 3), None
    kind = random.choices(("soft", "smeared", "elsewhere"), weights=(5, 3, 3))[0]
    direction_deg = round(random.uniform(0, 180), 1) if kind == "smeared" else None
    return kind, round(random.uniform(2.2, 4.8), 3), direction_deg


def _word(encounter: Encounter, kind: str, random: Random) -> CameraWord:
    """What the camera believed: mostly, but not always, what was so."""
    if encounter.focused_by_hand:
        return CameraWord.MANUAL
    if random.random() < 0.03:
        return CameraWord.SILENT
    # A camera does not see motion, nor that it focused on the wrong thing.
    believes = {"sharp": 0.95, "soft": 0.15, "smeared": 0.7, "elsewhere": 0.6}[kind]
    return CameraWord.CONFIRMED if random.random() < believes else CameraWord.NOT_CONFIRMED
