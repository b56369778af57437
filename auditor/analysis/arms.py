"""Frames gathered by kit and encounter: what every rate and comparison is made of.

The logbook does the gathering, so that a million frames come out as some thousands of rows.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

NEAR_RECIPROCAL_STOPS = 0.5
"""A shutter this close to 1 / focal length was taken for the reach."""
MIXED = "mixed"
"""What animals did where the frames of an encounter differ in it."""

# `compared`: judged by one angle for all kits where pixels decided, else by the camera's word, which
# magnification does not touch; in known light.
_ARMS = """
SELECT kit_id, encounter_id, min(trip_id) AS trip_id, count(*) AS frames,
       sum(verdict IN ('hit', 'miss')) AS judged, sum(verdict = 'hit') AS hits,
       sum(verdict = 'unclear') AS unclear, sum(verdict_source IN ('pixels', 'scene')) AS measured,
       sum(camera_word = 'silent') AS silent, sum(camera_word = 'manual') AS manual,
       sum(pushed) AS iso_pushed, sum(near_reciprocal) AS near_reciprocal,
       sum(compared) AS compared, sum(compared AND judged_on_subject = 'hit') AS compared_hits,
       avg(iif(compared, light_value_ev, NULL)) AS light_ev,
       avg(iif(compared, exposure_time_s, NULL)) AS exposure_time_s,
       avg(iif(compared AND focus_distance_m > 0, 1000 / focus_distance_m, NULL)) AS metre_mrad,
       sum(compared AND keywords <> '[]') AS keyworded,
       min(iif(compared, keywords, NULL)) AS first_keywords,
       max(iif(compared, keywords, NULL)) AS last_keywords,
       min(iif(compared, mode, NULL)) AS first_mode, max(iif(compared, mode, NULL)) AS last_mode
FROM (
    SELECT i.kit_id, m.encounter_id, m.trip_id, v.verdict, v.verdict_source, f.camera_word, f.keywords,
           i.light_value_ev, f.exposure_time_s, f.focus_distance_m,
           coalesce(f.area_mode, '') || ' / ' || coalesce(f.drive_mode, '') AS mode,
           i.flags LIKE '%"iso_pushed"%' AS pushed,
           i.converter_factor > 1 AND f.exposure_time_s * i.focal_length_mm BETWEEN :low AND :high
               AS near_reciprocal,
           coalesce(v.verdict_on_subject, iif(v.verdict_source = 'camera_word', v.verdict, NULL))
               AS judged_on_subject,
           coalesce(coalesce(v.verdict_on_subject, iif(v.verdict_source = 'camera_word', v.verdict, NULL))
               IN ('hit', 'miss') AND i.light_value_ev IS NOT NULL AND f.exposure_time_s > 0, 0) AS compared
    FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN verdicts AS v USING (frame_id)
    LEFT JOIN membership AS m USING (frame_id)
    WHERE NOT i.excluded AND (:trip IS NULL OR m.trip_id = :trip)
) GROUP BY kit_id, encounter_id
"""

# File numbers run from 0001 to 9999 and begin again (DCF, CIPA DC-009). A gap longer than this,
# or over half a day, is taken for another card or another outing.
LARGEST_GAP = 300
_DELETED = """
SELECT kit_id, encounter_id, sum(gap) AS deleted FROM (
    SELECT i.kit_id, m.encounter_id, i.excluded,
           (f.file_number - lag(f.file_number) OVER one_body + 9999) % 9999 - 1 AS gap,
           julianday(i.taken_at) - julianday(lag(i.taken_at) OVER one_body) AS days
    FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN membership AS m USING (frame_id)
    WHERE f.file_number IS NOT NULL AND i.taken_at IS NOT NULL AND (:trip IS NULL OR m.trip_id = :trip)
    WINDOW one_body AS (PARTITION BY f.body_make, f.body_model, f.body_serial
                        ORDER BY i.taken_at, m.position_in_burst, f.file_number)
) WHERE gap BETWEEN 1 AND :largest AND days < 0.5 AND NOT excluded GROUP BY kit_id, encounter_id
"""


def arms(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """One row a kit in an encounter, of one trip or of all; frames without a time have no encounter.

    Columns: kit_id, encounter_id, trip_id; counts frames, judged, hits, unclear, measured, silent, manual,
    iso_pushed, near_reciprocal, compared, compared_hits, keyworded; means over the compared frames light_ev,
    exposure_time_s, metre_mrad (what a metre measures at the distance of focus); activity by keywords and
    activity by focus area and drive mode (None where not recorded); deleted: frames that gaps in the file
    numbers leave room for, counted to the kit of the frame that follows.
    """
    import pandas as pd

    reach = 2.0**NEAR_RECIPROCAL_STOPS
    found = logbook.query(_ARMS, {"trip": trip_id, "low": 1 / reach, "high": reach})
    names = list(found[0].keys() if found else _COLUMNS)
    table = pd.DataFrame([tuple(row) for row in found], columns=names)
    table["encounter_id"] = table["encounter_id"].astype("Int64")
    for kind in ("keywords", "mode"):
        same = table[f"first_{kind}"] == table[f"last_{kind}"]
        table[f"activity_by_{kind}"] = table.pop(f"first_{kind}").where(same, MIXED)
        table = table.drop(columns=f"last_{kind}")
    table.loc[table["activity_by_mode"] == " / ", "activity_by_mode"] = None
    missing = logbook.query(_DELETED, {"trip": trip_id, "largest": LARGEST_GAP})
    gaps = pd.DataFrame([tuple(row) for row in missing], columns=["kit_id", "encounter_id", "deleted"])
    gaps["encounter_id"] = gaps["encounter_id"].astype("Int64")
    table = table.merge(gaps, how="left", on=["kit_id", "encounter_id"])
    table["deleted"] = table["deleted"].fillna(0).astype(int)
    return table


_COLUMNS = (
    "kit_id", "encounter_id", "trip_id", "frames", "judged", "hits", "unclear", "measured",
    "silent", "manual",
    "iso_pushed", "near_reciprocal", "compared", "compared_hits", "light_ev", "exposure_time_s", "metre_mrad",
    "keyworded", "first_keywords", "last_keywords", "first_mode", "last_mode",
)  # fmt: skip
