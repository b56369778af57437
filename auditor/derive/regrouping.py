"""Bursts, scenes, encounters and trips of a span, made anew: read and written a stretch of shooting at a
time.

However long a record goes on without a pause, memory holds no more of it than one stretch: frames with less
time between them than ends an encounter. What was grouped before and is grouped alike stays as it is.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import groupby

from auditor.derive import grouping
from auditor.derive.grouping import Encounter, Shot
from auditor.derive.one_clock import RUN_PAUSE_H, OneClock, seconds
from auditor.frames.declared import Declared, TripSpan
from auditor.settings import Settings
from auditor.store import groups
from auditor.store.groups import TimedFrame
from auditor.store.logbook import Logbook


@dataclass(slots=True)
class _MadeTrip:
    """A trip in the making."""

    ends: TripSpan | None
    """What was declared of its ends; None where pauses end it."""
    first_s: float
    last_s: float
    first_at: str
    last_at: str
    frames: int = 0
    old_trips: Counter[int] = field(default_factory=Counter)
    """Which trips its frames were in before."""


def regroup(logbook: Logbook, said: Declared, settings: Settings, stamp: str, span: tuple[str, str]) -> None:
    """Group the frames of a span, and of every trip that reaches into it; inside `writing()`.

    Parameters
    ----------
    said
        What was declared: of trips their ends and names, of clocks that they were right.
    stamp
        Of the present version and settings.
    span
        First and last time that changed: local time, ISO 8601.
    """
    declared = said.trips()
    fixed = [trip for trip in declared if trip.fixed]
    first_at, last_at = _whole_trips(logbook, *span, fixed, settings)
    clock = OneClock(logbook, first_at, last_at, said.clocks_right())
    new_trips: list[_MadeTrip] = []
    with groups.new_groups(logbook) as new:
        for stretch, ends in _stretches(
            groups.frames_between(logbook, first_at, last_at), fixed, _pause_s(settings), clock
        ):
            frames = {frame.frame_id: frame for frame, _shot in stretch}
            bursts = grouping.bursts([shot for _frame, shot in stretch], settings)
            for encounter in grouping.encounters(bursts, settings):
                encounter_frames = [frames[shot.frame_id] for shot in encounter.shots]
                if not new_trips or _begins_trip(encounter, new_trips[-1], ends, settings):
                    new_trips.append(_begun(encounter, encounter_frames, ends))
                _add(new_trips[-1], encounter, encounter_frames)
                _write_encounter(new, len(new_trips) - 1, encounter, frames, stamp)
        ids = _trip_ids(logbook, new_trips)
        spans = [(trip.first_at, trip.last_at) for trip in new_trips]
        names = _trip_names(spans, [trip.ends for trip in new_trips], declared)
        new.take_over(
            (first_at, last_at),
            [
                (ids[place], names[place], trip.first_at, trip.last_at, trip.frames, stamp)
                for place, trip in enumerate(new_trips)
            ],
        )


def _pause_s(settings: Settings) -> float:
    """A pause of all bodies over which no burst and no encounter goes on, whatever the allowances."""
    return max(settings.burst_gap_s, 60 * settings.encounter_gap_min) + 1.0


def _begins_trip(encounter: Encounter, trip: _MadeTrip, ends: TripSpan | None, settings: Settings) -> bool:
    if ends is not trip.ends:
        return True
    return ends is None and grouping.begins_trip(encounter, trip.first_s, trip.last_s, settings)


def _begun(encounter: Encounter, frames: Sequence[TimedFrame], ends: TripSpan | None) -> _MadeTrip:
    at = frames[0].taken_at
    return _MadeTrip(ends, encounter.first_s, encounter.last_s, at, at)


def _add(trip: _MadeTrip, encounter: Encounter, frames: Sequence[TimedFrame]) -> None:
    times = [frame.taken_at for frame in frames]
    trip.first_at, trip.last_at = min(trip.first_at, *times), max(trip.last_at, *times)
    trip.last_s = max(trip.last_s, encounter.last_s)
    trip.frames += len(frames)
    trip.old_trips.update(frame.old_trip_id for frame in frames if frame.old_trip_id is not None)


def _whole_trips(
    logbook: Logbook, first_at: str, last_at: str, fixed: list[TripSpan], settings: Settings
) -> tuple[str, str]:
    """Widen a span until no trip reaches into it, or comes near enough to join it."""
    near = timedelta(hours=max(settings.trip_gap_h, RUN_PAUSE_H))
    while True:
        reach_first = (datetime.fromisoformat(first_at) - near).isoformat()
        reach_last = (datetime.fromisoformat(last_at) + near).isoformat()
        trips_first, trips_last = groups.trips_between(logbook, reach_first, reach_last)
        meant = [trip for trip in fixed if trip.from_at <= last_at and trip.to_at >= first_at]
        wider = (
            min([first_at, trips_first or first_at, *(trip.from_at for trip in meant)]),
            max([last_at, trips_last or last_at, *(trip.to_at for trip in meant)]),
        )
        if wider == (first_at, last_at):
            return wider
        first_at, last_at = wider


def _stretches(
    frames: Iterable[TimedFrame], fixed: list[TripSpan], pause_s: float, clock: OneClock
) -> Iterator[tuple[list[tuple[TimedFrame, Shot]], TripSpan | None]]:
    """Frames cut at pauses that end an encounter in any case, and at the ends of trips that were declared.

    Each stretch comes with the declared trip that it is of, if it is of one.
    """

    def ends_of(frame: TimedFrame) -> TripSpan | None:
        return next((trip for trip in fixed if trip.from_at <= frame.taken_at <= trip.to_at), None)

    for ends, of_trip in groupby(frames, key=ends_of):
        stretch: list[tuple[TimedFrame, Shot]] = []
        for frame, taken_s, shift_s in clock.in_order(of_trip):
            if stretch and taken_s - stretch[-1][1].taken_s > pause_s:
                yield stretch, ends
                stretch = []
            stretch.append((frame, _shot(frame, taken_s, shift_s)))
        if stretch:
            yield stretch, ends


def _shot(frame: TimedFrame, taken_s: float, shift_s: float = 0.0) -> Shot:
    return Shot(
        frame_id=frame.frame_id,
        taken_s=taken_s,
        body=frame.body,
        kit_id=frame.kit_id,
        file_number=frame.file_number,
        shot_in_burst=frame.shot_in_burst,
        light_value_ev=frame.light_value_ev,
        shift_s=shift_s,
    )


def _trip_ids(logbook: Logbook, trips: list[_MadeTrip]) -> list[int]:
    """An id for each trip: that of the old trip that most of its frames were in, so that names survive.

    Where several trips come from one, the one with most of its frames keeps the id and the others get ids
    that no trip has.
    """
    shared = [
        (frames, place, old_id)
        for place, trip in enumerate(trips)
        for old_id, frames in trip.old_trips.items()
    ]
    ids: dict[int, int] = {}
    given: set[int] = set()
    for _frames, place, old_id in sorted(shared, key=lambda claim: (-claim[0], claim[1])):
        if place not in ids and old_id not in given:
            ids[place] = old_id
            given.add(old_id)
    given |= {old_id for trip in trips for old_id in trip.old_trips}
    for place in range(len(trips)):
        if place not in ids:
            ids[place] = groups.next_trip_id(logbook, given)
            given.add(ids[place])
    return [ids[place] for place in range(len(trips))]


def _trip_names(
    spans: list[tuple[str, str]], ends: list[TripSpan | None], declared: list[TripSpan]
) -> list[str]:
    """Names of trips: the last declared, of the trip that it is about; else their days.

    Where a trip that has a name was split, the part that the name's span covers longest keeps it.
    """
    names: dict[int, str] = {}
    for declaration in declared:
        if declaration.fixed:
            meant = [place for place, trip_ends in enumerate(ends) if trip_ends == declaration]
        else:
            covered_s = {
                place: seconds(min(last_at, declaration.to_at)) - seconds(max(first_at, declaration.from_at))
                for place, (first_at, last_at) in enumerate(spans)
                if first_at <= declaration.to_at and last_at >= declaration.from_at
            }
            meant = [max(covered_s, key=lambda place: covered_s[place])] if covered_s else []
        for place in meant:
            names.setdefault(place, declaration.name)
    return [names.get(place) or days_name(*span) for place, span in enumerate(spans)]


def days_name(first_at: str, last_at: str) -> str:
    """What a trip is called that nobody named: "2026-04-18 to 2026-04-19"."""
    return first_at[:10] if first_at[:10] == last_at[:10] else f"{first_at[:10]} to {last_at[:10]}"


def _write_encounter(
    new: groups.NewGroups, place: int, encounter: Encounter, frames: dict[int, TimedFrame], stamp: str
) -> None:
    """Write an encounter with its groups, under the place of its trip."""
    encounter_id = encounter.encounter_id
    times = {shot.frame_id: frames[shot.frame_id].taken_at for shot in encounter.shots}
    told = _by_the_clock_of_the_first(encounter.shots, times)
    new.write(
        "encounters",
        [
            (
                encounter_id, place, min(told), max(told), len(times),
                encounter.light_value_ev, stamp,
            )
        ],
    )  # fmt: skip
    new.write(
        "bursts",
        [
            (
                burst.burst_id, encounter_id, told[0], told[-1], len(burst.shots), burst.light_value_ev,
                stamp,
            )
            for burst in encounter.bursts
            for told in [_by_the_clock_of_the_first(burst.shots, times)]
        ],
    )  # fmt: skip
    scenes = encounter.scenes()
    new.write(
        "scenes",
        [(shots[0].frame_id, encounter_id, kit_id, len(shots), stamp) for kit_id, shots in scenes.items()],
    )
    scene_of = {shot.frame_id: shots[0].frame_id for shots in scenes.values() for shot in shots}
    new.write(
        "membership",
        [
            (
                shot.frame_id,
                burst.burst_id,
                scene_of[shot.frame_id],
                encounter_id,
                place,
                position,
                round(shot.shift_s),
            )
            for burst in encounter.bursts
            for position, shot in enumerate(burst.shots)
        ],
    )


def _by_the_clock_of_the_first(shots: Sequence[Shot], times: dict[int, str]) -> list[str]:
    """Times of frames as one clock told them: of several zones those in which the first was taken."""
    return [times[shot.frame_id] for shot in shots if shot.shift_s == shots[0].shift_s]
