"""Hits that fell inside a trip: when, and the frames on either side."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, replace

from auditor.store import kit_queries
from auditor.store.kit_queries import JudgedBurst
from auditor.store.logbook import Logbook

ALPHA = 0.05
"""The share of false falls among those that are told (Benjamini and Hochberg)."""
LEAST_FALL = 0.05
"""A stretch is flagged only where its rate lies this much below the rest, as a share of the frames."""
FEWEST_INSIDE = 3
"""A stretch of fewer encounters is told by its counts, never flagged."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """The stretch of a trip in which a kit's hits lay furthest below the rest."""

    kit_id: int
    kit_name: str
    fell: bool
    """Whether the stretch lies lower than chance allows, after correction over the kits."""
    from_at: str
    """Camera time, ISO 8601."""
    until_at: str | None
    """None at the end of the trip."""
    rate_inside: float
    """Share of judged frames that hit, 0 to 1."""
    rate_outside: float
    p_value: float
    """How often encounters in another order show a stretch as low."""
    bursts: int
    encounters: int
    encounters_inside: int
    last_before: str | None
    """File name of the last frame before the stretch; None where its file has gone."""
    first_inside: str | None


def changes(logbook: Logbook, trip_id: int) -> list[Change]:
    """One row a kit of a trip with enough encounters to tell, in order of kits.

    Parameters
    ----------
    trip_id
        Of the trip.

    Returns
    -------
    list[Change]
        `fell` only where the fall stands among those of all kits.
    """
    from auditor.statistics.multiple import benjamini_hochberg

    bursts: dict[int, list[JudgedBurst]] = defaultdict(list)
    for burst in kit_queries.bursts_of(logbook, trip_id):
        bursts[burst.kit_id].append(burst)
    rows = [
        row for kit_bursts in bursts.values() if (row := _lowest_stretch(logbook, kit_bursts)) is not None
    ]
    stands = benjamini_hochberg([row.p_value for row in rows], ALPHA)
    return [replace(row, fell=bool(stays) and _deep(row)) for row, stays in zip(rows, stands, strict=True)]


def _lowest_stretch(logbook: Logbook, kit_bursts: list[JudgedBurst]) -> Change | None:
    """The stretch of one kit, not yet corrected over the kits."""
    from auditor.statistics.change import fall

    stretch = fall(
        [burst.hits for burst in kit_bursts],
        [burst.frames for burst in kit_bursts],
        [burst.encounter_id for burst in kit_bursts],
        [[burst.light_ev] for burst in kit_bursts],
    )
    if stretch is None:
        return None
    kit_id, first, before = kit_bursts[0].kit_id, kit_bursts[stretch.first], kit_bursts[stretch.first - 1]
    return Change(
        kit_id=kit_id,
        kit_name=kit_bursts[0].kit_name,
        fell=False,
        from_at=first.first_at,
        until_at=None if stretch.after == len(kit_bursts) else kit_bursts[stretch.after].first_at,
        rate_inside=stretch.rate_inside,
        rate_outside=stretch.rate_outside,
        p_value=stretch.p_value,
        bursts=stretch.bursts,
        encounters=stretch.encounters,
        encounters_inside=stretch.encounters_inside,
        last_before=kit_queries.file_at_end_of_burst(logbook, before.burst_id, kit_id, last=True),
        first_inside=kit_queries.file_at_end_of_burst(logbook, first.burst_id, kit_id, last=False),
    )


def _deep(row: Change) -> bool:
    deep = row.rate_inside <= row.rate_outside - LEAST_FALL
    return deep and row.encounters_inside >= FEWEST_INSIDE
