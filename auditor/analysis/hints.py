"""Hints: what the frames make likely and no file says. Offered, never applied."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from functools import partial

from auditor.analysis.clock_hints import clock_hints, date_hints
from auditor.analysis.converter_hints import converter_hints
from auditor.analysis.hint_kinds import ConverterHint, Hint, Trip
from auditor.analysis.lens_hints import lens_hints
from auditor.analysis.phone_hints import phone_hints
from auditor.frames.body_names import body_names
from auditor.frames.spellings import as_declared
from auditor.store import declarations, derived, scans
from auditor.store.bursts import body_dates, bursts_of_trip
from auditor.store.declarations import Declaration
from auditor.store.declared_facts import LensFacts, RejectedFacts, Said
from auditor.store.encounter_sums import known_kits
from auditor.store.kit_queries import kit_spans
from auditor.store.logbook import Logbook
from auditor.store.trips import trips_newest_first


def hints(logbook: Logbook, trip_id: int | None = None, *, today: date | None = None) -> list[Hint]:
    """Every hint that was not rejected, trip by trip, the oldest trip first.

    Parameters
    ----------
    trip_id
        Only those that belong to this trip.
    today
        The day after which dates lie in the future; by default the computer's.

    Returns
    -------
    list[Hint]
        In the order in which they are numbered.
    """
    said = [declared for declared in declarations.history(logbook) if declared.undone_at is None]
    rejected = [(declared, declared.facts) for declared in said if isinstance(declared.facts, RejectedFacts)]
    dated = date_hints(body_dates(logbook, scans.folders(logbook)), today or date.today())
    offered: list[Hint] = []
    kits = known_kits(logbook)
    trips = trips_newest_first(logbook)
    renamed = lens_hints(kits, trips, partial(kit_spans, logbook))
    for row in reversed(trips):
        if trip_id in (None, row.trip_id):
            trip = Trip(trip_id=row.trip_id, name=row.name)
            bursts = bursts_of_trip(logbook, trip.trip_id)
            of_phones = phone_hints(trip, bursts, kits)
            without = {hint.body for hint in of_phones}  # no converter goes on a phone
            of_cameras = [burst for burst in bursts if burst.body not in without]
            offered += converter_hints(trip, of_cameras, rejected=_rejected_bursts(rejected))
            offered += clock_hints(trip, bursts)
            offered += of_phones
            offered += [hint for hint in renamed if hint.trip.trip_id == trip.trip_id]
            offered += [replace(hint, trip=trip) for hint in dated if hint.trip.trip_id == trip.trip_id]
    noted = {_key(_as_named_now(declaration, facts, said)) for declaration, facts in rejected}
    names = body_names(derived.kits(logbook))
    return [
        replace(hint, names=names)
        for hint in offered
        if isinstance(hint, ConverterHint) or _key(hint.rejected) not in noted
    ]


def _key(statement: Said) -> tuple[object, ...]:
    return statement.facts, statement.body, statement.from_at, statement.to_at


def _as_named_now(statement: Said, facts: RejectedFacts, said: list[Declaration]) -> Said:
    """A rejected hint, its lenses as kits of its body call them since one was said to have two names."""
    of_body = [
        each.facts
        for each in reversed(said)
        if isinstance(each.facts, LensFacts) and each.body == statement.body
    ]
    lenses = tuple(as_declared(name, of_body) or name for name in facts.lenses)
    return replace(statement, facts=replace(facts, lenses=lenses))


def _rejected_bursts(rejected: list[tuple[Declaration, RejectedFacts]]) -> set[tuple[str, float, str]]:
    """Body, factor and first moment of every burst that is not to be suspected again."""
    return {
        (declaration.body or "", facts.value or 0.0, span.first_at)
        for declaration, facts in rejected
        for span in facts.bursts
    }
