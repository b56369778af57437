"""Bursts, scenes, encounters and trips: the groups that frames are in.

Everything here can be thrown away and made again from `frames`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import NamedTuple

from auditor.store.body_key import body_key_sql
from auditor.store.logbook import Logbook

_BODY = body_key_sql("f")
_CHUNK = 2000


def groups_are_stale(logbook: Logbook, stamp: str) -> bool:
    """Whether trips, and the groups in them, come from another version, or from other settings.

    Parameters
    ----------
    stamp
        Of the present version and settings.

    Returns
    -------
    bool
        False where nothing was grouped yet.
    """
    return bool(logbook.query("SELECT EXISTS (SELECT 1 FROM trips WHERE stamp <> ?)", (stamp,))[0][0])


def trips_between(logbook: Logbook, first_at: str, last_at: str) -> tuple[str | None, str | None]:
    """First and last time of the trips that reach into a span; None, None when there are none.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.

    Returns
    -------
    tuple[str or None, str or None]
        Local times, ISO 8601.
    """
    row = logbook.query(
        "SELECT min(first_at), max(last_at) FROM trips WHERE last_at >= ? AND first_at <= ?",
        (first_at, last_at),
    )[0]
    return row[0], row[1]


class TimedFrame(NamedTuple):
    """What grouping needs of one frame; a tuple, since there is one of every frame of a span."""

    frame_id: int
    taken_at: str
    """Local time, ISO 8601."""
    kit_id: int
    light_value_ev: float | None
    file_number: int | None
    shot_in_burst: int | None
    body: str
    old_trip_id: int | None
    """The trip that it was in before; None for a new frame."""


def frames_between(logbook: Logbook, first_at: str, last_at: str) -> Iterator[TimedFrame]:
    """Every frame of a span (both ends included) that is not left out, in order of time.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.

    Returns
    -------
    Iterator[TimedFrame]
        With what grouping looks at.
    """
    cursor = logbook.connection.execute(
        f"""
        SELECT i.frame_id, i.taken_at, i.kit_id, i.light_value_ev, f.file_number, f.shot_in_burst,
               {_BODY} AS body,
               m.trip_id AS old_trip_id
        FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN membership AS m USING (frame_id)
        WHERE i.taken_at BETWEEN ? AND ? AND NOT i.excluded ORDER BY i.taken_at, i.frame_id
        """,
        (first_at, last_at),
    )
    while rows := cursor.fetchmany(_CHUNK):
        yield from map(TimedFrame._make, rows)


def clear_groups(logbook: Logbook, first_at: str, last_at: str) -> None:
    """Take away the trips of a span, with all their groups.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.
    """
    trips = "SELECT trip_id FROM trips WHERE first_at >= :first AND last_at <= :last"
    span = {"first": first_at, "last": last_at}
    encounters = f"SELECT encounter_id FROM encounters WHERE trip_id IN ({trips})"
    for table in ("bursts", "scenes"):
        logbook.execute(f"DELETE FROM {table} WHERE encounter_id IN ({encounters})", span)
    logbook.execute(f"DELETE FROM membership WHERE trip_id IN ({trips})", span)
    logbook.execute(f"DELETE FROM encounters WHERE trip_id IN ({trips})", span)
    logbook.execute("DELETE FROM trips WHERE first_at >= :first AND last_at <= :last", span)


def clear_empty_trips(logbook: Logbook) -> None:
    """Take away trips that have lost all their frames, with all their groups."""
    empty = "SELECT trip_id FROM trips WHERE trip_id NOT IN (SELECT trip_id FROM membership)"
    encounters = f"SELECT encounter_id FROM encounters WHERE trip_id IN ({empty})"
    for table in ("bursts", "scenes"):
        logbook.execute(f"DELETE FROM {table} WHERE encounter_id IN ({encounters})")
    logbook.execute(f"DELETE FROM encounters WHERE trip_id IN ({empty})")
    logbook.execute(f"DELETE FROM trips WHERE trip_id IN ({empty})")


def write_groups(logbook: Logbook, table: str, rows: Sequence[Sequence[object]]) -> None:
    """Write rows of a group table, columns in the order of the table.

    Parameters
    ----------
    table
        `trips`, `encounters`, `scenes`, `bursts` or `membership`.
    rows
        Any number.
    """
    if rows:
        logbook.execute_many(
            f"INSERT INTO {table} VALUES ({', '.join('?' * len(rows[0]))})", [tuple(row) for row in rows]
        )


def next_trip_id(logbook: Logbook, taken: Iterable[int]) -> int:
    """An id that no trip has or had in this rebuild.

    Parameters
    ----------
    taken
        Ids that this rebuild has given.

    Returns
    -------
    int
        Above all of them.
    """
    highest = logbook.query("SELECT coalesce(max(trip_id), 0) FROM trips")[0][0]
    return int(max(highest, *taken, 0)) + 1
