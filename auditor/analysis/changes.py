"""Hits that fell inside a trip: when, and the frames on either side."""

from __future__ import annotations

from pathlib import PurePath
from typing import Any

from auditor.store.logbook import Logbook

ALPHA = 0.05
LEAST_FALL = 0.05
FEWEST_INSIDE = 3
"""A stretch of fewer encounters is told by its counts, never flagged."""

_BURSTS = """
SELECT i.kit_id, k.kit_name, m.burst_id, m.encounter_id, min(i.taken_at) AS first_at, count(*) AS frames,
       sum(v.verdict = 'hit') AS hits, avg(i.light_value_ev) AS light_ev
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN kits AS k USING (kit_id)
JOIN verdicts AS v USING (frame_id)
WHERE m.trip_id = ? AND v.verdict IN ('hit', 'miss') AND i.light_value_ev IS NOT NULL AND NOT i.excluded
GROUP BY i.kit_id, m.burst_id ORDER BY i.kit_id, first_at, m.burst_id
"""
_AT_END_OF = """
SELECT (SELECT path FROM files AS p WHERE p.frame_id = m.frame_id AND p.role <> 'sidecar'
        ORDER BY p.path LIMIT 1)
FROM membership AS m JOIN inferred AS i USING (frame_id)
WHERE m.burst_id = ? AND i.kit_id = ? ORDER BY m.position_in_burst {order} LIMIT 1
"""


def changes(logbook: Logbook, trip_id: int) -> list[dict[str, Any]]:
    """One row a kit of a trip with enough encounters to tell, in order of kits.

    Keys: kit_id, kit_name, fell (after correction over the kits), from_at, until_at (None at the end of the
    trip), rate_inside, rate_outside, p_value, bursts, encounters, encounters_inside, last_before and
    first_inside (names of the frames on either side).
    """
    from auditor.statistics.change import fall
    from auditor.statistics.multiple import benjamini_hochberg

    bursts: dict[int, list[Any]] = {}
    for burst in logbook.query(_BURSTS, (trip_id,)):
        bursts.setdefault(burst["kit_id"], []).append(burst)
    rows: list[dict[str, Any]] = []
    for kit_id, own in bursts.items():
        found = fall(
            [one["hits"] for one in own],
            [one["frames"] for one in own],
            [one["encounter_id"] for one in own],
            [[one["light_ev"]] for one in own],
        )
        if found is None:
            continue
        first, before = own[found.first], own[found.first - 1]
        rows.append(
            {
                "kit_id": kit_id,
                "kit_name": own[0]["kit_name"],
                "from_at": first["first_at"],
                "until_at": None if found.after == len(own) else own[found.after]["first_at"],
                "rate_inside": found.rate_inside,
                "rate_outside": found.rate_outside,
                "p_value": found.p_value,
                "bursts": found.bursts,
                "encounters": found.encounters,
                "encounters_inside": found.encounters_inside,
                "last_before": _name(logbook, before["burst_id"], kit_id, "DESC"),
                "first_inside": _name(logbook, first["burst_id"], kit_id, "ASC"),
            }
        )
    stands = benjamini_hochberg([row["p_value"] for row in rows], ALPHA)
    for row, stays in zip(rows, stands, strict=True):
        deep = row["rate_inside"] <= row["rate_outside"] - LEAST_FALL
        row["fell"] = bool(stays) and deep and row["encounters_inside"] >= FEWEST_INSIDE
    return rows


def _name(logbook: Logbook, burst_id: int, kit_id: int, order: str) -> str:
    found = logbook.query(_AT_END_OF.format(order=order), (burst_id, kit_id))
    return PurePath(found[0][0]).name if found and found[0][0] else "a frame that has gone"
