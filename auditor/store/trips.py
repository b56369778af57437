"""The trips of the logbook: all of them, one by its name or number, those of some folders."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.errors import LogbookError
from auditor.store.logbook import Logbook
from auditor.store.paths import path_range


@dataclass(frozen=True, slots=True)
class Trip:
    """A trip of the logbook."""

    trip_id: int
    name: str
    first_at: str
    """First and last frame: local time of the camera's clock, ISO 8601."""
    last_at: str
    frames: int


def trips_newest_first(logbook: Logbook) -> list[Trip]:
    """All trips of the logbook, the newest first."""
    sql = "SELECT trip_id, name, first_at, last_at, frames FROM trips ORDER BY first_at DESC"
    return [Trip(*row) for row in logbook.query(sql)]


def find_trip(logbook: Logbook, wanted: str | None) -> Trip:
    """A trip by name, number, or the beginning of one name; the newest when none is asked for.

    Parameters
    ----------
    wanted
        Name, number, or a beginning that no other trip's name has, in any case; None for the newest. Up to
        three digits are a number.

    Returns
    -------
    Trip
        The trip.

    Raises
    ------
    LogbookError
        where there is no such trip, naming those that there are.
    """
    known = trips_newest_first(logbook)
    if not known:
        raise LogbookError(f"{logbook.path}: holds no trip yet. Start one: auditor audit FOLDER")
    if wanted is None:
        return known[0]
    for trip in known:
        if wanted in (trip.name, str(trip.trip_id)):
            return trip
    is_number = wanted.isdecimal() and len(wanted) < len("2026")  # trip 2 is not the one of 2026
    begun = [trip for trip in known if wanted and trip.name.casefold().startswith(wanted.casefold())]
    if len(begun) == 1 and not is_number:
        return begun[0]
    names = "; ".join(f"{trip.trip_id} = {trip.name}" for trip in known[:8])
    raise LogbookError(f"There is no trip {wanted!r}. The newest are: {names}.")


def trip_numbered(logbook: Logbook, trip_id: int) -> Trip:
    """A trip by its number alone: pages know it by that, whatever another one is called.

    Parameters
    ----------
    trip_id
        As it was when the page was shown.

    Returns
    -------
    Trip
        The trip.

    Raises
    ------
    LogbookError
        where it is no more.
    """
    sql = "SELECT trip_id, name, first_at, last_at, frames FROM trips WHERE trip_id = ?"
    for row in logbook.query(sql, (trip_id,)):
        return Trip(*row)
    raise LogbookError(
        "The logbook has no such trip now: its frames were left out, or belong to another trip."
    )


def trip_of_any(logbook: Logbook, frame_ids: Sequence[int]) -> int | None:
    """The trip of the first of these frames that is in one.

    Parameters
    ----------
    frame_ids
        In the order in which they are asked.

    Returns
    -------
    int or None
        Its trip_id; None where none of them is in a trip.
    """
    sql = """SELECT m.trip_id FROM json_each(?) AS asked JOIN membership AS m ON m.frame_id = asked.value
             WHERE m.trip_id IS NOT NULL ORDER BY asked.key LIMIT 1"""
    return next((row[0] for row in logbook.query(sql, (json.dumps(list(frame_ids)),))), None)


def trips_under(logbook: Logbook, folders: list[str]) -> list[Trip]:
    """The trips that the frames of some folders belong to, the oldest first.

    Parameters
    ----------
    folders
        Absolute, as text.

    Returns
    -------
    list[Trip]
        Trips with a present file in one of them.
    """
    ranges = [path_range(folder) for folder in folders]
    where = " OR ".join("(files.path >= ? AND files.path < ?)" for _ in ranges)
    sql = f"""
        SELECT trip_id, name, first_at, last_at, frames FROM trips WHERE trip_id IN (
            SELECT trip_id FROM membership JOIN files USING (frame_id) WHERE present = 1 AND ({where})
        ) ORDER BY first_at"""
    return [Trip(*row) for row in logbook.query(sql, tuple(end for both in ranges for end in both))]
