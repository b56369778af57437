"""Clocks that were off: bodies whose times disagree, and dates that cannot be right."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime, timedelta
from statistics import median
from typing import TYPE_CHECKING

from auditor.analysis.hint_kinds import WHOLE_HOUR_S, ClockHint, DateHint, Trip
from auditor.store.bursts import BodyDates, BurstLight

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

LONGEST_SHIFT_H = 14
MEETING_S = 90.0
"""Bursts of two bodies this close were on one animal."""
FEWEST_MEETINGS = 5
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

    Parameters
    ----------
    trip
        That the bursts are of.
    bursts
        In order of time.

    Returns
    -------
    list[ClockHint]
        At most one a pair of bodies.
    """
    offered = []
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    names = sorted(by_body, key=lambda body: (-len(by_body[body]), body))
    for position, body in enumerate(names[1:], 1):
        body_bursts = by_body[body]
        for reference in names[:position]:
            hours = _zones_apart_h(by_body[reference], body_bursts)
            stated = hours is not None
            if hours is None:
                hours = _best_shift_h(
                    [b.first_s for b in by_body[reference]], [b.first_s for b in body_bursts]
                )
            if hours:
                offered.append(
                    ClockHint(
                        trip=trip,
                        body=body,
                        reference=reference,
                        hours=hours,
                        stated=stated,
                        first_at=min(burst.camera_first_at for burst in body_bursts),
                        last_at=max(burst.camera_last_at for burst in body_bursts),
                    )
                )
                break  # one question a body: the reference with the most bursts decides
    return offered


def _zones_apart_h(reference_bursts: list[BurstLight], body_bursts: list[BurstLight]) -> int | None:
    """Hours to add to the second body's clock, where both state their zone and neither was put right."""
    if any(burst.first_at != burst.camera_first_at for burst in (*reference_bursts, *body_bursts)):
        return None
    zones = [{b.utc_offset for b in bursts if b.utc_offset} for bursts in (reference_bursts, body_bursts)]
    if len(zones[0]) != 1 or len(zones[1]) != 1:
        return None
    apart_s = _offset_s(zones[0].pop()) - _offset_s(zones[1].pop())
    return round(apart_s / WHOLE_HOUR_S) if apart_s % WHOLE_HOUR_S == 0 else None


def _offset_s(text: str) -> float:
    offset = datetime.strptime(text.replace("Z", "+00:00"), "%z").utcoffset()
    return offset.total_seconds() if offset else 0.0


def _best_shift_h(reference_s: list[float], other_s: list[float]) -> int | None:
    """The whole-hour shift at which bursts of two bodies meet far oftener than they do as they are."""
    import numpy as np

    reference, other = np.sort(reference_s), np.array(other_s)
    meetings = {
        hours: _meetings(reference, other + hours * WHOLE_HOUR_S)
        for hours in range(-LONGEST_SHIFT_H, LONGEST_SHIFT_H + 1)
    }
    best = max(meetings, key=lambda hours: (meetings[hours], -abs(hours)))
    usual = median(meetings.values())
    enough = meetings[best] >= max(FEWEST_MEETINGS, 3 * meetings[0] + 1, 3 * usual + 1)
    return best if best and enough else None


def _meetings(ordered: NDArray[np.float64], moments: NDArray[np.float64]) -> int:
    """How many moments have one of the ordered ones close by."""
    import numpy as np

    place = np.searchsorted(ordered, moments - MEETING_S)
    there = place < len(ordered)
    return int(np.count_nonzero(ordered[place[there]] <= moments[there] + MEETING_S))
