"""What each trip added to the answer of the record: one short line a trip."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from functools import cache

import numpy as np

from auditor.analysis.kit_encounters import kit_encounters
from auditor.analysis.kits import bare_of
from auditor.analysis.losses import arms_of, most_likely_losses
from auditor.settings import Settings
from auditor.statistics.likely_loss import Likely
from auditor.store import tables
from auditor.store.encounter_sums import known_kits
from auditor.store.logbook import Logbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Added:
    """What a trip added on the kit with a converter of which it met most animals."""

    factor: float | None
    encounters: int
    """With the converter."""
    encounters_both: int
    """Those with both kits."""
    most_likely: float
    """The most likely loss from all trips up to this one, as a share."""
    low: float
    """Ends of its 80 % range, as shares."""
    high: float
    most_likely_before: float | None
    """The same without this trip; None where there was no answer yet."""


def added_by_trips(
    logbook: Logbook, trip_ids: Collection[int], settings: Settings | None = None
) -> dict[int, Added]:
    """What these trips added, by trip_id; trips that say nothing of a kit with a converter are left out.

    Parameters
    ----------
    trip_ids
        In order of time, of the whole logbook or its newest.

    Returns
    -------
    dict[int, Added]
        Of the kit that met most, what the record said with the trip and before it.
    """
    table = kit_encounters(logbook, settings=settings)
    kits = known_kits(logbook)
    pairs = [(kit, bare) for kit in kits if (bare := bare_of(kit, kits)) is not None]
    order = [trip.trip_id for trip in reversed(tables.trips(logbook))]

    @cache
    def most_likely(trips: int) -> list[Likely | None]:
        """The answers of the record when it had so many trips: one trip's now is the next one's before."""
        until = table.only(np.isin(table.trip_id, order[:trips]))
        arms = [arms_of(until, kit.kit_id, bare.kit_id) for kit, bare in pairs]
        return most_likely_losses([kit for kit, _bare in pairs], arms)

    added = {}
    for trip_id in trip_ids:
        own_rows = table.only(table.trip_id == trip_id)
        arms_of_pairs = [arms_of(own_rows, kit.kit_id, bare.kit_id) for kit, bare in pairs]
        met = [len(set(arms.encounter[arms.treated])) for arms in arms_of_pairs]
        if max(met, default=0) == 0:
            continue
        place = met.index(max(met))
        arms = arms_of_pairs[place]
        upto = order.index(trip_id) + 1
        now, before = most_likely(upto)[place], most_likely(upto - 1)[place]
        if now is None:
            continue
        bare_ones = set(arms.encounter[~arms.treated])
        added[trip_id] = Added(
            factor=pairs[place][0].converter_factor,
            encounters=met[place],
            encounters_both=len(bare_ones & set(arms.encounter[arms.treated])),
            most_likely=now.loss,
            low=now.low,
            high=now.high,
            most_likely_before=None if before is None else before.loss,
        )
    return added
