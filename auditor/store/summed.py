"""Which trips have sums that stand: of their frames by kit and encounter, of flags, of light and detail.

Triggers of the logbook take a trip out of `summed` whenever a frame of it changes (schema/0013_sums.sql), so
sums that stand are never out of date. Where some do not, or where frames are chosen by options, the frames
themselves are read instead.
"""

from __future__ import annotations

from auditor.store.logbook import Logbook

NO_TRIP = 0
"""Stands for frames that are in no trip: they have no time, or were left out."""
_OF_NO_TRIP = """i.frame_id IN (SELECT frame_id FROM inferred WHERE taken_at IS NULL
    UNION SELECT frame_id FROM inferred WHERE excluded)"""
"""Over `inferred AS i`, once every frame with a time was grouped."""

_WAITING = """
SELECT trip_id FROM trips WHERE trip_id NOT IN (SELECT trip_id FROM summed)
UNION SELECT 0 WHERE 0 NOT IN (SELECT trip_id FROM summed) ORDER BY 1
"""


def frames_of(trip_id: int) -> str:
    """Which frames are summed for a trip: a condition over `inferred AS i` and `membership AS m`.

    Parameters
    ----------
    trip_id
        Of the trip, or NO_TRIP.

    Returns
    -------
    str
        SQL, which reads the trip as `:trip`.
    """
    return _OF_NO_TRIP if trip_id == NO_TRIP else "m.trip_id = :trip"


def waiting(logbook: Logbook) -> list[int]:
    """Trips whose sums are to be made, NO_TRIP among them; empty where all stand.

    Returns
    -------
    list[int]
        Rising.
    """
    return [row[0] for row in logbook.query(_WAITING)]


def stand_for(logbook: Logbook) -> bool:
    """Whether sums can answer what is asked of this logbook now.

    Not where frames were chosen by kit, day or another option (`selection.narrowed`): those have none.

    Returns
    -------
    bool
        False where the frames are to be read.
    """
    return not logbook.narrowed and all_stand(logbook)


def all_stand(logbook: Logbook) -> bool:
    """Whether the sums of every trip stand, whatever frames were chosen."""
    return not logbook.query(f"SELECT EXISTS ({_WAITING})")[0][0]


def forget_old(logbook: Logbook) -> None:
    """Take away sums that do not stand; inside `writing()`."""
    for table in ("encounter_columns", "encounter_sums", "flag_sums", "trip_numbers"):
        logbook.execute(f"DELETE FROM {table} WHERE trip_id NOT IN (SELECT trip_id FROM summed)")


def note(logbook: Logbook, trip_id: int) -> None:
    """The sums of a trip stand; inside `writing()`.

    Parameters
    ----------
    trip_id
        Of the trip, or NO_TRIP.
    """
    logbook.execute("INSERT INTO summed VALUES (?)", (trip_id,))
