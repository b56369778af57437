"""Clocks that were off: bodies whose times disagree, and dates that cannot be right."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, timedelta

from auditor.analysis.clock_stretches import shifted_stretch, zones_apart, zones_set
from auditor.analysis.hint_kinds import ClockHint, DateHint, Trip
from auditor.store.bursts import BodyDates, BurstLight

LONGEST_OUTING_DAYS = 60
YEAR_DAYS = 365


def date_hints(dates: list[BodyDates], today: date) -> list[DateHint]:
    """Bodies whose dates lie in the future, and bodies of one folder that are years apart; each once.

    Only bodies that each took their frames of that folder within one outing are set beside each other: an
    archive holds years.

    Parameters
    ----------
    dates
        When the frames of each body and folder were taken.
    today
        The day after which dates lie in the future.

    Returns
    -------
    list[DateHint]
        In the order of `dates`.
    """
    tomorrow = (today + timedelta(days=1)).isoformat()
    by_body: dict[str, DateHint] = {}

    def add(dates_of: BodyDates, other_dates: BodyDates | None) -> None:
        trip = Trip(trip_id=dates_of.trip_id, name="")
        by_body.setdefault(
            dates_of.body,
            DateHint(
                trip=trip,
                body=dates_of.body,
                first_at=dates_of.first_at,
                last_at=dates_of.last_at,
                other=other_dates,
            ),
        )

    for dates_of in dates:
        if dates_of.last_at[:10] > tomorrow:
            add(dates_of, None)
    by_folder: dict[str, list[BodyDates]] = defaultdict(list)
    for dates_of in dates:
        if dates_of.body not in by_body and _days(dates_of.first_at, dates_of.last_at) <= LONGEST_OUTING_DAYS:
            by_folder[dates_of.folder].append(dates_of)
    for bodies in by_folder.values():
        most = max(bodies, key=lambda dates_of: dates_of.frames)
        for dates_of in bodies:
            apart = max(_days(dates_of.last_at, most.first_at), _days(most.last_at, dates_of.first_at))
            if dates_of is not most and apart >= YEAR_DAYS:
                add(dates_of, most)
    return list(by_body.values())


def _days(first_at: str, last_at: str) -> int:
    return (date.fromisoformat(last_at[:10]) - date.fromisoformat(first_at[:10])).days


def clock_hints(trip: Trip, bursts: Sequence[BurstLight]) -> list[ClockHint]:
    """Where two bodies' clocks disagree: they state other time zones, or meet far oftener when shifted.

    A clock that was set on the way, as after a flight, disagrees in a part of the trip alone: only that
    part is asked about. Of two bodies the one whose zone was set anew is taken to be right.

    Parameters
    ----------
    trip
        That the bursts are of.
    bursts
        In order of time.

    Returns
    -------
    list[ClockHint]
        Of a body those against one other: the first that it disagrees with.
    """
    offered = []
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    times_set = {body: len(zones_set(own)) for body, own in by_body.items()}
    names = sorted(by_body, key=lambda body: (-times_set[body], -len(by_body[body]), body))
    for position, body in enumerate(names[1:], 1):
        for reference in names[:position]:
            apart = zones_apart(by_body[reference], by_body[body])
            stated = apart is not None
            if apart is None:
                apart = shifted_stretch(by_body[reference], by_body[body])
            offered += [
                ClockHint(
                    trip=trip,
                    body=body,
                    reference=reference,
                    hours=stretch.hours,
                    stated=stated,
                    first_at=min(burst.camera_first_at for burst in stretch.bursts),
                    last_at=max(burst.camera_last_at for burst in stretch.bursts),
                )
                for stretch in apart
            ]
            if apart:
                break  # the reference whose zone was set most often, or with the most bursts, decides
    return offered
