"""Rebuilding what follows from the recorded frames, for the frames and the span that changed."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from itertools import islice

from auditor.derive import camera_blur, freshness, scenes_together
from auditor.derive.bodies_apart import apart_before, bodies_told_apart, told_apart
from auditor.derive.regrouping import regroup
from auditor.derive.sums import sum_changed_trips
from auditor.focus.sharpness import CAMERA_BLUR_PX
from auditor.frames.declared import Declared
from auditor.frames.facts import frame_facts
from auditor.frames.flags import reading_flags
from auditor.frames.kit_names import identity, kit_key, names_of
from auditor.frames.spellings import Spellings, as_declared
from auditor.frames.verdicts import Judged, judge, why_undecodable
from auditor.records import Inferred, Recorded
from auditor.settings import Settings
from auditor.store import auto_iso as stored_auto_iso
from auditor.store import camera_word, declarations, derived, groups, readings, scene_blur
from auditor.store.body_key import body_key
from auditor.store.camera_blur import frames_of, known
from auditor.store.derived import InferredFrame
from auditor.store.inferred_ahead import InferredAhead
from auditor.store.logbook import Logbook
from auditor.store.readings import Reading
from auditor.words import MissingReason

MEASURED = (
    "measured_on", "reading_version", "blur_px", "blur_um", "blur_urad", "system_blur_px", "system_blur_urad",
    "blur_kind", "reading_flags", "verdict_on_subject", "camera_blur_px",
)  # fmt: skip
"""Columns of frame_facts that come out of the pixels."""
ISO_MOVED_WITHIN_S, FEWEST_ISO_MOVES = 5.0, 3
"""ISO that changes so often, from one frame to the next so soon after, at one f-number and shutter speed,
was left to the body: a hand on the dial would be seldom that quick (chosen)."""
_BATCH = 2000
_AHEAD = 1000
"""Files that a scan writes before it infers their frames: each time takes a query or two."""


class Ahead:
    """Infers the new frames of a scan while it still reads, as far as a frame tells by itself.

    What its neighbours tell comes with `rebuild`, which infers those frames anew that it bears on.
    """

    def __init__(self, logbook: Logbook, settings: Settings) -> None:
        self._inference = _Inference(logbook, settings, apart_before(logbook))
        self.inferred = InferredAhead(logbook)
        self._written = 0

    def wrote(self, files: int) -> None:
        """Infer the frames that wait, once there are enough of them; inside `writing()`.

        Parameters
        ----------
        files
            How many were written.
        """
        self._written += files
        if self._written >= _AHEAD:
            self._written = 0
            self._inference.infer(self.inferred.new_frames(), auto_iso=set())


def rebuild(logbook: Logbook, settings: Settings, ahead: Ahead | None = None) -> None:
    """Bring the derived tables up to date; does nothing when nothing has changed.

    All of it is one transaction: a run that is killed leaves the old groups and the list of
    what still waits, and the next run does it.

    Parameters
    ----------
    settings
        By which frames are judged and grouped.
    ahead
        What was inferred in this run already.
    """
    if freshness.is_up_to_date(logbook, settings):
        return
    groups_stamp = freshness.groups_stamp(settings)
    facts_stale = derived.facts_are_stale(logbook, freshness.facts_stamp(settings))
    groups_stale = groups.groups_are_stale(logbook, groups_stamp)
    with logbook.writing():
        if facts_stale:
            derived.touch_all(logbook)
        elif groups_stale:
            derived.touch_measured(logbook)  # what scenes say of them may change
        before = scene_blur.read_together(logbook)
        derived.touch(logbook, before)
        scene_blur.forget(logbook, before)
        inference = _Inference(logbook, settings, bodies_told_apart(logbook))
        auto_iso = _auto_iso_seen(logbook)
        stored_auto_iso.touch_unmetered(logbook, auto_iso)
        waiting = derived.touched_frames(logbook) if ahead is None else ahead.inferred.others()
        inference.infer(waiting, auto_iso)
        derived.number_new_kits(logbook)
        inference.infer_again(frames_of(logbook, camera_blur.calibrate(logbook)))
        span = derived.whole_span(logbook) if groups_stale else derived.touched_span(logbook)
        if span is not None:
            regroup(logbook, inference.declared, settings, groups_stamp, span)
        # Frames that only now are in one trip with a touched one, and were read together with others.
        before = scene_blur.read_together(logbook)
        inference.infer_again(before)
        scene_blur.forget(logbook, before)
        for scene in scene_blur.scenes(logbook):
            scene_blur.write(logbook, scenes_together.read_together(scene, settings.crop))
        camera_word.weigh(logbook)
        derived.rename_kits(logbook, names_of(derived.kits(logbook)))
        derived.clear_touched(logbook)
        sum_changed_trips(logbook)


class _Inference:
    """What a frame tells by itself, inferred and written for many; holds what all of them share."""

    def __init__(self, logbook: Logbook, settings: Settings, apart: set[str]) -> None:
        self._logbook, self._settings = logbook, settings
        self._stamp = freshness.facts_stamp(settings)
        self._apart = apart
        self.declared = Declared(declarations.history(logbook))

    def infer(self, waiting: Iterator[tuple[int, Recorded]], auto_iso: set[tuple[str, str]]) -> None:
        """Infer frames, some at a time; `auto_iso`: bodies, each with a day on which it set ISO by itself."""
        kit_ids = derived.kit_ids(self._logbook)
        spellings = Spellings(derived.kits(self._logbook))
        camera_blurs = known(self._logbook)
        while batch := list(islice(waiting, _BATCH)):
            ids = [frame_id for frame_id, _recorded in batch]
            measured = readings.of_frames(self._logbook, ids)
            undecodable = readings.undecodable(self._logbook, ids)
            rows, verdicts = [], []
            for frame_id, recorded in batch:
                kit_id, facts = self._kit_and_facts(frame_id, recorded, kit_ids, spellings, auto_iso)
                reading = measured.get(frame_id)
                own_px = _camera_blur_px(reading, recorded, camera_blurs)
                why_not = why_undecodable(undecodable.get(frame_id))
                reading = camera_blur.applied(reading, own_px)
                judged = judge(
                    reading, facts.for_criterion, recorded.camera_word, crop=self._settings.crop,
                    undecodable=why_not,
                )  # fmt: skip
                has_blur = reading is not None and reading.sigma_px is not None
                rows.append(
                    InferredFrame(
                        frame_id=frame_id,
                        kit_id=kit_id,
                        facts=facts,
                        flags=tuple(
                            sorted([*facts.flags, *reading_flags(reading, judged, recorded.camera_word)])
                        ),
                        missing=_missing(facts, reading, judged, why_not),
                        blur_px=reading.sigma_px if reading else None,
                        camera_blur_px=(CAMERA_BLUR_PX if own_px is None else own_px) if has_blur else None,
                        stamp=self._stamp,
                    )
                )
                verdicts.append(
                    (
                        frame_id, judged.verdict, judged.source, judged.on_subject, self._stamp,
                        judged.hit_probability,
                    )
                )  # fmt: skip
            derived.write_inferred(self._logbook, rows)
            derived.write_verdicts(self._logbook, verdicts)

    def infer_again(self, frame_ids: list[int]) -> None:
        """Infer frames once more, whose ground has changed since."""
        if frame_ids:
            derived.touch(self._logbook, frame_ids)
            self.infer(derived.frames_of(self._logbook, frame_ids), _auto_iso_seen(self._logbook))

    def _kit_and_facts(
        self,
        frame_id: int,
        recorded: Recorded,
        kit_ids: dict[str, int],
        spellings: Spellings,
        auto_iso: set[tuple[str, str]],
    ) -> tuple[int, Inferred]:
        """The kit of a frame, added to `kit_ids` where it is new, and what is inferred without pixels."""
        body = body_key(recorded)
        by_path = self.declared.names_paths or body in self._apart
        paths = derived.paths_of(self._logbook, frame_id) if by_path else []
        kit, facts = frame_facts(
            recorded,
            self.declared.for_frame(recorded, paths),
            auto_iso_seen=(body, (recorded.taken_at or "")[:10]) in auto_iso,
        )
        named = spellings.of(identity(told_apart(recorded, paths, self._apart), kit))
        if lenses := self.declared.lenses_of(recorded):
            named = replace(named, lens_name=as_declared(named.lens_name, lenses))
        key = kit_key(named)
        if key not in kit_ids:
            kit_ids[key] = derived.add_kit(self._logbook, key, named)
        return kit_ids[key], facts


def _missing(
    facts: Inferred, reading: Reading | None, judged: Judged, why_not: MissingReason | None
) -> dict[str, str]:
    """Why facts of a frame are not known, those from its pixels included."""
    missing = dict(facts.missing)
    if judged.missing:
        missing["verdict"] = judged.missing
    if reading is None and why_not is not None:
        missing |= dict.fromkeys(MEASURED, why_not)
    return missing


def _auto_iso_seen(logbook: Logbook) -> set[tuple[str, str]]:
    return stored_auto_iso.seen(logbook, within_s=ISO_MOVED_WITHIN_S, fewest=FEWEST_ISO_MOVES)


def _camera_blur_px(
    reading: Reading | None, recorded: Recorded, calibrated: dict[camera_blur.Key, float]
) -> float | None:
    """The camera's own blur where it is calibrated; None for the default."""
    band = camera_blur.iso_band(recorded.iso)
    if reading is None or band is None:
        return None
    return calibrated.get((body_key(recorded), band, reading.measured_on))
