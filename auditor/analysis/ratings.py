"""The photographer's own ratings beside the verdicts: told, never applied."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.statistics.agreement import cohens_kappa
from auditor.store import kit_queries
from auditor.store.kit_queries import RatedOtherwise
from auditor.store.logbook import Logbook

LIKED_FROM = 3
"""Of xmp:Rating, -1 (rejected) or 1 to 5; 0 is unrated (ISO 16684-1)."""
FEWEST_RATED = 20
"""Frames: with fewer there is no kappa."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreement:
    """How ratings and verdicts go together, in frames."""

    liked_hits: int
    liked_misses: int
    disliked_hits: int
    disliked_misses: int
    kappa: float | None
    """Cohen's kappa: 1 is full agreement, 0 what chance gives."""
    kappa_missing: str | None
    """Why there is none: few_ratings (under 20 rated frames), one_word (all rated or all judged alike)."""
    rated_otherwise: tuple[RatedOtherwise, ...] = ()
    """The frames that are no agreement, in order of time."""


def agreement(logbook: Logbook) -> Agreement:
    """How ratings and verdicts go together, over all trips."""
    counts = kit_queries.rated_frames(logbook, LIKED_FROM)
    table = [[counts.get((liked, verdict), 0) for verdict in ("hit", "miss")] for liked in (True, False)]
    rated = sum(map(sum, table))
    kappa = cohens_kappa(table) if rated >= FEWEST_RATED else None
    (liked_hits, liked_misses), (disliked_hits, disliked_misses) = table
    return Agreement(
        liked_hits=liked_hits,
        liked_misses=liked_misses,
        disliked_hits=disliked_hits,
        disliked_misses=disliked_misses,
        kappa=kappa,
        kappa_missing=None if kappa is not None else "few_ratings" if rated < FEWEST_RATED else "one_word",
        rated_otherwise=tuple(kit_queries.rated_otherwise(logbook, LIKED_FROM)),
    )
