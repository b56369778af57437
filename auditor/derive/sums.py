"""Sums of trips whose frames have changed, made anew: what questions over all trips are answered from."""

from __future__ import annotations

from auditor.store import encounter_sums, flag_sums, summed, trip_numbers
from auditor.store.logbook import Logbook


def sum_changed_trips(logbook: Logbook) -> None:
    """Make the sums of trips that have none; inside `writing()`, once every frame is grouped."""
    waiting = summed.waiting(logbook)
    summed.forget_old(logbook)
    for trip_id in waiting:
        encounter_sums.keep(logbook, trip_id)
        flag_sums.keep(logbook, trip_id)
        trip_numbers.keep(logbook, trip_id)
        summed.note(logbook, trip_id)
