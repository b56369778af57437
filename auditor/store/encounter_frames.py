"""The frames of an encounter, burst by burst, as they are looked at by eye."""

from __future__ import annotations

import json
from dataclasses import dataclass

from auditor.store.logbook import Logbook

_ENCOUNTERS = """
SELECT e.encounter_id, e.first_at, e.last_at, e.frames, count(DISTINCT m.burst_id) AS bursts,
       count(DISTINCT i.kit_id) AS kits, coalesce(sum(v.verdict = 'hit'), 0) AS hits,
       coalesce(sum(c.choice = 'keep'), 0) AS kept, coalesce(sum(c.choice = 'leave'), 0) AS left
FROM encounters AS e JOIN membership AS m USING (encounter_id) JOIN inferred AS i USING (frame_id)
LEFT JOIN verdicts AS v USING (frame_id) LEFT JOIN choices AS c USING (frame_id)
WHERE e.trip_id = ? GROUP BY 1
ORDER BY datetime(e.first_at, (SELECT shift_s FROM membership WHERE frame_id = e.encounter_id) || ' seconds'),
         e.first_at, 1
"""
# Angles per pixel need the scale of the reading too: a raw may have been measured in a smaller picture.
_FRAMES = """
SELECT facts.frame_id, facts.burst_id, facts.kit_id, facts.path, facts.taken_at, facts.iso, facts.f_number,
       facts.exposure_time_s, facts.focal_length_mm, facts.blur_px, facts.verdict, facts.verdict_source,
       json_extract(facts.missing, '$.verdict') AS why_unclear, facts.camera_word, facts.flags,
       facts.chosen, f.orientation,
       1000.0 * facts.pixel_pitch_um * r.scale / facts.focal_length_mm AS pixel_urad,
       r.region, m.shift_s,
       EXISTS (SELECT 1 FROM files WHERE files.frame_id = facts.frame_id AND present = 1
               AND role <> 'sidecar') AS present
FROM frame_facts AS facts JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
JOIN bursts AS b ON b.burst_id = facts.burst_id
JOIN membership AS first ON first.frame_id = facts.burst_id
LEFT JOIN readings AS r USING (frame_id)
WHERE facts.frame_id IN (SELECT frame_id FROM membership WHERE encounter_id = ?)
ORDER BY datetime(b.first_at, first.shift_s || ' seconds'), b.first_at, facts.burst_id, m.position_in_burst,
         facts.frame_id
"""
Region = tuple[float, float, float, float]
"""Centre x, centre y, width and height, as fractions of the upright picture."""


@dataclass(frozen=True, slots=True, kw_only=True)
class EncounterLine:
    """An encounter in numbers."""

    encounter_id: int
    first_at: str
    last_at: str
    frames: int
    bursts: int
    kits: int
    hits: int
    kept: int
    left: int


@dataclass(frozen=True, slots=True, kw_only=True)
class EncounterFrame:
    """A frame as it is looked at: columns of frame_facts by their names, and where its focus area lies."""

    frame_id: int
    burst_id: int
    kit_id: int
    path: str | None
    taken_at: str
    iso: float | None
    f_number: float | None
    exposure_time_s: float | None
    focal_length_mm: float | None
    blur_px: float | None
    verdict: str
    verdict_source: str | None
    why_unclear: str | None
    """The reason of a verdict that is unclear."""
    camera_word: str | None
    flags: tuple[str, ...]
    chosen: str | None
    orientation: int | None
    pixel_urad: float | None
    """The angle of a pixel that was measured; None where sensor or focal length is not known."""
    region: Region | None
    """What was measured; None for a frame that was not."""
    present: bool
    """A picture of it was there when it was last looked for."""
    shift_s: float
    """Added to its time to put it in order among frames in other time zones."""


def encounters_of_trip(logbook: Logbook, trip_id: int) -> list[EncounterLine]:
    """The encounters of a trip, in order of time.

    Parameters
    ----------
    trip_id
        Of the trip.

    Returns
    -------
    list[EncounterLine]
        One a line of the list.
    """
    return [EncounterLine(**dict(row)) for row in logbook.query(_ENCOUNTERS, (trip_id,))]


def trip_of_encounter(logbook: Logbook, encounter_id: int) -> int | None:
    """The trip that an encounter is of; None where there is no such encounter.

    Parameters
    ----------
    encounter_id
        As `membership` has it.

    Returns
    -------
    int or None
        Its id.
    """
    rows = logbook.query("SELECT trip_id FROM encounters WHERE encounter_id = ?", (encounter_id,))
    return rows[0][0] if rows else None


def frames_of_encounter(logbook: Logbook, encounter_id: int) -> list[EncounterFrame]:
    """Its frames: burst by burst, and within each in the order they were shot.

    Parameters
    ----------
    encounter_id
        As `membership` has it.

    Returns
    -------
    list[EncounterFrame]
        Empty where there is no such encounter.
    """
    frames = []
    for row in logbook.query(_FRAMES, (encounter_id,)):
        values = dict(row)
        values["flags"] = tuple(json.loads(row["flags"]))
        values["region"] = _region(row["region"])
        values["present"] = bool(row["present"])
        frames.append(EncounterFrame(**values))
    return frames


def _region(stored: str | None) -> Region | None:
    if stored is None:
        return None
    part = json.loads(stored)
    return part["x"], part["y"], part["width"], part["height"]
