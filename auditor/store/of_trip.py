"""One trip, or all: the condition that questions share."""

from __future__ import annotations

OF_TRIP = "(:trip IS NULL OR m.trip_id = :trip)"
"""Over `membership AS m`, to stand in a statement."""
_OF_ONE = "m.trip_id = :trip"


def asked_of(sql: str, trip_id: int | None) -> str:
    """The statement as it is asked of one trip, or of all.

    SQLite uses no index under an OR: without this a question about one trip reads the whole logbook.

    Parameters
    ----------
    sql
        With OF_TRIP in it.
    trip_id
        None for all trips.

    Returns
    -------
    str
        The statement, which still takes the parameter `trip`.
    """
    return sql if trip_id is None else sql.replace(OF_TRIP, _OF_ONE)
