"""Hints: what the frames make likely and no file says. Offered, never applied."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence, Set
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from itertools import pairwise
from statistics import median

from auditor.store import declarations, scans, tables
from auditor.store.bursts import BodyDates, BurstLight, body_dates, bursts_of_trip
from auditor.store.declarations import (
    ClockFacts,
    ConverterFacts,
    Declaration,
    RejectedFacts,
    Said,
    Span,
)
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
LONGEST_OUTING_DAYS = 60
YEAR_DAYS = 365
_FACTORS = {1: 1.4, 2: 2.0}
"""Stops of light that a converter takes -> its factor."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Trip:
    """The trip that a hint belongs to."""

    trip_id: int
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class ConverterHint:
    """One question about a body and a stretch of time: was a converter on that does not report itself?"""

    trip: Trip
    body: str
    factor: float
    bursts: tuple[BurstLight, ...]
    """Those that are suspected, and none between them."""

    @property
    def said(self) -> Said:
        """What accepting it declares."""
        return Said(facts=ConverterFacts(factor=self.factor, bursts=self._spans), body=self.body)

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="converter", value=self.factor, bursts=self._spans)
        return Said(facts=facts, body=self.body)

    @property
    def _spans(self) -> tuple[Span, ...]:
        return tuple(Span(burst.camera_first_at, burst.camera_last_at) for burst in self.bursts)


@dataclass(frozen=True, slots=True, kw_only=True)
class ClockHint:
    """The clocks of two bodies disagree on a trip."""

    trip: Trip
    body: str
    reference: str
    """The body that took more bursts: its clock is taken to be right."""
    hours: int
    """To be added to the clock of `body`."""
    stated: bool
    """They state different time zones; otherwise their bursts fall together far oftener when shifted."""
    first_at: str
    """First frame of `body` on the trip by its own clock, as `last_at`."""
    last_at: str

    @property
    def said(self) -> Said:
        """What accepting it declares."""
        facts = ClockFacts(offset_s=self.hours * WHOLE_HOUR_S)
        return Said(facts=facts, body=self.body, from_at=self.first_at, to_at=self.last_at)

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="clock", value=self.hours * WHOLE_HOUR_S)
        return Said(facts=facts, body=self.body, from_at=self.first_at, to_at=self.last_at)


@dataclass(frozen=True, slots=True, kw_only=True)
class DateHint:
    """A body whose clock was years off. By how much, only the photographer knows."""

    trip: Trip
    body: str
    first_at: str
    last_at: str
    other: BodyDates | None = None
    """The body in the same folder that is years away; None for a date in the future."""

    said: None = None

    @property
    def rejected(self) -> Said:
        """What rejecting it notes."""
        facts = RejectedFacts(about="date")
        return Said(facts=facts, body=self.body, from_at=self.first_at, to_at=self.last_at)


Hint = ConverterHint | ClockHint | DateHint


def hints(logbook: Logbook, trip_id: int | None = None, *, today: date | None = None) -> list[Hint]:
    """Every hint that was not rejected, trip by trip, the oldest trip first.

    Parameters
    ----------
    trip_id
        Only those that belong to this trip.
    today
        The day after which dates lie in the future; by default the computer's.

    Returns
    -------
    list[Hint]
        In the order in which they are numbered.
    """
    rejected = [
        (declared, declared.facts)
        for declared in declarations.history(logbook)
        if isinstance(declared.facts, RejectedFacts) and declared.undone_at is None
    ]
    dated = date_hints(body_dates(logbook, scans.folders(logbook)), today or date.today())
    offered: list[Hint] = []
    for row in reversed(tables.trips(logbook)):
        if trip_id in (None, row.trip_id):
            trip = Trip(trip_id=row.trip_id, name=row.name)
            bursts = bursts_of_trip(logbook, trip.trip_id)
            offered += converter_hints(trip, bursts, rejected=_rejected_bursts(rejected))
            offered += clock_hints(trip, bursts)
            offered += [replace(hint, trip=trip) for hint in dated if hint.trip.trip_id == trip.trip_id]
    noted = {_key(said) for said, _facts in rejected}
    return [hint for hint in offered if isinstance(hint, ConverterHint) or _key(hint.rejected) not in noted]


def _key(said: Said) -> tuple[object, ...]:
    return said.facts, said.body, said.from_at, said.to_at


def _rejected_bursts(rejected: list[tuple[Declaration, RejectedFacts]]) -> set[tuple[str, float, str]]:
    """Body, factor and first moment of every burst that is not to be suspected again."""
    return {
        (said.body or "", facts.value or 0.0, span.first_at)
        for said, facts in rejected
        for span in facts.bursts
    }


def date_hints(dates: list[BodyDates], today: date) -> list[DateHint]:
    """Bodies whose dates lie in the future, and bodies of one folder that are years apart; each once.

    Only bodies that each took their frames of that folder within one outing are set beside each other: an
    archive holds years.

    Parameters
    ----------
    dates
        When the frames of each body and folder were taken.
    today
        The day after which dates lie in the future.

    Returns
    -------
    list[DateHint]
        In the order of `dates`.
    """
    tomorrow = (today + timedelta(days=1)).isoformat()
    by_body: dict[str, DateHint] = {}

    def add(dates_of: BodyDates, other: BodyDates | None) -> None:
        trip = Trip(trip_id=dates_of.trip_id, name="")
        by_body.setdefault(
            dates_of.body,
            DateHint(
                trip=trip,
                body=dates_of.body,
                first_at=dates_of.first_at,
                last_at=dates_of.last_at,
                other=other,
            ),
        )

    for dates_of in dates:
        if dates_of.last_at[:10] > tomorrow:
            add(dates_of, None)
    by_folder: dict[str, list[BodyDates]] = defaultdict(list)
    for dates_of in dates:
        if dates_of.body not in by_body and _days(dates_of.first_at, dates_of.last_at) <= LONGEST_OUTING_DAYS:
            by_folder[dates_of.folder].append(dates_of)
    for bodies in by_folder.values():
        most = max(bodies, key=lambda dates_of: dates_of.frames)
        for dates_of in bodies:
            apart = max(_days(dates_of.last_at, most.first_at), _days(most.last_at, dates_of.first_at))
            if dates_of is not most and apart >= YEAR_DAYS:
                add(dates_of, most)
    return list(by_body.values())


def _days(first_at: str, last_at: str) -> int:
    return (date.fromisoformat(last_at[:10]) - date.fromisoformat(first_at[:10])).days


def converter_hints(
    trip: Trip, bursts: Sequence[BurstLight], *, rejected: Set[tuple[str, float, str]] = frozenset()
) -> list[ConverterHint]:
    """Where a body that says nothing of a converter reads one or two stops darker than its neighbourhood.

    Compared with the burst before on the same body and kit, and with another body's burst of about the
    same moment: a converter that does not report itself takes light that the settings do not show.

    Parameters
    ----------
    trip
        That the bursts are of.
    bursts
        In order of time.
    rejected
        Body, factor and first moment, by the camera's clock, of bursts that are not to be suspected.

    Returns
    -------
    list[ConverterHint]
        Neighbouring bursts of one body and factor as one hint.
    """
    suspects_of: dict[tuple[str, int], set[BurstLight]] = defaultdict(set)
    for before, after in _neighbours(bursts):
        stops = _stops_darker(before, after)
        alike = before.body != after.body or before.kit_id == after.kit_id
        if stops and after.bare and alike:
            suspects_of[after.body, stops].add(after)
    hints = []
    for (body, stops), suspects in sorted(suspects_of.items()):
        factor = _FACTORS[stops]
        kept = [
            burst
            for burst in _with_level_ones(
                suspects, [other_burst for other_burst in bursts if other_burst.body == body]
            )
            if (body, factor, burst.camera_first_at) not in rejected
        ]
        hints += [
            ConverterHint(trip=trip, body=body, factor=factor, bursts=tuple(run)) for run in _runs(kept)
        ]
    return hints


def _with_level_ones(suspects: Set[BurstLight], own: Sequence[BurstLight]) -> list[BurstLight]:
    """Suspected bursts of a body, with those next to them that read the same light: the converter was still
    on, or on already; in order of time."""
    reached = set(suspects)
    for ordered in (own, list(reversed(own))):
        for before, following in pairwise(ordered):
            if before in reached and following.bare and _level(before, following):
                reached.add(following)
    return [burst for burst in own if burst in reached]


def _level(one: BurstLight, other: BurstLight) -> bool:
    """Whether two bursts of a body read one light through what seems to be one kit."""
    if one.light_value_ev is None or other.light_value_ev is None or one.kit_id != other.kit_id:
        return False
    near = abs(one.first_s - other.first_s) <= NEIGHBOUR_S
    return near and abs(one.light_value_ev - other.light_value_ev) <= STOP_TOLERANCE_EV


def clock_hints(trip: Trip, bursts: Sequence[BurstLight]) -> list[ClockHint]:
    """Where two bodies' clocks disagree: they state other time zones, or meet far oftener when shifted.

    Parameters
    ----------
    trip
        That the bursts are of.
    bursts
        In order of time.

    Returns
    -------
    list[ClockHint]
        At most one a pair of bodies.
    """
    offered = []
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    names = sorted(by_body, key=lambda body: (-len(by_body[body]), body))
    for position, body in enumerate(names[1:], 1):
        own = by_body[body]
        for reference in names[:position]:
            hours = _zones_apart_h(by_body[reference], own)
            stated = hours is not None
            if hours is None:
                hours = _best_shift_h([b.first_s for b in by_body[reference]], [b.first_s for b in own])
            if hours:
                offered.append(
                    ClockHint(
                        trip=trip,
                        body=body,
                        reference=reference,
                        hours=hours,
                        stated=stated,
                        first_at=min(burst.camera_first_at for burst in own),
                        last_at=max(burst.camera_last_at for burst in own),
                    )
                )
                break  # one question a body: the reference with the most bursts decides
    return offered


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


def _runs(ordered: list[BurstLight]) -> list[list[BurstLight]]:
    """Suspect bursts in stretches: over a long pause a converter may have come off."""
    runs = [[ordered[0]]] if ordered else []
    for before, after in pairwise(ordered):
        if after.first_s - before.first_s > LONGEST_PAUSE_S:
            runs.append([])
        runs[-1].append(after)
    return runs


def _zones_apart_h(one: list[BurstLight], other: list[BurstLight]) -> int | None:
    """Hours to add to the second body's clock, where both state their zone and neither was put right."""
    if any(burst.first_at != burst.camera_first_at for burst in (*one, *other)):
        return None
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
