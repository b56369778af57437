"""What each trip added to the answer of the record: one short line a trip."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from auditor.analysis.kit_encounters import kit_encounters
from auditor.analysis.kits import bare_of
from auditor.analysis.losses import arms_of, most_likely_losses
from auditor.settings import Settings
from auditor.statistics.likely_loss import Likely
from auditor.store.encounter_sums import known_kits
from auditor.store.logbook import Logbook
from auditor.store.trips import trips_newest_first


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


class RecordByTrips:
    """The record as it grew, trip by trip: gathered once, judged anew for each trip that is asked for."""

    def __init__(self, logbook: Logbook, settings: Settings | None = None) -> None:
        self._table = kit_encounters(logbook, settings=settings)
        kits = known_kits(logbook)
        self._pairs = [(kit, bare) for kit in kits if (bare := bare_of(kit, kits)) is not None]
        self._order = [trip.trip_id for trip in reversed(trips_newest_first(logbook))]
        self._most_likely: dict[int, list[Likely | None]] = {}

    def added_by(self, trip_id: int) -> Added | None:
        """What a trip added; None for one that says nothing of a kit with a converter.

        Parameters
        ----------
        trip_id
            Of the trip.

        Returns
        -------
        Added or None
            Of the kit that met most, what the record said with the trip and before it.
        """
        own_rows = self._table.only(self._table.trip_id == trip_id)
        arms_of_pairs = [arms_of(own_rows, kit.kit_id, bare.kit_id) for kit, bare in self._pairs]
        met = [len(set(arms.encounter[arms.treated])) for arms in arms_of_pairs]
        if max(met, default=0) == 0:
            return None
        place = met.index(max(met))
        arms = arms_of_pairs[place]
        upto = self._order.index(trip_id) + 1
        now, before = self._after(upto)[place], self._after(upto - 1)[place]
        if now is None:
            return None
        bare_ones = set(arms.encounter[~arms.treated])
        return Added(
            factor=self._pairs[place][0].converter_factor,
            encounters=met[place],
            encounters_both=len(bare_ones & set(arms.encounter[arms.treated])),
            most_likely=now.loss,
            low=now.low,
            high=now.high,
            most_likely_before=None if before is None else before.loss,
        )

    def _after(self, trips: int) -> list[Likely | None]:
        """The answers of the record when it had so many trips: one trip's now is the next one's before."""
        if trips not in self._most_likely:
            until = self._table.only(np.isin(self._table.trip_id, self._order[:trips]))
            arms = [arms_of(until, kit.kit_id, bare.kit_id) for kit, bare in self._pairs]
            self._most_likely[trips] = most_likely_losses([kit for kit, _bare in self._pairs], arms)
        return self._most_likely[trips]


def added_by_trips(
    logbook: Logbook, trip_ids: Iterable[int], settings: Settings | None = None
) -> dict[int, Added]:
    """What these trips added, by trip_id; trips that say nothing of a kit with a converter are left out.

    Parameters
    ----------
    trip_ids
        Of any trips.

    Returns
    -------
    dict[int, Added]
        As `RecordByTrips` tells it.
    """
    record = RecordByTrips(logbook, settings)
    added = {trip_id: record.added_by(trip_id) for trip_id in trip_ids}
    return {trip_id: by_trip for trip_id, by_trip in added.items() if by_trip is not None}
