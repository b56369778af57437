"""Blur that the frames of a scene tell together."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from auditor.records import CriterionFacts
from auditor.store import readings, reasons
from auditor.store.logbook import Logbook
from auditor.store.readings import Reading
from auditor.words import Verdict, VerdictSource

_OF_TOUCHED_TRIPS = "m.trip_id IN (SELECT trip_id FROM membership JOIN touched USING (frame_id))"
_SCENES = f"""
SELECT m.scene_id, m.frame_id, i.taken_at, m.shift_s, f.iso, i.f_number, i.focal_length_mm, f.camera_word,
       i.camera_blur_px,
       v.verdict, v.verdict_source, v.verdict_on_subject, i.flags, n.reasons AS missing,
       i.pixel_pitch_um, i.sensor_diagonal_mm, i.converter_factor
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN frames AS f USING (frame_id)
JOIN readings AS r USING (frame_id) JOIN verdicts AS v USING (frame_id)
JOIN reasons AS n ON n.reasons_id = i.missing
WHERE r.rings IS NOT NULL AND r.sigma_px IS NOT NULL AND {_OF_TOUCHED_TRIPS}
ORDER BY m.scene_id, datetime(i.taken_at, m.shift_s || ' seconds'), i.taken_at, m.frame_id
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneFrame:
    """A measured frame of a scene."""

    scene_id: int
    frame_id: int
    taken_at: str
    shift_s: float = 0.0
    """Added to that time to compare it with others."""
    iso: float | None = None
    f_number: float | None = None
    focal_length_mm: float | None = None
    camera_word: str | None
    camera_blur_px: float | None = None
    verdict: Verdict
    """Its own, with what decided it and that on the subject."""
    verdict_source: VerdictSource
    verdict_on_subject: Verdict | None
    flags: tuple[str, ...] = ()
    missing: dict[str, str] = field(default_factory=dict)
    facts: CriterionFacts
    reading: Reading


@dataclass(frozen=True, slots=True, kw_only=True)
class SceneBlur:
    """What a scene tells of one of its frames."""

    frame_id: int
    together_id: int
    """The first of the frames that were read together."""
    blur_px: float
    blur_low_px: float
    blur_high_px: float
    place: int
    """Among those read together, 0 for the sharpest."""
    verdict: Verdict
    verdict_source: VerdictSource
    verdict_on_subject: Verdict | None
    hit_probability: float | None
    flags: tuple[str, ...]
    missing: dict[str, str]


def scenes(logbook: Logbook) -> Iterator[list[SceneFrame]]:
    """Measured frames of the trips of touched ones, scene by scene, in order of time."""
    rows = logbook.query(_SCENES)
    for _scene_id, scene in groupby(rows, key=lambda row: row["scene_id"]):
        members = list(scene)
        if len(members) > 1:
            measured = readings.of_frames(logbook, [row["frame_id"] for row in members])
            yield [_frame(dict(row), measured[row["frame_id"]]) for row in members]


def _frame(row: dict[str, Any], reading: Reading) -> SceneFrame:
    subject = row["verdict_on_subject"]
    decoded = {
        "verdict": Verdict(row["verdict"]),
        "verdict_source": VerdictSource(row["verdict_source"]),
        "verdict_on_subject": Verdict(subject) if subject else None,
        "flags": tuple(json.loads(row["flags"])),
        "missing": json.loads(row["missing"]),
    }
    facts = CriterionFacts(**{name: row.pop(name) for name in CriterionFacts._fields})
    return SceneFrame(**row | decoded, facts=facts, reading=reading)


def read_together(logbook: Logbook) -> list[int]:
    """Frames of the trips of touched ones that were read together: their scene may hold others now."""
    sql = f"SELECT m.frame_id FROM membership AS m JOIN scene_blur USING (frame_id) WHERE {_OF_TOUCHED_TRIPS}"
    return [row[0] for row in logbook.query(sql)]


def forget(logbook: Logbook, frame_ids: list[int]) -> None:
    """Take back what scenes told of these frames; inside `writing()`.

    Parameters
    ----------
    frame_ids
        Of frames.
    """
    logbook.execute_many("DELETE FROM scene_blur WHERE frame_id = ?", [(frame_id,) for frame_id in frame_ids])


def write(logbook: Logbook, blurs: list[SceneBlur]) -> None:
    """Keep what a scene told of its frames, and the verdicts that follow; inside `writing()`.

    Parameters
    ----------
    blurs
        One a frame.
    """
    logbook.execute_many(
        "INSERT OR REPLACE INTO scene_blur VALUES (?, ?, ?, ?, ?, ?)",
        [
            (blur.frame_id, blur.together_id, blur.blur_px, blur.blur_low_px, blur.blur_high_px, blur.place)
            for blur in blurs
        ],
    )
    texts = [reasons.as_text(blur.missing) for blur in blurs]
    numbers = reasons.numbers(logbook, texts)
    logbook.execute_many(
        "UPDATE inferred SET blur_px = ?, flags = ?, missing = ? WHERE frame_id = ?",
        [
            (blur.blur_px, json.dumps(blur.flags), numbers[text], blur.frame_id)
            for blur, text in zip(blurs, texts, strict=True)
        ],
    )
    logbook.execute_many(
        "UPDATE verdicts SET verdict = ?, verdict_source = ?, verdict_on_subject = ?, hit_probability = ? "
        "WHERE frame_id = ?",
        [
            (own.verdict, own.verdict_source, own.verdict_on_subject, own.hit_probability, own.frame_id)
            for own in blurs
        ],
    )
