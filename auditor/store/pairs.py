"""Frames to be shown side by side: of one animal with a converter and without, or the sharpest of a kit."""

from __future__ import annotations

import json
from dataclasses import dataclass
from sqlite3 import Row

from auditor.store.logbook import Logbook

MOST_SECONDS = 60.0
"""Farther apart, an animal has moved on: then only equal keywords say that it is the same."""

_IN_FOCUS = """
SELECT i.frame_id, i.kit_id, m.encounter_id, i.taken_at, i.converter_factor, f.iso, f.keywords,
       86400.0 * julianday(i.taken_at) + m.shift_s AS at_s, i.blur_px,
       1000.0 * i.pixel_pitch_um * r.scale / i.focal_length_mm AS pixel_urad,
       coalesce(k.body_serial, k.body_model) AS body, k.lens_name AS lens,
       r.flags LIKE '%found_not_recorded%' AS place_found
FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
JOIN verdicts AS v USING (frame_id) JOIN readings AS r USING (frame_id) JOIN kits AS k USING (kit_id)
WHERE v.verdict = 'hit' AND NOT i.excluded AND r.region ->> 'x' IS NOT NULL AND pixel_urad IS NOT NULL
"""
# Asked encounter by encounter: over a whole trip SQLite would lay every frame beside every other.
_WITH_BOTH = """
SELECT m.encounter_id FROM membership AS m JOIN inferred AS i USING (frame_id)
WHERE m.trip_id = :trip AND m.encounter_id IS NOT NULL AND NOT i.excluded
GROUP BY 1 HAVING max(i.converter_factor > 1) AND max(i.converter_factor = 1) ORDER BY 1
"""
# The same body and lens first; then what is nearest in time, by quarters of a minute; then the sharpest.
_PAIRS = f"""
WITH in_focus AS MATERIALIZED ({_IN_FOCUS} AND m.encounter_id = :encounter)
SELECT it.frame_id, it.kit_id, it.iso, it.pixel_urad, bare.frame_id AS bare_frame_id,
       bare.kit_id AS bare_kit_id, bare.iso AS bare_iso, bare.pixel_urad AS bare_pixel_urad,
       abs(it.at_s - bare.at_s) AS seconds_apart, round(abs(it.at_s - bare.at_s) / 15) AS quarters_apart,
       it.body IS bare.body AND it.lens IS bare.lens AS same_lens,
       iif(it.keywords = bare.keywords, it.keywords, NULL) AS keywords,
       it.place_found + bare.place_found AS places_found, it.blur_px + bare.blur_px AS blur_px
FROM in_focus AS it JOIN in_focus AS bare USING (encounter_id)
WHERE it.converter_factor > 1 AND bare.converter_factor = 1
  AND (coalesce(it.keywords, '[]') = coalesce(bare.keywords, '[]') OR '[]' IN (it.keywords, bare.keywords)
       OR it.keywords IS NULL OR bare.keywords IS NULL)
  AND (seconds_apart <= :most_s OR (it.keywords = bare.keywords AND it.keywords <> '[]'))
ORDER BY same_lens DESC, seconds_apart > :most_s, places_found, quarters_apart,
         it.blur_px + bare.blur_px IS NULL, it.blur_px + bare.blur_px, it.frame_id, bare.frame_id
LIMIT :most
"""
# By the trip: a kit's frames of all trips are many more (the plus keeps SQLite from going by them).
_SHARPEST = f"""
SELECT frame_id, kit_id, iso, pixel_urad FROM ({_IN_FOCUS} AND m.trip_id = :trip AND +i.kit_id = :kit)
ORDER BY place_found, blur_px IS NULL, blur_px, frame_id LIMIT :most
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class InFocus:
    """A frame in focus that can be cut to an angle."""

    frame_id: int
    kit_id: int
    iso: float | None
    pixel_urad: float
    """The angle of a pixel that was measured, in microradians."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FramePair:
    """A frame behind a converter, and one with no converter beside it."""

    converted: InFocus
    bare: InFocus
    seconds_apart: float
    same_lens: bool
    """Whether body and lens are the same; else another body stood beside it."""
    keywords: tuple[str, ...]
    """Those of both, where they are equal; may be empty."""


def pairs_of_trip(logbook: Logbook, trip_id: int, *, most: int) -> list[FramePair]:
    """Pairs of one encounter, both in focus, within MOST_SECONDS or with equal keywords; the best first.

    Parameters
    ----------
    trip_id
        Of the trip.
    most
        How many at most.

    Returns
    -------
    list[FramePair]
        Two frames of different kits each.
    """
    found: list[Row] = []
    for row in logbook.query(_WITH_BOTH, {"trip": trip_id}):
        asked = {"encounter": row["encounter_id"], "most_s": MOST_SECONDS, "most": most}
        found += logbook.query(_PAIRS, asked)
    return [
        FramePair(
            converted=InFocus(**{name: row[name] for name in _FRAME}),
            bare=InFocus(**{name: row[f"bare_{name}"] for name in _FRAME}),
            seconds_apart=row["seconds_apart"],
            same_lens=bool(row["same_lens"]),
            keywords=tuple(json.loads(row["keywords"] or "[]")),
        )
        for row in sorted(found, key=_best_first)[:most]
    ]


def _best_first(row: Row) -> tuple[object, ...]:
    """The order of _PAIRS, over encounters."""
    return (
        not row["same_lens"],
        row["seconds_apart"] > MOST_SECONDS,
        row["places_found"],
        row["quarters_apart"],
        row["blur_px"] is None,
        row["blur_px"] or 0.0,
        row["frame_id"],
        row["bare_frame_id"],
    )


def sharpest_of_kit(logbook: Logbook, trip_id: int, kit_id: int, *, most: int) -> list[InFocus]:
    """The sharpest frames in focus of a kit on a trip, the sharpest first.

    Parameters
    ----------
    trip_id
        Of the trip.
    kit_id
        Of the kit.
    most
        How many at most.

    Returns
    -------
    list[InFocus]
        Frames that were measured.
    """
    rows = logbook.query(_SHARPEST, {"trip": trip_id, "kit": kit_id, "most": most})
    return [InFocus(**dict(row)) for row in rows]


_FRAME = ("frame_id", "kit_id", "iso", "pixel_urad")
