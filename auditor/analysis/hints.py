"""Hints: what the frames make likely and no file says. Offered, never applied."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from statistics import median

from auditor.store.logbook import Logbook

STOP_TOLERANCE_EV = 0.3
"""A step this close to one or two stops is what a converter takes."""
NEIGHBOUR_S = 180.0
"""Bursts this close in time are taken to be in one light."""
LONGEST_PAUSE_S = 2 * 3600.0
WHOLE_HOUR_S = 3600
LONGEST_SHIFT_H = 14
MEETING_S = 90.0
"""Bursts of two bodies this close were on one animal."""
FEWEST_MEETINGS = 5
_FACTORS = {1: 1.4, 2: 2.0}


@dataclass(frozen=True, slots=True)
class Hint:
    """Something to think about, and the command that would declare it."""

    text: str
    command: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BurstLight:
    """A burst with what matters for hints."""

    body: str
    """Serial, or model where there is none."""
    kit_id: int
    bare: bool
    first_at: str
    last_at: str
    light_value_ev: float | None
    utc_offset: str | None = None

    @property
    def first_s(self) -> float:
        """Seconds since any fixed moment."""
        return datetime.fromisoformat(self.first_at).timestamp()


def hints(logbook: Logbook, trip_id: int | None = None) -> list[Hint]:
    """Every hint that a trip's frames give, or those of all trips."""
    bursts = _bursts(logbook, trip_id)
    return [*converter_hints(bursts), *clock_hints(bursts)]


def converter_hints(bursts: Sequence[BurstLight]) -> list[Hint]:
    """Where a body that says nothing of a converter reads one or two stops darker than its neighbourhood.

    Compared with the burst before on the same body and kit, and with another body's burst of about the
    same moment: a converter that does not report itself takes light that the settings do not show.
    """
    suspects: dict[tuple[str, int], list[BurstLight]] = defaultdict(list)
    for before, after in _neighbours(bursts):
        stops = _stops_darker(before, after)
        alike = before.body != after.body or before.kit_id == after.kit_id
        if stops and after.bare and alike and after not in suspects[after.body, stops]:
            suspects[after.body, stops].append(after)
    return [
        _converter_hint(body, stops, run)
        for (body, stops), found in sorted(suspects.items())
        for run in _runs(sorted(found, key=lambda burst: burst.first_at))
    ]


def clock_hints(bursts: Sequence[BurstLight]) -> list[Hint]:
    """Where two bodies' clocks disagree: they state other time zones, or meet far oftener when shifted."""
    found = []
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    names = sorted(by_body, key=lambda body: (-len(by_body[body]), body))
    for position, other in enumerate(names[1:], 1):
        for reference in names[:position]:
            hours = _zones_apart_h(by_body[reference], by_body[other])
            reason = "they state different time zones"
            if hours is None:
                hours = _best_shift_h(
                    [b.first_s for b in by_body[reference]], [b.first_s for b in by_body[other]]
                )
                reason = "their bursts then fall together far oftener"
            if hours:
                found.append(
                    Hint(
                        f"The clocks of {reference} and {other} may be {abs(hours)} h apart: {reason}.",
                        f'auditor declare clock --body "{other}" --offset {hours:+d}:00',
                    )
                )
    return found


def _bursts(logbook: Logbook, trip_id: int | None) -> list[BurstLight]:
    where = "" if trip_id is None else "AND e.trip_id = ?"
    rows = logbook.query(
        f"""
        SELECT coalesce(f.body_serial, f.body_model, '') AS body, i.kit_id, b.first_at, b.last_at,
               b.light_value_ev, f.utc_offset,
               i.converter_source IN ('none', 'unknown') AS bare
        FROM bursts AS b JOIN encounters AS e USING (encounter_id)
        JOIN inferred AS i ON i.frame_id = b.burst_id JOIN frames AS f ON f.frame_id = b.burst_id
        WHERE f.body_model IS NOT NULL {where} ORDER BY b.first_at, b.burst_id
        """,
        () if trip_id is None else (trip_id,),
    )
    return [BurstLight(**{**dict(row), "bare": bool(row["bare"])}) for row in rows]


def _neighbours(bursts: Sequence[BurstLight]) -> Iterable[tuple[BurstLight, BurstLight]]:
    """Pairs of bursts in one light: of one body in a row, and of two bodies in both orders."""
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    for own in by_body.values():
        yield from ((a, b) for a, b in pairwise(own) if b.first_s - a.first_s <= NEIGHBOUR_S)
    for place, burst in enumerate(bursts):
        for other in bursts[place + 1 :]:
            if other.first_s - burst.first_s > NEIGHBOUR_S:
                break
            if other.body != burst.body:
                yield burst, other
                yield other, burst


def _stops_darker(before: BurstLight, after: BurstLight) -> int | None:
    """Whole stops, 1 or 2, by which the second seems darker; None for anything else."""
    if before.light_value_ev is None or after.light_value_ev is None:
        return None
    drop_ev = before.light_value_ev - after.light_value_ev
    return next((stops for stops in _FACTORS if abs(drop_ev - stops) <= STOP_TOLERANCE_EV), None)


def _runs(found: list[BurstLight]) -> list[list[BurstLight]]:
    """Suspect bursts in stretches: over a long pause a converter may have come off."""
    runs = [[found[0]]] if found else []
    for before, after in pairwise(found):
        if after.first_s - before.first_s > LONGEST_PAUSE_S:
            runs.append([])
        runs[-1].append(after)
    return runs


def _converter_hint(body: str, stops: int, found: list[BurstLight]) -> Hint:
    first_at, last_at = min(b.first_at for b in found), max(b.last_at for b in found)
    amount = "one stop" if stops == 1 else "two stops"
    return Hint(
        f"{body} reads about {amount} darker than its neighbourhood in {len(found)} "
        f"burst{'s' if len(found) > 1 else ''} between {_minute(first_at)} and {_minute(last_at)}, with "
        "nothing else changed. If a converter was on that does not report itself, declare it; a cloud does "
        "the same.",
        f'auditor declare converter --body "{body}" --factor {_FACTORS[stops]:g} '
        f"--from {first_at[:16]} --to {last_at[:16]}",
    )


def _zones_apart_h(one: list[BurstLight], other: list[BurstLight]) -> int | None:
    """Hours to add to the second body's clock, where both state their zone."""
    zones = [{b.utc_offset for b in bursts if b.utc_offset} for bursts in (one, other)]
    if len(zones[0]) != 1 or len(zones[1]) != 1:
        return None
    apart_s = _offset_s(zones[0].pop()) - _offset_s(zones[1].pop())
    return round(apart_s / WHOLE_HOUR_S) if apart_s % WHOLE_HOUR_S == 0 else None


def _offset_s(text: str) -> float:
    offset = datetime.strptime(text.replace("Z", "+00:00"), "%z").utcoffset()
    return offset.total_seconds() if offset else 0.0


def _best_shift_h(reference_s: list[float], other_s: list[float]) -> int | None:
    """The whole-hour shift at which bursts of two bodies meet far oftener than they do as they are."""
    meetings = {
        hours: _meetings(reference_s, [moment + hours * WHOLE_HOUR_S for moment in other_s])
        for hours in range(-LONGEST_SHIFT_H, LONGEST_SHIFT_H + 1)
    }
    best = max(meetings, key=lambda hours: (meetings[hours], -abs(hours)))
    usual = median(meetings.values())
    enough = meetings[best] >= max(FEWEST_MEETINGS, 3 * meetings[0] + 1, 3 * usual + 1)
    return best if best and enough else None


def _meetings(one_s: list[float], other_s: list[float]) -> int:
    """How many moments of the second list have one of the first close by."""
    count, place = 0, 0
    ordered = sorted(one_s)
    for moment in sorted(other_s):
        while place < len(ordered) and ordered[place] < moment - MEETING_S:
            place += 1
        count += place < len(ordered) and ordered[place] <= moment + MEETING_S
    return count


def _minute(moment: str) -> str:
    return moment[:16].replace("T", " ")
