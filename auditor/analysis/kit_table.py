"""The kit table: what each kit got in focus, and what it cost in light."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from auditor.analysis.kit_encounters import kit_encounters
from auditor.statistics.intervals import clustered_wilson, pooled_icc
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

FEWEST_ENCOUNTERS = 3
"""With fewer, only counts are shown: no interval could be meant."""

KIT_TABLE_MISSING = {
    "no_time": "its judged frames have no time, so they are in no encounter",
    "nothing_decided": "neither the pixels nor the camera's word decide any of these frames",
    "too_few_encounters": f"fewer than {FEWEST_ENCOUNTERS} encounters: counts only",
}

_LIGHT = """
SELECT i.kit_id, f.iso, i.iso_without_converter, i.forced_push_ev, i.light_value_ev
FROM inferred AS i JOIN frames AS f USING (frame_id) {membership}
WHERE NOT i.excluded {of_trip}
"""
# A body's Auto-ISO stopped at its limit where its highest value of all trips comes up in several
# encounters, though
# the light was not the same.
_AT_ISO_LIMIT = """
WITH auto AS (
    SELECT i.kit_id, m.trip_id, m.encounter_id, i.light_value_ev, f.iso,
           f.body_make || f.body_model || coalesce(f.body_serial, '') AS body
    FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
    WHERE f.auto_iso AND f.iso IS NOT NULL AND NOT i.excluded
), limits AS (
    SELECT body, iso FROM auto JOIN (SELECT body, max(iso) AS iso FROM auto GROUP BY body) USING (body, iso)
    GROUP BY body HAVING count(DISTINCT encounter_id) >= 3 AND max(light_value_ev) - min(light_value_ev) >=
    0.5
)
SELECT kit_id, count(*) FROM auto JOIN limits USING (body, iso)
WHERE :trip IS NULL OR trip_id = :trip GROUP BY kit_id
"""
_KITS = "SELECT kit_id, kit_name, converter_factor FROM kits"


def kit_table(
    logbook: Logbook, trip_id: int | None = None, *, gathered: pd.DataFrame | None = None
) -> pd.DataFrame:
    """One row a kit, of one trip or of all.

    `gathered` are the rows of `kit_encounters` where they were made already.

    Returns
    -------
    DataFrame with the columns kit_id, kit_name, converter_factor, frames, scenes, encounters (that hold
    judged frames), judged (frames whose verdict is hit or miss), hits, unclear, measured (frames that
    pixels decided), silent, manual, hit_rate, hit_rate_low, hit_rate_high (95 %, clustered by encounter),
    hit_rate_frames (those with a time), hit_rate_missing (why there is no rate),
    hit_rate_if_unclear_missed, hit_rate_if_unclear_hit (bounds: all unclear frames misses, or all hits),
    deleted (frames that gaps in the file numbers leave room for), hit_rate_if_deleted_missed; median_iso,
    quartiles lower_iso and upper_iso, median_iso_without_converter, median_forced_push_ev,
    median_light_value_ev, auto_iso_at_limit_frames (ISO would have gone higher: its cost is "at least"),
    iso_pushed_frames and iso_pushed_share (over your ISO ceiling, and under it on the bare lens),
    near_reciprocal_frames and shutter_for_reach_ev (frames whose shutter was near 1 / focal length, and the
    stops that the longer reach then asked for). Sorted by kit
    name."""
    import pandas as pd

    table = kit_encounters(logbook, trip_id) if gathered is None else gathered
    if table.empty:
        return pd.DataFrame()
    kits = {row["kit_id"]: dict(row) for row in logbook.query(_KITS)}
    light = _light_of_kits(logbook, trip_id)
    at_limit = {row[0]: row[1] for row in logbook.query(_AT_ISO_LIMIT, {"trip": trip_id})}
    judged = table[(table["judged"] > 0) & table["encounter_id"].notna()]
    clusters: dict[object, tuple[Any, Any]] = {
        kit_id: (group["hits"].to_numpy(), group["judged"].to_numpy())
        for kit_id, group in judged.groupby("kit_id")
    }
    pool = pooled_icc(list(clusters.values())) if clusters else None
    rows = []
    for kit_id, group in table.groupby("kit_id"):
        total = {name: round(group[name].sum()) for name in _SUMMED}
        kit = kits[kit_id]
        rows.append(
            {
                "kit_id": kit_id,
                "kit_name": kit["kit_name"],
                "converter_factor": kit["converter_factor"],
                "frames": total["frames"],
                "scenes": int(group["encounter_id"].notna().sum()),
                "encounters": len(clusters[kit_id][0]) if kit_id in clusters else 0,
                **{
                    name: total[name]
                    for name in ("judged", "hits", "unclear", "measured", "silent", "manual")
                },
                **_hit_rate(clusters.get(kit_id), pool, total["judged"]),
                "hit_rate_if_unclear_missed": _share(total["hits"], total["judged"] + total["unclear"]),
                "hit_rate_if_unclear_hit": _share(
                    total["hits"] + total["unclear"], total["judged"] + total["unclear"]
                ),
                "deleted": total["deleted"],
                "hit_rate_if_deleted_missed": _share(total["hits"], total["judged"] + total["deleted"]),
                **light[kit["kit_id"]],
                "auto_iso_at_limit_frames": at_limit.get(kit["kit_id"], 0),
                "iso_pushed_frames": total["iso_pushed"],
                "iso_pushed_share": _share(total["iso_pushed"], total["frames"]),
                "near_reciprocal_frames": total["near_reciprocal"],
                "shutter_for_reach_ev": math.log2(kit["converter_factor"])
                if total["near_reciprocal"]
                else None,
            }
        )
    return pd.DataFrame(rows).sort_values("kit_name", ignore_index=True)


_SUMMED = (
    "frames", "judged", "hits", "unclear", "measured", "silent", "manual", "iso_pushed", "near_reciprocal",
    "deleted",
)  # fmt: skip


def _light_of_kits(logbook: Logbook, trip_id: int | None) -> dict[int, dict[str, float | None]]:
    """Medians and quartiles a kit; None where no frame tells."""
    import numpy as np

    sql = _LIGHT.format(
        membership="" if trip_id is None else "JOIN membership AS m USING (frame_id)",
        of_trip="" if trip_id is None else "AND m.trip_id = :trip",
    )
    # Plain tuples straight into one array: a million rows stay under 100 MiB.
    cursor = logbook.db.conn.execute(sql, {"trip": trip_id})
    cursor.row_factory = None
    values = np.fromiter(
        ((kit, iso, without, push, ev) for kit, iso, without, push, ev in map(_as_floats, cursor)),
        dtype=np.dtype((float, 5)),
    )
    found = {}
    for kit_id in np.unique(values[:, 0]).astype(int).tolist():
        own = values[values[:, 0] == kit_id]
        found[kit_id] = {
            "median_iso": _quantile(own[:, 1], 0.5),
            "lower_iso": _quantile(own[:, 1], 0.25),
            "upper_iso": _quantile(own[:, 1], 0.75),
            "median_iso_without_converter": _quantile(own[:, 2], 0.5),
            "median_forced_push_ev": _quantile(own[:, 3], 0.5),
            "median_light_value_ev": _quantile(own[:, 4], 0.5),
        }
    return found


def _as_floats(row: tuple[float | None, ...]) -> tuple[float, ...]:
    return tuple(math.nan if value is None else value for value in row)


def _quantile(values: Any, share: float) -> float | None:
    import numpy as np

    known = values[~np.isnan(values)]
    return float(np.quantile(known, share)) if len(known) else None


def _share(part: int, whole: int) -> float | None:
    return part / whole if whole else None


def _hit_rate(clusters: tuple[Any, Any] | None, pool: float | None, judged: int) -> dict[str, object]:
    nothing = {"hit_rate": None, "hit_rate_low": None, "hit_rate_high": None, "hit_rate_frames": None}
    if clusters is None:
        return {**nothing, "hit_rate_missing": "no_time" if judged else "nothing_decided"}
    hits, frames = clusters
    if len(hits) < FEWEST_ENCOUNTERS:
        return {**nothing, "hit_rate_missing": "too_few_encounters"}
    interval = clustered_wilson(hits, frames, pooled_icc=pool)
    return {
        "hit_rate": interval.estimate,
        "hit_rate_low": interval.low,
        "hit_rate_high": interval.high,
        "hit_rate_frames": interval.frames,
        "hit_rate_missing": None,
    }
