"""Rebuilding what follows from the recorded frames, for the frames and the span that changed."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import islice

from auditor.derive import camera_blur, freshness, grouping, scenes_together
from auditor.derive.grouping import Encounter, Shot
from auditor.derive.sums import sum_changed_trips
from auditor.focus.sharpness import CAMERA_BLUR_PX
from auditor.frames.declared import Declared, TripSpan
from auditor.frames.facts import frame_facts
from auditor.frames.flags import reading_flags
from auditor.frames.kit_names import identity, kit_key, names_of
from auditor.frames.verdicts import judge, why_undecodable
from auditor.records import Recorded
from auditor.settings import Settings
from auditor.store import camera_word, declarations, derived, groups, readings, scene_blur
from auditor.store.body_key import body_key
from auditor.store.camera_blur import frames_of, known
from auditor.store.derived import InferredFrame
from auditor.store.groups import TimedFrame
from auditor.store.logbook import Logbook
from auditor.store.readings import Reading

MEASURED = (
    "measured_on", "reading_version", "blur_px", "blur_um", "blur_urad", "system_blur_px", "system_blur_urad",
    "blur_kind", "reading_flags", "verdict_on_subject", "camera_blur_px",
)  # fmt: skip
"""Columns of frame_facts that come out of the pixels."""
ISO_MOVED_WITHIN_S, FEWEST_ISO_MOVES = 5.0, 3
"""ISO that changes so often, from one frame to the next so soon after, at one f-number and shutter speed,
was left to the body: a hand on the dial would be seldom that quick (chosen)."""
_BATCH = 2000
_EPOCH = datetime(1970, 1, 1)


def rebuild(logbook: Logbook, settings: Settings) -> None:
    """Bring the derived tables up to date; does nothing when nothing has changed.

    All of it is one transaction: a run that is killed leaves the old groups and the list of
    what still waits, and the next run does it.
    """
    if freshness.is_up_to_date(logbook, settings):
        return
    facts_stamp, groups_stamp = freshness.facts_stamp(settings), freshness.groups_stamp(settings)
    facts_stale = derived.facts_are_stale(logbook, facts_stamp)
    groups_stale = groups.groups_are_stale(logbook, groups_stamp)
    with logbook.writing():
        if facts_stale:
            derived.touch_all(logbook)
        elif groups_stale:
            derived.touch_measured(logbook)  # what scenes tell of them may change
        declared = Declared(declarations.history(logbook))
        before = scene_blur.read_together(logbook)
        derived.touch(logbook, before)
        scene_blur.forget(logbook, before)
        derived.touch_unmetered(logbook, _auto_iso_seen(logbook))
        _infer(logbook, declared, settings, facts_stamp, derived.touched_frames(logbook))
        _again(logbook, declared, settings, facts_stamp, frames_of(logbook, camera_blur.calibrate(logbook)))
        span = derived.whole_span(logbook) if groups_stale else derived.touched_span(logbook)
        if span is not None:
            _group(logbook, declared.trips(), settings, groups_stamp, span)
        # Frames that only now are in one trip with a touched one, and were read together with others.
        before = scene_blur.read_together(logbook)
        _again(logbook, declared, settings, facts_stamp, before)
        scene_blur.forget(logbook, before)
        for scene in scene_blur.scenes(logbook):
            scene_blur.write(logbook, scenes_together.read_together(scene, settings.crop))
        camera_word.weigh(logbook)
        derived.rename_kits(logbook, names_of(derived.kits(logbook)))
        derived.clear_touched(logbook)
        sum_changed_trips(logbook)


def _again(
    logbook: Logbook, declared: Declared, settings: Settings, stamp: str, frame_ids: list[int]
) -> None:
    if frame_ids:
        derived.touch(logbook, frame_ids)
        _infer(logbook, declared, settings, stamp, derived.frames_of(logbook, frame_ids))


def _infer(
    logbook: Logbook,
    declared: Declared,
    settings: Settings,
    stamp: str,
    waiting: Iterator[tuple[int, Recorded]],
) -> None:
    kit_ids = derived.kit_ids(logbook)
    camera_blurs = known(logbook)
    auto_iso = _auto_iso_seen(logbook)
    while batch := list(islice(waiting, _BATCH)):
        rows: list[InferredFrame] = []
        verdicts = []
        ids = [frame_id for frame_id, _recorded in batch]
        measured = readings.of_frames(logbook, ids)
        undecodable = readings.undecodable(logbook, ids)
        for frame_id, recorded in batch:
            paths = derived.paths_of(logbook, frame_id) if declared.names_paths else []
            kit, facts = frame_facts(
                recorded,
                declared.for_frame(recorded, paths),
                auto_iso_seen=(body_key(recorded), (recorded.taken_at or "")[:10]) in auto_iso,
            )
            key = kit_key(recorded, kit)
            if key not in kit_ids:
                kit_ids[key] = derived.add_kit(logbook, key, identity(recorded, kit))
            reading = measured.get(frame_id)
            own_px = _camera_blur_px(reading, recorded, camera_blurs)
            reading = camera_blur.applied(reading, own_px)
            why_not = why_undecodable(undecodable.get(frame_id))
            judged = judge(
                reading, facts.for_criterion, recorded.camera_word, crop=settings.crop, undecodable=why_not
            )
            flags = sorted([*facts.flags, *reading_flags(reading, judged, recorded.camera_word)])
            missing = dict(facts.missing)
            if judged.missing:
                missing["verdict"] = judged.missing
            if reading is None and why_not is not None:
                missing |= dict.fromkeys(MEASURED, why_not)
            has_blur = reading is not None and reading.sigma_px is not None
            rows.append(
                InferredFrame(
                    frame_id=frame_id,
                    kit_id=kit_ids[key],
                    facts=replace(facts, flags=tuple(flags), missing=missing),
                    blur_px=reading.sigma_px if reading else None,
                    camera_blur_px=(CAMERA_BLUR_PX if own_px is None else own_px) if has_blur else None,
                    stamp=stamp,
                )
            )
            verdicts.append(
                (
                    frame_id, judged.verdict, judged.source, judged.on_subject, stamp, judged.hit_probability,
                )
            )  # fmt: skip
        derived.write_inferred(logbook, rows)
        derived.write_verdicts(logbook, verdicts)


def _auto_iso_seen(logbook: Logbook) -> set[tuple[str, str]]:
    return derived.auto_iso_seen(logbook, within_s=ISO_MOVED_WITHIN_S, fewest=FEWEST_ISO_MOVES)


def _camera_blur_px(
    reading: Reading | None, recorded: Recorded, known: dict[camera_blur.Key, float]
) -> float | None:
    """The camera's own blur where it is calibrated; None for the default."""
    band = camera_blur.iso_band(recorded.iso)
    if reading is None or band is None:
        return None
    return known.get((body_key(recorded), band, reading.measured_on))


def _group(
    logbook: Logbook, declared: list[TripSpan], settings: Settings, stamp: str, span: tuple[str, str]
) -> None:
    fixed = [trip for trip in declared if trip.fixed]
    first_at, last_at = _whole_trips(logbook, *span, fixed, settings)
    # Read in full before the old groups go, since the old trip ids come with the frames.
    frames = list(groups.frames_between(logbook, first_at, last_at))
    groups.clear_groups(logbook, first_at, last_at)
    old_trips = {frame.frame_id: frame.old_trip_id for frame in frames}
    times = {frame.frame_id: frame.taken_at for frame in frames}
    made: list[tuple[list[Encounter], TripSpan | None]] = []
    for stretch, ends in _stretches(frames, fixed, settings.trip_gap_h * 3600):
        bursts = grouping.bursts(map(_shot, stretch), settings)
        encounters = grouping.encounters(bursts, settings)
        trips = [encounters] if ends else grouping.trips(encounters, settings)
        made += [(trip, ends) for trip in trips]
    ids = _trip_ids(logbook, [trip for trip, _ends in made], old_trips)
    spans = [_span(trip, times) for trip, _ends in made]
    names = _trip_names(spans, [ends for _trip, ends in made], declared)
    for place, (trip, _ends) in enumerate(made):
        first_at, last_at = spans[place]
        count = sum(len(encounter.shots) for encounter in trip)
        groups.write_groups(logbook, "trips", [(ids[place], names[place], first_at, last_at, count, stamp)])
        for encounter in trip:
            _write_encounter(logbook, ids[place], encounter, times, stamp)


def _whole_trips(
    logbook: Logbook, first_at: str, last_at: str, fixed: list[TripSpan], settings: Settings
) -> tuple[str, str]:
    """Widen a span until no trip reaches into it, or comes near enough to join it."""
    near = timedelta(hours=settings.trip_gap_h)
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
    frames: list[TimedFrame], fixed: list[TripSpan], gap_s: float
) -> Iterator[tuple[list[TimedFrame], TripSpan | None]]:
    """Frames cut at pauses that end a trip in any case, and at the ends of trips that were declared.

    Each stretch comes with the declared trip that it is, if it is one.
    """
    stretch: list[TimedFrame] = []
    last_s, last_ends = 0.0, None
    for frame in frames:
        taken_s = _seconds(frame.taken_at)
        ends = next((trip for trip in fixed if trip.from_at <= frame.taken_at <= trip.to_at), None)
        if stretch and (ends is not last_ends or (ends is None and taken_s - last_s > gap_s)):
            yield stretch, last_ends
            stretch = []
        stretch.append(frame)
        last_s, last_ends = taken_s, ends
    if stretch:
        yield stretch, last_ends


def _shot(frame: TimedFrame) -> Shot:
    return Shot(
        frame_id=frame.frame_id,
        taken_s=_seconds(frame.taken_at),
        body=frame.body,
        kit_id=frame.kit_id,
        file_number=frame.file_number,
        shot_in_burst=frame.shot_in_burst,
        light_value_ev=frame.light_value_ev,
    )


def _trip_ids(logbook: Logbook, trips: list[list[Encounter]], old_trips: dict[int, int | None]) -> list[int]:
    """An id for each trip: that of the old trip that most of its frames were in, so that names survive.

    Where several trips come from one, the one with most of its frames keeps the id and the others get ids
    that no trip has.
    """
    shared = [
        (frames, place, old_id)
        for place, trip in enumerate(trips)
        for old_id, frames in Counter(
            old_trips[shot.frame_id] for encounter in trip for shot in encounter.shots
        ).items()
        if old_id is not None
    ]
    ids: dict[int, int] = {}
    given: set[int] = set()
    for _frames, place, old_id in sorted(shared, key=lambda claim: (-claim[0], claim[1])):
        if place not in ids and old_id not in given:
            ids[place] = old_id
            given.add(old_id)
    given |= {old_id for old_id in old_trips.values() if old_id is not None}
    for place in range(len(trips)):
        if place not in ids:
            ids[place] = groups.next_trip_id(logbook, given)
            given.add(ids[place])
    return [ids[place] for place in range(len(trips))]


def _span(trip: list[Encounter], times: dict[int, str]) -> tuple[str, str]:
    trip_times = [times[shot.frame_id] for encounter in trip for shot in encounter.shots]
    return min(trip_times), max(trip_times)


def _trip_names(
    spans: list[tuple[str, str]], ends: list[TripSpan | None], declared: list[TripSpan]
) -> list[str]:
    """Names of trips: the last declared, of the trip that it is about; else their days.

    Where a trip that has a name was split, the part that the name's span covers longest keeps it.
    """
    names: dict[int, str] = {}
    for said in declared:
        if said.fixed:
            meant = [place for place, own in enumerate(ends) if own == said]
        else:
            covered_s = {
                place: _seconds(min(last_at, said.to_at)) - _seconds(max(first_at, said.from_at))
                for place, (first_at, last_at) in enumerate(spans)
                if first_at <= said.to_at and last_at >= said.from_at
            }
            meant = [max(covered_s, key=lambda place: covered_s[place])] if covered_s else []
        for place in meant:
            names.setdefault(place, said.name)
    return [names.get(place) or _days(*span) for place, span in enumerate(spans)]


def _days(first_at: str, last_at: str) -> str:
    return first_at[:10] if first_at[:10] == last_at[:10] else f"{first_at[:10]} to {last_at[:10]}"


def _write_encounter(
    logbook: Logbook, trip_id: int, encounter: Encounter, times: dict[int, str], stamp: str
) -> None:
    encounter_id = encounter.encounter_id
    own_times = [times[shot.frame_id] for shot in encounter.shots]
    groups.write_groups(
        logbook,
        "encounters",
        [
            (
                encounter_id, trip_id, min(own_times), max(own_times), len(own_times),
                encounter.light_value_ev, stamp,
            )
        ],
    )  # fmt: skip
    groups.write_groups(
        logbook,
        "bursts",
        [
            (
                burst.burst_id, encounter_id, times[burst.shots[0].frame_id], times[burst.shots[-1].frame_id],
                len(burst.shots), burst.light_value_ev, stamp,
            )
            for burst in encounter.bursts
        ],
    )  # fmt: skip
    scenes = encounter.scenes()
    groups.write_groups(
        logbook,
        "scenes",
        [(shots[0].frame_id, encounter_id, kit_id, len(shots), stamp) for kit_id, shots in scenes.items()],
    )
    scene_of = {shot.frame_id: shots[0].frame_id for shots in scenes.values() for shot in shots}
    groups.write_groups(
        logbook,
        "membership",
        [
            (shot.frame_id, burst.burst_id, scene_of[shot.frame_id], encounter_id, trip_id, position)
            for burst in encounter.bursts
            for position, shot in enumerate(burst.shots)
        ],
    )


def _seconds(taken_at: str) -> float:
    return (datetime.fromisoformat(taken_at) - _EPOCH).total_seconds()
