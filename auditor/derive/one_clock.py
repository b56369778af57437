"""One clock for frames of several time zones: what is added to each frame's time to put it in order.

Frames are ordered by universal time, their own less the zone that they record, on days on which every frame
records one and nothing speaks against it; on all others by their own times, as they are read. A clock that
was set by hand while its zone stayed at home tells the right time and a wrong zone, so

    a body whose zone changes must come in the order of its file numbers by universal time, and
    bodies that stand side by side in two zones must meet by universal time and not by their own.

Where too little is known for either, frames stay in the order of their own times.
"""

from __future__ import annotations

import math
from array import array
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from heapq import heappop, heappush
from itertools import combinations, groupby
from typing import NamedTuple

from auditor.frames.declared import is_of
from auditor.records import Recorded
from auditor.store import zones
from auditor.store.declared_facts import Said
from auditor.store.groups import TimedFrame
from auditor.store.logbook import Logbook
from auditor.store.zones import ZonedFrame, ZoneOfDay

RUN_PAUSE_H = 36.0
"""No two zones lie so far apart: over such a pause no frame comes before another by any clock."""
NEAR_DAYS = 2
"""Frames whose dates are further apart are more than a day apart by any clock."""
_EPOCH = datetime(1970, 1, 1)


@dataclass(frozen=True, slots=True)
class _Span:
    """Days from a moment on, and what is added to their clocks."""

    from_at: str
    shift_s: float
    zone_s: float | None = None
    """The zone to which times are brought from theirs; None where they stay as they are among each other."""
    least_s: float = 0.0
    """The least that is added to any."""


class _Zones(NamedTuple):
    """Zones of frames, seconds ahead of universal time: of the first, of the last, and the furthest ahead."""

    first_s: float
    last_s: float
    most_s: float


class OneClock:
    """The clock by which the frames of a span are put in order.

    Parameters
    ----------
    first_at, last_at
        The span: local time, ISO 8601; no frame lies within RUN_PAUSE_H of its ends outside.
    kept
        Clocks that the photographer said were right: then a zone that differs is not.
    """

    def __init__(self, logbook: Logbook, first_at: str, last_at: str, kept: Sequence[Said] = ()) -> None:
        days = zones.zones_by_day(logbook, first_at, last_at)
        several = len({day.utc_offset for day in days} - {None}) > 1
        self._spans = list(_spans(logbook, days, kept)) if several else []
        self._least_s = min([0.0, *(span.least_s for span in self._spans)])

    def in_order(self, frames: Iterable[TimedFrame]) -> Iterator[tuple[TimedFrame, float, float]]:
        """Frames in their true order, as far as it is known.

        Parameters
        ----------
        frames
            In order of time by their own clocks.

        Yields
        ------
        TimedFrame, float, float
            A frame; when it was taken by this clock, in seconds since a fixed moment; and how much of that
            was added to its own time.
        """
        place, waiting = -1, list[tuple[float, int, TimedFrame, float]]()
        for number, frame in enumerate(frames):
            own_s = seconds(frame.taken_at)
            while place + 1 < len(self._spans) and self._spans[place + 1].from_at <= frame.taken_at:
                place += 1
            shift_s = 0.0 if place < 0 else _shift_s(self._spans[place], frame)
            heappush(waiting, (own_s + shift_s, number, frame, shift_s))
            while waiting and waiting[0][0] <= own_s + self._least_s:
                taken_s, _number, first, its_shift_s = heappop(waiting)
                yield first, taken_s, its_shift_s
        while waiting:
            taken_s, _number, first, its_shift_s = heappop(waiting)
            yield first, taken_s, its_shift_s


def seconds(taken_at: str) -> float:
    """Seconds since a fixed moment, by the clock that the time is of."""
    return (datetime.fromisoformat(taken_at) - _EPOCH).total_seconds()


def _shift_s(span: _Span, frame: TimedFrame) -> float:
    if span.zone_s is None or frame.utc_offset is None:
        return span.shift_s
    return span.shift_s + span.zone_s - zones.ahead_s(frame.utc_offset)


def _spans(logbook: Logbook, days: Sequence[ZoneOfDay], kept: Sequence[Said]) -> Iterator[_Span]:
    """Spans of time with what is added in each: over a long pause, clocks are as they are read again."""
    for run in _runs(days):
        shift_s = 0.0
        yield _Span(run[0].first_at, shift_s)
        for several, part in _parts(run):
            from_at, known = part[0].first_at, None
            if several and all(day.utc_offset is not None for day in part):
                known = _known_zones(logbook, part, kept)
            if known is None:
                yield _Span(from_at, shift_s, least_s=shift_s)
            else:
                yield _Span(from_at, shift_s, known.first_s, shift_s + known.first_s - known.most_s)
                shift_s += known.first_s - known.last_s


def _runs(days: Sequence[ZoneOfDay]) -> list[list[ZoneOfDay]]:
    """Days without a long pause between their frames."""
    runs: list[list[ZoneOfDay]] = []
    last_s = 0.0
    for day in days:
        if not runs or seconds(day.first_at) - last_s > RUN_PAUSE_H * 3600:
            runs.append([])
        runs[-1].append(day)
        last_s = max(last_s, seconds(day.last_at))
    return runs


def _parts(run: Sequence[ZoneOfDay]) -> Iterator[tuple[bool, list[ZoneOfDay]]]:
    """Days in a row on which, or near which, several zones are recorded, or none; and others."""
    on_date: dict[int, set[str | None]] = defaultdict(set)
    for day in run:
        on_date[_date(day)].add(day.utc_offset)

    def several(day: ZoneOfDay) -> bool:
        date = _date(day)
        near = range(date - NEAR_DAYS, date + NEAR_DAYS + 1)
        return len(set().union(*(on_date.get(other, ()) for other in near))) > 1

    for several_near, part in groupby(run, key=several):
        yield several_near, list(part)


def _date(day: ZoneOfDay) -> int:
    return datetime.fromisoformat(day.first_at).toordinal()


def _known_zones(logbook: Logbook, part: Sequence[ZoneOfDay], kept: Sequence[Said]) -> _Zones | None:
    """The zones of days, where each frame records one and they can be taken to be true."""
    from auditor.derive.zoned_body import ZonedBody  # numpy takes long to load, and few need it

    columns: dict[str, list[array[float]]] = defaultdict(lambda: [array("d"), array("d"), array("d")])
    told: _Zones | None = None
    for frame in zones.zoned_frames(logbook, part[0].first_at, max(day.last_at for day in part)):
        if frame.utc_offset is None or _said_right(frame, kept):
            return None
        zone_s = zones.ahead_s(frame.utc_offset)
        told = _Zones(told.first_s if told else zone_s, zone_s, max(zone_s, told.most_s if told else zone_s))
        number = math.nan if frame.file_number is None else frame.file_number
        for column, value in zip(columns[frame.body], (seconds(frame.taken_at), zone_s, number), strict=True):
            column.append(value)
    bodies = [ZonedBody.of(*of_body) for of_body in columns.values()]
    trusted = all(body.goes_with_its_zone() for body in bodies)
    return told if trusted and all(body.meets(other) for body, other in combinations(bodies, 2)) else None


def _said_right(frame: ZonedFrame, kept: Sequence[Said]) -> bool:
    """Whether the photographer said that its clock was not off."""
    return any(
        (said.from_at or "") <= frame.camera_at <= (said.to_at or "~")
        and is_of(said, Recorded(body_model=frame.body_model, body_serial=frame.body_serial))
        for said in kept
    )
