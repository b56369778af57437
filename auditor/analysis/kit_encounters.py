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
       min(iif(compared, mode, NULL)) AS first_mode, max(iif(compared, mode, NULL)) AS last_mode,
       min(taken_at) AS first_at, max(taken_at) AS last_at, count(file_number) AS numbered,
       min(file_number) AS lowest, max(file_number) AS highest,
       min(iif(file_number >= 5000, file_number, NULL)) AS lowest_of_high,
       max(iif(file_number < 5000, file_number, NULL)) AS highest_of_low
FROM (
    SELECT i.kit_id, m.encounter_id, m.trip_id, v.verdict, v.verdict_source, f.camera_word, f.keywords,
           i.taken_at, f.file_number,
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

LARGEST_GAP = 1000
"""A longer gap in the file numbers between two scenes is taken for another card."""
LONGEST_PAUSE_H = 12.0
"""As is one over a longer pause."""
FEWEST_BACK = 2
LAST_NUMBER = 9999
"""File numbers run from 0001 to 9999 and begin again (DCF, CIPA DC-009, S second-hand)."""


def kit_encounters(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """One row a kit in an encounter, of one trip or of all; frames without a time have no encounter.

    Columns: kit_id, encounter_id, trip_id; counts frames, judged, hits, unclear, measured, silent, manual,
    iso_pushed, near_reciprocal, compared, compared_hits, keyworded; means over the compared frames light_ev,
    exposure_time_s, metre_mrad (what a metre measures at the distance of focus); activity by keywords and
    activity by focus area and drive mode (None where not recorded); deleted: frames that gaps in the file
    numbers leave room for (0 for bodies without a serial number whose numbers run back and forth).
    """
    import pandas as pd

    reach = 2.0**NEAR_RECIPROCAL_STOPS
    cursor = logbook.db.conn.execute(_ARMS, {"trip": trip_id, "low": 1 / reach, "high": reach})
    cursor.row_factory = None
    names = [column[0] for column in cursor.description]
    table = pd.DataFrame(cursor.fetchall(), columns=names)
    table["encounter_id"] = table["encounter_id"].astype("Int64")
    for kind in ("keywords", "mode"):
        same = table[f"first_{kind}"] == table[f"last_{kind}"]
        table[f"activity_by_{kind}"] = table.pop(f"first_{kind}").where(same, MIXED)
        table = table.drop(columns=f"last_{kind}")
    table.loc[table["activity_by_mode"] == " / ", "activity_by_mode"] = None
    bodies = {row["kit_id"]: row["body"] for row in logbook.query(_BODIES)}
    table["deleted"] = _deleted(table.assign(body=table["kit_id"].map(bodies)))
    return table.drop(columns=["first_at", "last_at", "numbered", *_NUMBERS])


_NUMBERS = ["lowest", "highest", "lowest_of_high", "highest_of_low"]
_BODIES = (
    "SELECT kit_id, body_make || '|' || body_model || '|' || coalesce(body_serial, '') AS body FROM kits"
)


def _deleted(table: pd.DataFrame) -> pd.Series[float]:
    """Frames that gaps in the file numbers of a body leave room for, a number a row of the table.

    A gap between two scenes may have been the end of one or the beginning of the other: half for each.
    Scenes of one body that overlap in time share their gaps by the frames that each has.
    """
    import numpy as np
    import pandas as pd

    times = {name: pd.to_datetime(table[name], format="ISO8601") for name in ("first_at", "last_at")}
    known = table.assign(**times)[(table["numbered"] > 0) & table["encounter_id"].notna()]
    known = known.sort_values(["body", "first_at"])
    ended = known.groupby("body")["last_at"].cummax().shift()
    apart = (known["body"] != known["body"].shift()) | (known["first_at"] >= ended)
    known["stretch"] = apart.cumsum()
    stretches = known.groupby("stretch").agg(
        body=("body", "first"), first_at=("first_at", "min"), last_at=("last_at", "max"),
        numbered=("numbered", "sum"), lowest=("lowest", "min"), highest=("highest", "max"),
        lowest_of_high=("lowest_of_high", "min"), highest_of_low=("highest_of_low", "max"),
    )  # fmt: skip
    around = (
        stretches["highest"] - stretches["lowest"] > LAST_NUMBER / 2
    )  # the counter began again in between
    first = stretches["lowest"].where(~around, stretches["lowest_of_high"])
    last = stretches["highest"].where(~around, stretches["highest_of_low"])
    inside = (last - first) % LAST_NUMBER + 1 - stretches["numbered"]
    before = (first - last.shift()) % LAST_NUMBER - 1
    pause_h = (stretches["first_at"] - stretches["last_at"].shift()).dt.total_seconds() / 3600
    follows = (stretches["body"] == stretches["body"].shift()) & (pause_h < LONGEST_PAUSE_H)
    between = np.where(follows & (before > 0) & (before <= LARGEST_GAP), before, 0.0)
    within = inside.clip(lower=0.0)
    # Bodies without a serial number may be several: their numbers then run back and forth, and tell nothing.
    back = follows & (before > LAST_NUMBER / 2)
    several = back.groupby(stretches["body"]).transform("sum") >= FEWEST_BACK
    halves = between / 2 + np.append(between[1:], 0.0) / 2
    stretches["deleted"] = np.where(several, 0.0, within + halves)
    of_stretch = stretches.loc[known["stretch"], ["deleted", "numbered"]].set_index(known.index)
    shares = of_stretch["deleted"] * known["numbered"] / of_stretch["numbered"]
    return shares.reindex(table.index).fillna(0.0)
