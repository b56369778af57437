"""The kit table: what each kit got in focus, and what it cost in light."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from auditor.statistics.intervals import clustered_wilson, pooled_icc
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

FEWEST_ENCOUNTERS = 3
"""With fewer, only counts are shown: no interval could be meant."""

KIT_TABLE_MISSING = {
    "nothing_decided": "neither the pixels nor the camera's word decide any of these frames",
    "too_few_encounters": f"fewer than {FEWEST_ENCOUNTERS} encounters: counts only",
}

_BY_ENCOUNTER = """
SELECT i.kit_id, m.encounter_id,
       sum(v.verdict IN ('hit', 'miss')) AS judged,
       sum(v.verdict = 'hit') AS hits
FROM verdicts AS v JOIN inferred AS i USING (frame_id) JOIN membership AS m USING (frame_id)
{where} GROUP BY i.kit_id, m.encounter_id
"""
_FRAMES = """
SELECT i.kit_id, k.kit_name, k.converter_factor, m.scene_id, f.camera_word, f.iso, v.verdict,
       v.verdict_source IN ('pixels', 'scene') AS measured,
       i.iso_without_converter, i.forced_push_ev, i.light_value_ev,
       i.flags LIKE '%"iso_pushed"%' AS iso_pushed
FROM frames AS f JOIN inferred AS i USING (frame_id) JOIN kits AS k USING (kit_id)
LEFT JOIN verdicts AS v USING (frame_id) LEFT JOIN membership AS m USING (frame_id) {where}
"""


def kit_table(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """One row a kit, of one trip or of all.

    Returns
    -------
    DataFrame with the columns kit_id, kit_name, converter_factor, frames, scenes, judged (frames
    whose verdict is hit or miss), hits, unclear, measured (frames that pixels decided), silent, manual,
    hit_rate, hit_rate_low, hit_rate_high (95 %, clustered by encounter), hit_rate_missing (why there is no
    rate), median_iso, median_iso_without_converter, median_forced_push_ev, median_light_value_ev,
    iso_pushed_frames. Sorted by kit name.
    """
    import pandas as pd

    where = "WHERE NOT i.excluded" + ("" if trip_id is None else " AND m.trip_id = :trip")
    connection = logbook.db.conn
    parameters = {"trip": trip_id}
    frames = pd.read_sql_query(_FRAMES.format(where=where), connection, params=parameters)
    encounters = pd.read_sql_query(_BY_ENCOUNTER.format(where=where), connection, params=parameters)
    judged = encounters[encounters["judged"] > 0]
    clusters: dict[object, tuple[Any, Any]] = {
        kit_id: (group["hits"].to_numpy(), group["judged"].to_numpy())
        for kit_id, group in judged.groupby("kit_id")
    }
    pool = pooled_icc(list(clusters.values())) if clusters else None
    rows = []
    for kit_id, group in frames.groupby("kit_id"):
        word = group["camera_word"]
        factor = group["converter_factor"].iloc[0]
        rows.append(
            {
                "kit_id": kit_id,
                "kit_name": group["kit_name"].iloc[0],
                "converter_factor": None if pd.isna(factor) else factor,
                "frames": len(group),
                "scenes": group["scene_id"].nunique(),
                "encounters": len(clusters[kit_id][0]) if kit_id in clusters else 0,
                "judged": int(group["verdict"].isin(["hit", "miss"]).sum()),
                "hits": int((group["verdict"] == "hit").sum()),
                "unclear": int((group["verdict"] == "unclear").sum()),
                "measured": int(group["measured"].sum()),
                "silent": int((word == "silent").sum()),
                "manual": int((word == "manual").sum()),
                **_hit_rate(clusters.get(kit_id), pool),
                "median_iso": group["iso"].median(),
                "median_iso_without_converter": group["iso_without_converter"].median(),
                "median_forced_push_ev": group["forced_push_ev"].median(),
                "median_light_value_ev": group["light_value_ev"].median(),
                "iso_pushed_frames": int(group["iso_pushed"].sum()),
            }
        )
    return pd.DataFrame(rows).sort_values("kit_name", ignore_index=True) if rows else pd.DataFrame()


def _hit_rate(clusters: tuple[Any, Any] | None, pool: float | None) -> dict[str, object]:
    nothing = {"hit_rate": None, "hit_rate_low": None, "hit_rate_high": None}
    if clusters is None:
        return {**nothing, "hit_rate_missing": "nothing_decided"}
    hits, judged = clusters
    if len(hits) < FEWEST_ENCOUNTERS:
        return {**nothing, "hit_rate_missing": "too_few_encounters"}
    interval = clustered_wilson(hits, judged, pooled_icc=pool)
    return {
        "hit_rate": interval.estimate,
        "hit_rate_low": interval.low,
        "hit_rate_high": interval.high,
        "hit_rate_missing": None,
    }
