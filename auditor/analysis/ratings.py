"""The photographer's own ratings beside the verdicts: told, never applied."""

from __future__ import annotations

from typing import Any

from auditor.statistics.agreement import cohens_kappa
from auditor.store.logbook import Logbook

LIKED_FROM = 3
"""Of xmp:Rating, -1 (rejected) or 1 to 5; 0 is unrated (ISO 16684-1)."""
FEWEST_RATED = 20

_COUNTS = f"""
SELECT f.rating >= {LIKED_FROM} AS liked, v.verdict, count(*) AS frames
FROM frames AS f JOIN verdicts AS v USING (frame_id)
WHERE f.rating IS NOT NULL AND f.rating <> 0 AND v.verdict IN ('hit', 'miss') GROUP BY 1, 2
"""


def agreement(logbook: Logbook) -> dict[str, Any]:
    """How ratings and verdicts go together, over all trips.

    Keys: liked_hits, liked_misses, disliked_hits, disliked_misses (counts), kappa, and why there is none:
    few_ratings (under 20 rated frames), one_word (all rated or all judged alike).
    """
    counts = {(bool(row["liked"]), row["verdict"]): int(row["frames"]) for row in logbook.query(_COUNTS)}
    table = [[counts.get((liked, verdict), 0) for verdict in ("hit", "miss")] for liked in (True, False)]
    rated = sum(map(sum, table))
    kappa = cohens_kappa(table) if rated >= FEWEST_RATED else None
    return {
        "liked_hits": table[0][0],
        "liked_misses": table[0][1],
        "disliked_hits": table[1][0],
        "disliked_misses": table[1][1],
        "kappa": kappa,
        "kappa_missing": None if kappa is not None else "few_ratings" if rated < FEWEST_RATED else "one_word",
    }
