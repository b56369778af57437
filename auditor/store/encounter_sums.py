"""Frames summed by kit and encounter: kept in the logbook, or summed where they are asked for.

A million frames are some hundred thousand such sums.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from auditor.errors import CONTENT_FAILURES
from auditor.store import encounter_columns, summed
from auditor.store.body_key import body_key_sql
from auditor.store.encounter_columns import Part
from auditor.store.hit_probability import HIT_PROBABILITY, ON_SUBJECT, read_told
from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of
from auditor.store.unreadable import UNDECODABLE

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

NEAR_RECIPROCAL_STOPS = 0.5
"""A shutter this close to 1 / focal length was taken for the reach. Sums are made with it: where it changes,
`derive.freshness.VERSION` must."""
_REACH = 2.0**NEAR_RECIPROCAL_STOPS
_PART = 5000
"""Rows fetched at once: numbers of Python take ten times the room of those in arrays."""

# `compared`: weighed, and in known light.
_SUMS = """
    kit_id, coalesce(encounter_id, 0) AS encounter_id, coalesce(min(trip_id), 0) AS trip_id,
    count(*) AS frames,
    sum(judged_on_subject IN ('hit', 'miss')) AS judged, sum(judged_on_subject = 'hit') AS hits,
    sum(judged_on_subject = 'unclear') AS unclear,
    count(probability) AS weighed, total(probability) AS likely_hits,
    sum(kind IS 'word') AS by_word, sum(kind IS 'reading') AS by_reading,
    sum(compared AND kind IS 'word') AS compared_by_word,
    sum(compared AND kind IS 'reading') AS compared_by_reading,
    sum(verdict IN ('hit', 'miss')) AS framed_judged, sum(verdict = 'hit') AS framed_hits,
    sum(verdict_source IN ('pixels', 'scene')) AS measured,
    sum(camera_word = 'silent') AS silent, sum(camera_word = 'manual') AS manual,
    sum(unmetered) AS unmetered, sum(pushed) AS iso_pushed, sum(near_reciprocal) AS near_reciprocal,
    sum(compared) AS compared, total(iif(compared, probability, NULL)) AS compared_hits,
    avg(iif(compared, light_value_ev, NULL)) AS light_ev,
    avg(iif(compared, exposure_time_s, NULL)) AS exposure_time_s,
    avg(iif(compared AND focus_distance_m > 0, 1000 / focus_distance_m, NULL)) AS metre_mrad,
    sum(compared AND keywords <> '[]') AS keyworded,
    min(iif(compared, keywords, NULL)) AS first_keywords,
    max(iif(compared, keywords, NULL)) AS last_keywords,
    min(iif(compared, mode, NULL)) AS first_mode, max(iif(compared, mode, NULL)) AS last_mode,
    min(taken_at) AS first_at, max(taken_at) AS last_at, count(file_number) AS numbered,
    min(file_number) AS lowest, max(file_number) AS highest,
    min(iif(file_number >= 5000, file_number, NULL)) AS lowest_of_high,
    max(iif(file_number < 5000, file_number, NULL)) AS highest_of_low"""
_FRAMES = f"""
    SELECT i.kit_id, m.encounter_id, m.trip_id, v.verdict, v.verdict_source, f.camera_word, f.keywords,
           i.taken_at, f.file_number,
           i.light_value_ev, f.exposure_time_s, f.focus_distance_m,
           coalesce(f.area_mode, '') || ' / ' || coalesce(f.drive_mode, '') AS mode,
           i.flags LIKE '%"iso_pushed"%' AS pushed,
           i.missing IN (SELECT reasons_id FROM reasons
               WHERE reasons LIKE '%"light_value_ev": "manual_exposure"%') AS unmetered,
           i.converter_factor > 1 AND f.exposure_time_s * i.focal_length_mm BETWEEN {1 / _REACH} AND {_REACH}
               AS near_reciprocal,
           {ON_SUBJECT} AS judged_on_subject, {HIT_PROBABILITY} AS probability,
           iif({ON_SUBJECT} IS NULL OR v.hit_probability IS NULL, NULL,
               iif(v.verdict_source = 'camera_word', 'word', 'reading')) AS kind,
           coalesce({HIT_PROBABILITY} IS NOT NULL AND i.light_value_ev IS NOT NULL
               AND f.exposure_time_s > 0, 0) AS compared {{more}}
    FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN verdicts AS v USING (frame_id)
    LEFT JOIN membership AS m USING (frame_id) {{joined}}
    WHERE NOT i.excluded AND {{which}}"""
_READ = f"""
SELECT {", ".join(encounter_columns.NAMES)}
FROM (SELECT {_SUMS} FROM ({_FRAMES.format(more="", joined="", which=OF_TRIP)}) GROUP BY 1, 2)
"""
_TELLING = f"""
SELECT kit_id, {read_told("base", "kit_id")} AS base, {read_told("share", "kit_id")} AS share
FROM kits ORDER BY kit_id
"""
_TOLD_BY = ("by_word", "by_reading", "compared_by_word", "compared_by_reading")
"""How many of the weighed frames have a probability of which kind; the verdict of the others is sure."""

# What else is kept. A picture that could not be decoded counts as such whatever auditor tried it:
# `waiting_by_kit` adds those that another one tried.
_ASKED_IN_SQL = (
    "trip_id", "kit_id", "encounter_id", "frames", "by_word", "by_reading", "framed_judged", "framed_hits",
    "read_frames", "waiting", "lit", "lit_hits", "lit_light_ev", "lit_by_word", "lit_by_reading", "cropped",
    "crop_factors", "focused", "focal_lengths_mm", "sized", "sensor_diagonals_mm", "pitched",
    "pixel_pitches_um", "lens_widest_f_number", "longest_mm", "auto_iso", "auto_iso_frames",
    "auto_iso_lowest_ev", "auto_iso_highest_ev", "by_word_hits", "by_word_squares",
)  # fmt: skip
"""Columns of `encounter_sums`; those of `encounter_columns` are read as a whole."""
_KEPT_COLUMNS = tuple(dict.fromkeys((*encounter_columns.NAMES, *_ASKED_IN_SQL)))
_MORE_SUMS = """,
    count(reading) AS read_frames, sum(reading IS NULL AND to_measure) AS waiting,
    sum(lit) AS lit, total(iif(lit, probability, NULL)) AS lit_hits,
    avg(iif(lit, light_value_ev, NULL)) AS lit_light_ev,
    count(crop_factor) AS cropped, total(crop_factor) AS crop_factors,
    count(focal_length_mm) AS focused, total(focal_length_mm) AS focal_lengths_mm,
    count(sensor_diagonal_mm) AS sized, total(sensor_diagonal_mm) AS sensor_diagonals_mm,
    count(pixel_pitch_um) AS pitched, total(pixel_pitch_um) AS pixel_pitches_um,
    min(lens_widest_f_number) AS lens_widest_f_number,
    max(iif(lens_widest_f_number > 0 AND pixel_pitch_um > 0 AND sensor_diagonal_mm > 0
            AND focal_length_mm > 0, focal_length_mm, NULL)) AS longest_mm,
    max(highest_auto_iso) AS auto_iso,
    iif(max(highest_auto_iso) IS NULL, NULL, sum(own_iso = highest_auto_iso)) AS auto_iso_frames,
    min(iif(own_iso = highest_auto_iso, light_value_ev, NULL)) AS auto_iso_lowest_ev,
    max(iif(own_iso = highest_auto_iso, light_value_ev, NULL)) AS auto_iso_highest_ev,
    total(iif(kind IS 'word', probability, NULL)) AS by_word_hits,
    total(iif(kind IS 'word', probability * probability, NULL)) AS by_word_squares,
    sum(lit AND kind IS 'word') AS lit_by_word, sum(lit AND kind IS 'reading') AS lit_by_reading"""
_MORE_OF_FRAMES = f""",
           r.frame_id AS reading,
           r.frame_id IS NULL AND EXISTS (
               SELECT 1 FROM files AS o
               WHERE o.frame_id = i.frame_id AND o.present = 1 AND o.role <> 'sidecar'
                 AND (o.path, o.size_bytes, o.modified_at) NOT IN {UNDECODABLE}) AS to_measure,
           {HIT_PROBABILITY} IS NOT NULL AND i.light_value_ev IS NOT NULL AS lit,
           i.crop_factor, i.focal_length_mm, i.sensor_diagonal_mm, i.pixel_pitch_um,
           i.lens_widest_f_number,
           iif(f.auto_iso, f.iso, NULL) AS own_iso,
           max(iif(f.auto_iso, f.iso, NULL)) OVER (PARTITION BY i.kit_id, m.encounter_id)
               AS highest_auto_iso"""
_WITH_READINGS = "LEFT JOIN readings AS r USING (frame_id)"
_TO_KEEP = f"""
SELECT {", ".join(_KEPT_COLUMNS)} FROM (SELECT {_SUMS} {_MORE_SUMS}
FROM ({_FRAMES.format(more=_MORE_OF_FRAMES, joined=_WITH_READINGS, which="{which}")})
GROUP BY 1, 2)
"""
_KEEP = f"""
INSERT INTO encounter_sums ({", ".join(_ASKED_IN_SQL)}) VALUES ({", ".join("?" * len(_ASKED_IN_SQL))})
"""

_KITS = """
SELECT k.kit_id, k.kit_name, k.body_make, k.body_model, k.body_serial, k.lens_name, k.converter_factor,
       i.crop_factor, i.focal_length_mm, i.sensor_diagonal_mm,
       i.pixel_pitch_um, i.lens_widest_f_number
FROM kits AS k LEFT JOIN ({means} GROUP BY kit_id) AS i USING (kit_id) ORDER BY k.kit_name
"""
_MEANS = """SELECT kit_id, avg(crop_factor) AS crop_factor, avg(focal_length_mm) AS focal_length_mm,
           avg(sensor_diagonal_mm) AS sensor_diagonal_mm, avg(pixel_pitch_um) AS pixel_pitch_um,
           min(lens_widest_f_number) AS lens_widest_f_number
    FROM inferred WHERE NOT excluded"""
_MEANS_OF_SUMS = """SELECT kit_id, sum(crop_factors) / sum(cropped) AS crop_factor,
           sum(focal_lengths_mm) / sum(focused) AS focal_length_mm,
           sum(sensor_diagonals_mm) / sum(sized) AS sensor_diagonal_mm,
           sum(pixel_pitches_um) / sum(pitched) AS pixel_pitch_um,
           min(lens_widest_f_number) AS lens_widest_f_number
    FROM encounter_sums"""
_JUDGED = f"""
SELECT i.kit_id, sum({HIT_PROBABILITY}), count(*)
FROM main.inferred AS i JOIN verdicts AS v USING (frame_id) JOIN main.membership AS m USING (frame_id)
WHERE NOT i.excluded AND {HIT_PROBABILITY} IS NOT NULL GROUP BY i.kit_id, m.encounter_id ORDER BY 1
"""
_JUDGED_OF_SUMS = ("kit_id", "encounter_id", "weighed", "likely_hits")
# A body's Auto-ISO stopped at its limit where its highest value of all trips comes up in several
# encounters, though the light was not the same.
_AT_ISO_LIMIT = """
WITH auto AS ({auto}), limits AS (
    SELECT body, iso FROM auto JOIN (SELECT body, max(iso) AS iso FROM auto GROUP BY body) USING (body, iso)
    GROUP BY body
    HAVING count(DISTINCT encounter_id) >= 3 AND max(highest_ev) - min(lowest_ev) >= 0.5
)
SELECT kit_id, sum(frames) FROM auto JOIN limits USING (body, iso)
WHERE :trip IS NULL OR trip_id = :trip GROUP BY kit_id
"""
_AUTO = f"""
    SELECT i.kit_id, m.trip_id, m.encounter_id, f.iso, i.light_value_ev AS lowest_ev,
           i.light_value_ev AS highest_ev, 1 AS frames, {body_key_sql("k")} AS body
    FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
    JOIN kits AS k USING (kit_id)
    WHERE f.auto_iso AND f.iso IS NOT NULL AND NOT i.excluded"""
_AUTO_OF_SUMS = f"""
    SELECT kit_id, trip_id, encounter_id, auto_iso AS iso, auto_iso_lowest_ev AS lowest_ev,
           auto_iso_highest_ev AS highest_ev, auto_iso_frames AS frames, {body_key_sql("kits")} AS body
    FROM encounter_sums JOIN kits USING (kit_id) WHERE auto_iso IS NOT NULL AND encounter_id > 0"""


@dataclass(frozen=True, slots=True, kw_only=True)
class KitFacts:
    """A body, a lens and a converter, with what their frames tell of sensor and lens.

    None where no frame tells.
    """

    kit_id: int
    kit_name: str
    body_make: str | None
    body_model: str | None
    body_serial: str | None
    lens_name: str | None
    converter_factor: float | None
    """1 for none; None where it is not known."""
    crop_factor: float | None
    focal_length_mm: float | None
    """In effect, converter included; the mean over the frames of a zoom."""
    sensor_diagonal_mm: float | None
    """Of the whole sensor, whatever was cropped in camera."""
    pixel_pitch_um: float | None
    lens_widest_f_number: float | None
    """Of the lens without a converter, the smallest that its frames tell."""

    @property
    def converted(self) -> bool:
        """Whether a converter was on."""
        return (self.converter_factor or 1.0) > 1.0


def encounters(logbook: Logbook, trip_id: int | None, told: Mapping[str, Any]) -> dict[str, Any]:
    """Frames summed by kit and encounter, as columns, in order of kits, then of encounters.

    Parameters
    ----------
    trip_id
        None for all trips.
    told
        As `hit_probability.telling` gives it.

    Returns
    -------
    dict[str, ndarray or Words]
        Those of `encounter_columns.NAMES` but for the kinds of probabilities. In their place: `base` is what
        `likely_hits` would be if all had missed, `told` how much more if all had hit; `compared_base` and
        `compared_told` are the same of `compared_hits`. Ids are 0 for frames in no encounter, and in no trip.
    """
    columns = encounter_columns.columns_of(_parts(logbook, trip_id))
    by_word, by_reading, compared_by_word, compared_by_reading = (columns.pop(name) for name in _TOLD_BY)
    base, share = _read_told(logbook, columns["kit_id"], told)
    word_base, word_share = told["word_base"], told["word_share"]
    for before, frames, words, readings in (
        ("", columns["weighed"], by_word, by_reading),
        ("compared_", columns["compared"], compared_by_word, compared_by_reading),
    ):
        columns[f"{before}base"] = words * word_base + readings * base
        columns[f"{before}told"] = frames - words - readings + words * word_share + readings * share
    return columns


def _parts(logbook: Logbook, trip_id: int | None) -> Iterable[Part]:
    if summed.stand_for(logbook):
        return encounter_columns.kept(logbook, trip_id)
    cursor = logbook.connection.execute(asked_of(_READ, trip_id), {"trip": trip_id})
    cursor.row_factory = None
    return map(encounter_columns.part_of, iter(lambda: cursor.fetchmany(_PART), []))


def _read_told(logbook: Logbook, kit_id: NDArray[np.int64], told: Mapping[str, Any]) -> NDArray[np.float64]:
    """What the probabilities of readings tell, of the kit of each row: base and share, shape (2, rows)."""
    import numpy as np

    kits = np.array([tuple(row) for row in logbook.query(_TELLING, told)], dtype=np.float64).reshape(-1, 3)
    return np.asarray(kits[np.searchsorted(kits[:, 0], kit_id), 1:].T)


def keep(logbook: Logbook, trip_id: int) -> None:
    """Sum the frames of a trip, and keep the sums; inside `writing()`.

    Parameters
    ----------
    trip_id
        Of a trip without sums, or `summed.NO_TRIP`.
    """
    sql = _TO_KEEP.format(which=summed.frames_of(trip_id))
    cursor = logbook.connection.execute(
        sql, {"trip": trip_id, "content_failures": json.dumps(CONTENT_FAILURES)}
    )
    cursor.row_factory = None
    rows = cursor.fetchall()
    encounter_columns.keep(logbook, trip_id, [row[: len(encounter_columns.NAMES)] for row in rows])
    places = [_KEPT_COLUMNS.index(name) for name in _ASKED_IN_SQL]
    logbook.execute_many(_KEEP, ([row[place] for place in places] for row in rows))


def known_kits(logbook: Logbook) -> list[KitFacts]:
    """Every kit with the means of what its frames tell of lens and sensor, in order of names."""
    means = _MEANS_OF_SUMS if summed.stand_for(logbook) else _MEANS
    return [KitFacts(**row) for row in logbook.query(_KITS.format(means=means))]


def judged_of_all_trips(logbook: Logbook) -> list[tuple[NDArray[np.float64], NDArray[np.int64]]]:
    """Likely hits and weighed frames of each encounter, kit by kit; over the whole logbook in any case."""
    import numpy as np

    # Chosen frames do not matter here, so the sums serve even then.
    if summed.all_stand(logbook):
        columns = encounter_columns.columns_of(encounter_columns.kept(logbook, None), _JUDGED_OF_SUMS)
        judged = (columns["weighed"] > 0) & (columns["encounter_id"] > 0)
        kits, hits, weighed = (columns[name][judged] for name in ("kit_id", "likely_hits", "weighed"))
    else:
        rows = np.array([tuple(row) for row in logbook.query(_JUDGED)], dtype=np.float64).reshape(-1, 3)
        kits, hits, weighed = rows[:, 0], rows[:, 1], rows[:, 2].astype(np.int64)
    starts = np.flatnonzero(np.diff(kits)) + 1
    return list(zip(np.split(hits, starts), np.split(weighed, starts), strict=True)) if len(kits) else []


def frames_at_iso_limit(logbook: Logbook, trip_id: int | None) -> dict[int, int]:
    """Frames in which Auto-ISO stood at its limit, by kit_id.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    dict[int, int]
        Kits without such frames are left out.
    """
    auto = _AUTO_OF_SUMS if summed.stand_for(logbook) else _AUTO
    return {row[0]: row[1] for row in logbook.query(_AT_ISO_LIMIT.format(auto=auto), {"trip": trip_id})}
