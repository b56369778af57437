"""Bursts, scenes, encounters and trips: the groups that frames are in.

Everything here can be thrown away and made again from `frames`.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager
from typing import NamedTuple

from auditor.store.body_key import body_key_sql
from auditor.store.logbook import Logbook

_BODY = body_key_sql("k")
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
    utc_offset: str | None


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
               m.trip_id AS old_trip_id, f.utc_offset
        FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN kits AS k USING (kit_id)
        LEFT JOIN membership AS m USING (frame_id)
        WHERE i.taken_at BETWEEN ? AND ? AND NOT i.excluded ORDER BY i.taken_at, i.frame_id
        """,
        (first_at, last_at),
    )
    while rows := cursor.fetchmany(_CHUNK):
        yield from map(TimedFrame._make, rows)


def clear_empty_trips(logbook: Logbook) -> None:
    """Take away trips that have lost all their frames, with all their groups."""
    empty = "SELECT trip_id FROM trips WHERE trip_id NOT IN (SELECT trip_id FROM membership)"
    encounters = f"SELECT encounter_id FROM encounters WHERE trip_id IN ({empty})"
    for table in ("bursts", "scenes"):
        logbook.execute(f"DELETE FROM {table} WHERE encounter_id IN ({encounters})")
    logbook.execute(f"DELETE FROM encounters WHERE trip_id IN ({empty})")
    logbook.execute(f"DELETE FROM trips WHERE trip_id IN ({empty})")


_GROUPS = ("encounters", "bursts", "scenes", "membership")
_MEMBERSHIP = """SELECT n.frame_id, n.burst_id, n.scene_id, n.encounter_id, t.trip_id, n.position_in_burst,
    n.shift_s FROM temp.new_membership AS n JOIN temp.new_trips AS t ON t.place = n.trip_id"""
_IN_SPAN = "SELECT trip_id FROM main.trips WHERE first_at >= :first AND last_at <= :last"


class NewGroups:
    """Groups in the making, in temporary tables: a trip stands there under its place, from 0.

    Its id is known once all are made, since it is that of the old trip with most of its frames.
    """

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        self._waiting: dict[str, list[tuple[object, ...]]] = {table: [] for table in _GROUPS}

    def write(self, table: str, rows: Sequence[Sequence[object]]) -> None:
        """Write rows of a group table, columns in the order of the table; for trip_id the place of the trip.

        Parameters
        ----------
        table
            `encounters`, `scenes`, `bursts` or `membership`.
        rows
            Any number.
        """
        waiting = self._waiting[table]
        waiting.extend(map(tuple, rows))
        if len(waiting) >= _CHUNK:
            self._write_waiting(table)

    def _write_waiting(self, table: str) -> None:
        """An encounter has few rows: a statement for each would take longer than to write them."""
        waiting = self._waiting[table]
        if waiting:
            marks = ", ".join("?" * len(waiting[0]))
            self._logbook.execute_many(f"INSERT INTO temp.new_{table} VALUES ({marks})", waiting)
            waiting.clear()

    def take_over(self, span: tuple[str, str], trips: Sequence[Sequence[object]]) -> None:
        """Put the new groups in the place of those of a span.

        Parameters
        ----------
        span
            Local times, ISO 8601: trips that lie between them are replaced.
        trips
            Rows of `trips`, in the order of their places.
        """
        for table in _GROUPS:
            self._write_waiting(table)
        book, ends = self._logbook, {"first": span[0], "last": span[1]}
        book.execute_many(
            "INSERT INTO temp.new_trips VALUES (?, ?)", [(place, row[0]) for place, row in enumerate(trips)]
        )
        # Frames that stay where they were are not written again: sums of their trips stand on.
        book.execute(
            f"DELETE FROM membership WHERE trip_id IN ({_IN_SPAN}) AND NOT EXISTS ({_MEMBERSHIP} "
            "WHERE (n.frame_id, n.burst_id, n.scene_id, n.encounter_id, t.trip_id, n.position_in_burst, "
            "n.shift_s) = (membership.frame_id, membership.burst_id, membership.scene_id, "
            "membership.encounter_id, membership.trip_id, membership.position_in_burst, "
            "membership.shift_s))",
            ends,
        )
        old = f"SELECT encounter_id FROM encounters WHERE trip_id IN ({_IN_SPAN})"
        for table in ("bursts", "scenes"):
            book.execute(f"DELETE FROM {table} WHERE encounter_id IN ({old})", ends)
        book.execute(f"DELETE FROM encounters WHERE trip_id IN ({_IN_SPAN})", ends)
        book.execute("DELETE FROM trips WHERE first_at >= :first AND last_at <= :last", ends)
        book.execute_many("INSERT INTO trips VALUES (?, ?, ?, ?, ?, ?)", [tuple(row) for row in trips])
        book.execute(
            "INSERT INTO encounters SELECT n.encounter_id, t.trip_id, n.first_at, n.last_at, n.frames, "
            "n.light_value_ev, n.stamp FROM temp.new_encounters AS n "
            "JOIN temp.new_trips AS t ON t.place = n.trip_id"
        )
        for table in ("bursts", "scenes"):
            book.execute(f"INSERT INTO {table} SELECT * FROM temp.new_{table}")
        book.execute(
            f"INSERT INTO membership {_MEMBERSHIP} WHERE n.frame_id NOT IN (SELECT frame_id FROM membership)"
        )


@contextmanager
def new_groups(logbook: Logbook) -> Iterator[NewGroups]:
    """Groups in the making; their temporary tables are gone on leaving.

    Returns
    -------
    Iterator[NewGroups]
        Empty.
    """
    names = [f"temp.new_{table}" for table in (*_GROUPS, "trips")]
    for name in names:
        logbook.execute(f"DROP TABLE IF EXISTS {name}")
    for table in _GROUPS:
        logbook.execute(f"CREATE TEMP TABLE new_{table} AS SELECT * FROM main.{table} WHERE FALSE")
    logbook.execute("CREATE UNIQUE INDEX temp.new_membership_by_frame ON new_membership (frame_id)")
    logbook.execute("CREATE TEMP TABLE new_trips (place INTEGER PRIMARY KEY, trip_id INTEGER NOT NULL)")
    yield NewGroups(logbook)
    for name in names:
        logbook.execute(f"DROP TABLE {name}")


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
