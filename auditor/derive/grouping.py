"""Bursts, encounters, scenes and trips: which frames belong together.

    burst      frames of one body, each close in time to the one before
    encounter  bursts of any body close in time, in one light: one animal; the cluster of every variance
    scene      the frames of one kit within one encounter
    trip       encounters of consecutive days

Each group bears the id of its first frame.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from statistics import median

from auditor.settings import Settings

WRAP_WINDOW = 1000
"""File numbers this close to 9999 and to 0001 in one burst are a wrap, not a jump."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """What grouping needs to know of a frame."""

    frame_id: int
    taken_s: float
    """Seconds since any fixed moment, by one clock for all frames that are compared."""
    body: str
    kit_id: int
    file_number: int | None = None
    shot_in_burst: int | None = None
    light_value_ev: float | None = None
    shift_s: float = 0.0
    """What `taken_s` has more than the corrected clock of its body said: not 0 in another time zone."""


@dataclass(slots=True)
class Burst:
    """Frames of one body in their order."""

    shots: list[Shot]
    light_value_ev: float | None = None

    @property
    def burst_id(self) -> int:
        """The id of its first frame."""
        return self.shots[0].frame_id

    @property
    def first_s(self) -> float:
        """When it began."""
        return self.shots[0].taken_s

    @property
    def last_s(self) -> float:
        """When it ended."""
        return self.shots[-1].taken_s


@dataclass(slots=True)
class Encounter:
    """Bursts of any body that share an animal and a light."""

    bursts: list[Burst] = field(default_factory=list)

    @property
    def shots(self) -> list[Shot]:
        """All frames, burst by burst."""
        return [shot for burst in self.bursts for shot in burst.shots]

    @property
    def encounter_id(self) -> int:
        """The id of its first frame."""
        return self.bursts[0].burst_id

    @property
    def first_s(self) -> float:
        """When it began."""
        return self.bursts[0].first_s

    @property
    def last_s(self) -> float:
        """When it ended: bursts of two bodies may overlap."""
        return max(burst.last_s for burst in self.bursts)

    @property
    def light_value_ev(self) -> float | None:
        """Median over its bursts; None where the light of none is known."""
        return _median(burst.light_value_ev for burst in self.bursts)

    def scenes(self) -> dict[int, list[Shot]]:
        """Frames by kit, in the order of the kits' first frames."""
        by_kit: dict[int, list[Shot]] = {}
        for shot in self.shots:
            by_kit.setdefault(shot.kit_id, []).append(shot)
        return by_kit


def bursts(shots: Iterable[Shot], settings: Settings) -> list[Burst]:
    """Frames grouped into bursts, in order of time over all bodies.

    Parameters
    ----------
    shots
        In any order; times in seconds.
    settings
        `burst_gap_s`: a longer pause of one body ends a burst.

    Returns
    -------
    Bursts of one body each, by their first frame; each with the median light of its frames, EV.
    """
    by_body: dict[str, list[Shot]] = {}
    for shot in shots:
        by_body.setdefault(shot.body, []).append(shot)
    grouped = [
        Burst(group)
        for body_shots in by_body.values()
        for group in _split_by_gap(_in_order(body_shots), settings.burst_gap_s)
    ]
    for burst in grouped:
        burst.light_value_ev = _median(shot.light_value_ev for shot in burst.shots)
    return sorted(grouped, key=lambda burst: (burst.first_s, burst.burst_id))


def encounters(ordered_bursts: Iterable[Burst], settings: Settings) -> list[Encounter]:
    """Bursts grouped into encounters.

    A burst starts a new one after a pause, when the encounter would grow too long, or when
    its light lies further than the setting from that of any burst already in it.

    Parameters
    ----------
    ordered_bursts
        As `bursts` gives them.
    settings
        The pause and the length of an encounter, and the step of light, EV.

    Returns
    -------
    list[Encounter]
        In order of time.
    """
    grouped: list[Encounter] = []
    for burst in ordered_bursts:
        if not grouped or not _belongs(burst, grouped[-1], settings):
            grouped.append(Encounter())
        grouped[-1].bursts.append(burst)
    return grouped


def _belongs(burst: Burst, encounter: Encounter, settings: Settings) -> bool:
    lights = [
        member.light_value_ev for member in (*encounter.bursts, burst) if member.light_value_ev is not None
    ]
    return (
        burst.first_s - encounter.last_s < settings.encounter_gap_min * 60
        and burst.last_s - encounter.first_s <= settings.encounter_longest_min * 60
        and (not lights or max(lights) - min(lights) <= settings.encounter_light_ev)
    )


def begins_trip(encounter: Encounter, first_s: float, last_s: float, settings: Settings) -> bool:
    """Whether an encounter begins a new trip: after a long pause, or because the trip would be too long.

    Parameters
    ----------
    first_s, last_s
        When the trip before it began, and its last frame so far.
    settings
        `trip_gap_h`: a pause in hours; `trip_longest_days`.

    Returns
    -------
    bool
        False where it goes on with the trip.
    """
    return (
        encounter.first_s - last_s > settings.trip_gap_h * 3600
        or encounter.last_s - first_s > settings.trip_longest_days * 86400
    )


def _split_by_gap(shots: Sequence[Shot], gap_s: float) -> list[list[Shot]]:
    groups: list[list[Shot]] = []
    for shot in shots:
        # The small allowance keeps a gap of exactly the setting in, whatever floats make of it.
        if groups and shot.taken_s - groups[-1][-1].taken_s <= gap_s + 1e-6:
            groups[-1].append(shot)
        else:
            groups.append([shot])
    return groups


def _in_order(shots: Sequence[Shot]) -> list[Shot]:
    """By time; frames of one moment (many cameras record whole seconds) by file number."""
    in_time = sorted(shots, key=lambda shot: shot.taken_s)
    ordered: list[Shot] = []
    start = 0
    for position in range(1, len(in_time) + 1):
        if position == len(in_time) or in_time[position].taken_s != in_time[start].taken_s:
            ordered.extend(_by_number(in_time[start:position]))
            start = position
    return ordered


def _by_number(shots: list[Shot]) -> list[Shot]:
    numbers = [shot.file_number for shot in shots if shot.file_number is not None]
    wrapped = bool(numbers) and max(numbers) > 9999 - WRAP_WINDOW and min(numbers) < WRAP_WINDOW

    def key(shot: Shot) -> tuple[int, int, int]:
        number = shot.file_number if shot.file_number is not None else 0
        if wrapped and number < WRAP_WINDOW:
            number += 10000
        return number, shot.shot_in_burst or 0, shot.frame_id

    return sorted(shots, key=key)


def _median(values: Iterable[float | None]) -> float | None:
    numbers = [value for value in values if value is not None]
    return median(numbers) if numbers else None
