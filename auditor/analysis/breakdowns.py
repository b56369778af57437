"""Hit rates broken down by one thing at a time: descriptive, since nothing else is held alike."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from auditor.analysis.kit_table import FEWEST_ENCOUNTERS
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

# What frames are sorted by -> (SQL that gives the band of a frame, the unit it is in).
BANDS = {
    "light": ("cast(floor(i.light_value_ev / 2) * 2 AS INTEGER)", "EV, two stops from"),
    "shutter": ("cast(round(log2(f.exposure_time_s)) AS INTEGER)", "the nearest whole stop, s"),
    "keyword": ("word.value", "keyword"),
    "area": ("f.area_mode", "focus area mode"),
    "drive": ("f.drive_mode", "drive mode"),
    "hour": ("cast(substr(i.taken_at, 12, 2) AS INTEGER)", "hour of day, by the camera's clock"),
    "body": ("f.body_model", "body"),
    "lens": ("i.lens_name", "lens"),
    "converter": ("i.converter_factor", "converter factor"),
    "trip": ("(SELECT name FROM trips WHERE trips.trip_id = m.trip_id)", "trip"),
}
_MARKED = {
    stops: f"1/{mark}"
    for stops, mark in zip(
        range(-13, 0), (8000, 4000, 2000, 1000, 500, 250, 125, 60, 30, 15, 8, 4, 2), strict=True
    )
}
"""Shutter speeds as cameras mark them."""
NOT_KNOWN = "not known"
_RATES = """
SELECT {kit} AS kit_name, {band} AS band, m.encounter_id, count(*) AS frames,
       sum(v.verdict IN ('hit', 'miss')) AS judged, sum(v.verdict = 'hit') AS hits,
       sum(v.verdict = 'unclear') AS unclear
FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN kits AS k USING (kit_id)
JOIN verdicts AS v USING (frame_id) JOIN membership AS m USING (frame_id) {words}
WHERE NOT i.excluded AND (:trip IS NULL OR m.trip_id = :trip)
GROUP BY {kit}, band, m.encounter_id
"""
ACROSS_KITS = ("body", "lens", "converter")


def breakdown(logbook: Logbook, by: str, trip_id: int | None = None) -> pd.DataFrame:
    """Hit rates by one of BANDS: a row a kit and band; for body, lens and converter a row a band over all
    kits.

    Columns: kit_name (None over all kits), band, frames, encounters, judged, hits, unclear, hit_rate,
    hit_rate_low, hit_rate_high (95 %, clustered by encounter; None with fewer than three encounters). Frames
    of which the band is not known have a row of their own. Raises ValueError for another word.
    """
    import math

    import pandas as pd

    from auditor.statistics.intervals import clustered_wilson, pooled_icc

    if by not in BANDS:
        raise ValueError(f"by must be one of {', '.join(BANDS)}, not {by!r}")
    connection = logbook.db.conn
    # Not every SQLite is built with these.
    connection.create_function("floor", 1, lambda x: None if x is None else math.floor(x), deterministic=True)
    connection.create_function("log2", 1, lambda x: math.log2(x) if x else None, deterministic=True)
    sql = _RATES.format(
        kit="NULL" if by in ACROSS_KITS else "k.kit_name",
        band=BANDS[by][0],
        words="LEFT JOIN json_each(f.keywords) AS word" if by == "keyword" else "",
    )
    found = pd.DataFrame(
        [tuple(row) for row in logbook.query(sql, {"trip": trip_id})],
        columns=["kit_name", "band", "encounter_id", "frames", "judged", "hits", "unclear"],
    )
    rows = []
    for names, group in found.groupby(["kit_name", "band"], dropna=False, sort=True):
        judged = group[group["judged"] > 0]
        rate = None
        if len(judged) >= FEWEST_ENCOUNTERS:
            hits, frames = judged["hits"].to_numpy(), judged["judged"].to_numpy()
            rate = clustered_wilson(hits, frames, pooled_icc=pooled_icc([(hits, frames)]))
        rows.append(
            {
                "kit_name": None if by in ACROSS_KITS else names[0],
                "band": _told(by, names[1]),
                "frames": int(group["frames"].sum()),
                "encounters": len(judged),
                "judged": int(group["judged"].sum()),
                "hits": int(group["hits"].sum()),
                "unclear": int(group["unclear"].sum()),
                "hit_rate": rate and rate.estimate,
                "hit_rate_low": rate and rate.low,
                "hit_rate_high": rate and rate.high,
            }
        )
    return pd.DataFrame(rows, columns=list(_COLUMNS))


def _told(by: str, band: Any) -> Any:
    """A band as it is read."""
    if band is None or band != band:
        return NOT_KNOWN
    return _MARKED.get(int(band), f"{2.0**band:g}") if by == "shutter" else band


_COLUMNS = (
    "kit_name", "band", "frames", "encounters", "judged", "hits", "unclear", "hit_rate", "hit_rate_low",
    "hit_rate_high",
)  # fmt: skip
