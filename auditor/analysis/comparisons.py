"""Each kit with a converter against the same body and lens bare: hits, and detail on the animal."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from auditor.store.logbook import Logbook

NOT_ADJUSTED_FOR = ("subject size", "what the animal did")
"""What these comparisons do not know: said with each of them."""

# One angle for all kits where pixels decided; else the camera's word, which magnification does not touch.
_CLUSTERS = """
SELECT m.encounter_id, sum(v.hit) AS hits, count(*) AS frames, avg(i.light_value_ev) AS light_ev,
       avg(f.exposure_time_s) AS exposure_time_s
FROM (SELECT frame_id, judged, judged = 'hit' AS hit FROM (
          SELECT frame_id, coalesce(verdict_on_subject, iif(verdict_source = 'camera_word', verdict, NULL))
                 AS judged FROM verdicts)) AS v
JOIN inferred AS i USING (frame_id) JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
WHERE i.kit_id = :kit AND v.judged IN ('hit', 'miss') AND i.light_value_ev IS NOT NULL
  AND f.exposure_time_s > 0 AND (:trip IS NULL OR m.trip_id = :trip)
GROUP BY m.encounter_id
"""
_DETAIL = """
SELECT m.scene_id, r.system_sigma_px * r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS blur_urad
FROM readings AS r JOIN inferred AS i USING (frame_id) JOIN membership AS m USING (frame_id)
WHERE i.kit_id = :kit AND r.system_sigma_px > 0 AND i.pixel_pitch_um IS NOT NULL AND i.focal_length_mm > 0
  AND (:trip IS NULL OR m.trip_id = :trip)
"""


def comparisons(logbook: Logbook, trip_id: int | None = None) -> list[dict[str, Any]]:
    """One row a kit that has a converter and a bare kit to be compared with.

    Keys: kit_id, kit_name, bare_kit_name; hits: outcome, difference, low, high, p_value,
    clusters_bare, clusters_treated, matched_share, adjusted_for, not_adjusted_for; at_equal_shutter: the
    same with the shutter in the strata; detail: gain, low, high, blur_urad, blur_bare_urad, outcome, scenes,
    scenes_bare.
    """
    from auditor.statistics.detail import gain
    from auditor.statistics.matched import compare, correct

    pairs = _pairs(logbook)
    total, equal_shutter = [], []
    for kit, bare in pairs:
        clusters = _clusters(logbook, kit["kit_id"], bare["kit_id"], trip_id)
        total.append(compare(replace(clusters, covariates={})))
        equal_shutter.append(compare(clusters))
    rows = []
    for (kit, bare), hits, at_shutter in zip(pairs, correct(total), correct(equal_shutter), strict=True):
        detail = gain(*_blur(logbook, kit["kit_id"], trip_id), *_blur(logbook, bare["kit_id"], trip_id))
        rows.append(
            {
                "kit_id": kit["kit_id"],
                "kit_name": kit["kit_name"],
                "bare_kit_name": bare["kit_name"],
                "hits": asdict(hits) | {"not_adjusted_for": NOT_ADJUSTED_FOR},
                "at_equal_shutter": asdict(at_shutter) | {"not_adjusted_for": NOT_ADJUSTED_FOR},
                "detail": asdict(detail),
            }
        )
    return rows


def kit_flags(rows: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """The flags that comparisons raise: kit_name, flag, reason in words and numbers."""
    flags = []
    for row in rows:
        hits, detail = row["hits"], row["detail"]
        if hits["outcome"] == "fell":
            reason = (
                f"{-100 * hits['difference']:.0f} points fewer hits than bare in like light "
                f"(95 % interval {100 * hits['low']:.0f} to {100 * hits['high']:.0f}; "
                f"{hits['clusters_treated']} and {hits['clusters_bare']} encounters)"
            )
            flags.append({"kit_name": row["kit_name"], "flag": "hit_rate_fell", "reason": reason})
        if detail["outcome"] == "no_detail_gain":
            reason = (
                f"{detail['blur_urad']:.1f} microradians of blur, {detail['blur_bare_urad']:.1f} bare: finer "
                f"by {100 * detail['gain']:.0f} % (95 % interval {100 * detail['low']:.0f} to "
                f"{100 * detail['high']:.0f}; {detail['scenes']} and {detail['scenes_bare']} scenes)"
            )
            flags.append({"kit_name": row["kit_name"], "flag": "no_detail_gain", "reason": reason})
    return flags


def _pairs(logbook: Logbook) -> list[tuple[dict[str, Any], dict[str, Any]]]:
    """Kits with a converter, each with the bare kit of its body and lens."""
    sql = """
        SELECT k.kit_id, k.kit_name, b.kit_id AS bare_id, b.kit_name AS bare_name
        FROM kits AS k JOIN kits AS b ON b.converter_factor = 1.0
             AND b.body_make IS k.body_make AND b.body_model IS k.body_model
             AND b.body_serial IS k.body_serial AND b.lens_name = k.lens_name
        WHERE k.converter_factor > 1.0 ORDER BY k.kit_name"""
    return [
        (
            {"kit_id": row["kit_id"], "kit_name": row["kit_name"]},
            {"kit_id": row["bare_id"], "kit_name": row["bare_name"]},
        )
        for row in logbook.query(sql)
    ]


def _clusters(logbook: Logbook, kit_id: int, bare_id: int, trip_id: int | None) -> Any:
    import numpy as np

    from auditor.statistics.matched import Clusters

    rows = [
        (row, treated)
        for treated, one in ((True, kit_id), (False, bare_id))
        for row in logbook.query(_CLUSTERS, {"kit": one, "trip": trip_id})
    ]
    ids = np.array([row["encounter_id"] for row, _treated in rows], dtype=np.int64)
    return Clusters(
        cluster=np.unique(ids, return_inverse=True)[1].astype(np.int64),
        treated=np.array([treated for _row, treated in rows], dtype=np.bool_),
        hits=np.array([row["hits"] for row, _treated in rows], dtype=float),
        frames=np.array([row["frames"] for row, _treated in rows], dtype=float),
        light_ev=np.array([row["light_ev"] for row, _treated in rows], dtype=float),
        covariates={"exposure_time_s": np.log2([row["exposure_time_s"] for row, _treated in rows])},
    )


def _blur(logbook: Logbook, kit_id: int, trip_id: int | None) -> tuple[list[float], list[int]]:
    rows = logbook.query(_DETAIL, {"kit": kit_id, "trip": trip_id})
    return [row["blur_urad"] for row in rows], [row["scene_id"] for row in rows]
