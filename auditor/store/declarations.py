"""What the photographer said that no file records, with its history: nothing is deleted, only undone."""

from __future__ import annotations

import getpass
import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from auditor.errors import LogbookError
from auditor.records import Recorded
from auditor.serials import NO_SERIAL
from auditor.store.clock import now_utc
from auditor.store.declared_facts import Said, Span, as_json, from_json
from auditor.store.derived import RECORDED, recorded_of
from auditor.store.logbook import Logbook
from auditor.store.paths import path_range

_OF_BODY = f"""(body_serial = :body OR lower(body_model) = lower(:body)
    OR body_serial IS NULL AND lower(body_model || '{NO_SERIAL}') = lower(:body))"""
"""As `frames.declared.is_of` knows the frames of a body."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration(Said):
    """One thing that was declared."""

    declaration_id: int
    said_with: int | None = None
    """The first of those that were said at once, which are undone at once."""
    said_at: str
    said_by: str
    undone_at: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameOfTrip:
    """A frame and the trip that it is in."""

    frame_id: int
    taken_at: str
    trip_name: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Body:
    """A body in the logbook."""

    body_make: str | None
    body_model: str | None
    body_serial: str | None
    frames: int


def add(logbook: Logbook, said: Iterable[Said]) -> list[int]:
    """Keep what was said at once, inside `writing()`.

    Parameters
    ----------
    said
        What is to be undone as one.

    Returns
    -------
    list[int]
        The number of each, in their order.
    """
    numbers: list[int] = []
    now, who = now_utc(), _who()
    sql = """INSERT INTO declarations (said_with, kind, body, from_at, to_at, facts, said_at, said_by)
             VALUES (?, ?, ?, ?, ?, ?, ?, ?)"""
    for statement in said:
        facts = json.dumps(as_json(statement.facts), ensure_ascii=False, sort_keys=True)
        first = numbers[0] if numbers else None
        numbers.append(
            logbook.execute(
                sql,
                (first, statement.kind, statement.body, statement.from_at, statement.to_at, facts, now, who),
            )
        )
    return numbers


def said_together(logbook: Logbook, declaration_id: int) -> list[Declaration]:
    """An active declaration with those that were said at once with it.

    Parameters
    ----------
    declaration_id
        As `declare list` shows it.

    Returns
    -------
    list[Declaration]
        At least one.

    Raises
    ------
    LogbookError
        where there is none with this number, or it is undone already.
    """
    ever = history(logbook)
    named = next((declaration for declaration in ever if declaration.declaration_id == declaration_id), None)
    if named is None:
        raise LogbookError(f"There is no declaration {declaration_id} to undo. See: auditor declare list")
    if named.undone_at is not None:
        raise LogbookError(f"Declaration {declaration_id} was undone already, on {named.undone_at[:10]}.")
    active = [declaration for declaration in ever if declaration.undone_at is None]
    first = named.said_with or named.declaration_id
    return [
        declaration for declaration in active if first in (declaration.declaration_id, declaration.said_with)
    ]


def undo(logbook: Logbook, together: Iterable[Declaration]) -> None:
    """Note declarations as undone, inside `writing()`.

    Parameters
    ----------
    together
        Active declarations.
    """
    logbook.execute_many(
        "UPDATE declarations SET undone_at = ? WHERE declaration_id = ?",
        [(now_utc(), declaration.declaration_id) for declaration in together],
    )


def history(logbook: Logbook) -> list[Declaration]:
    """Every declaration ever made, the oldest first, those undone included."""
    rows = logbook.query("SELECT * FROM declarations ORDER BY declaration_id")
    return [
        Declaration(
            declaration_id=row["declaration_id"],
            said_with=row["said_with"],
            facts=from_json(row["kind"], json.loads(row["facts"])),
            body=row["body"],
            from_at=row["from_at"],
            to_at=row["to_at"],
            said_at=row["said_at"],
            said_by=row["said_by"],
            undone_at=row["undone_at"],
        )
        for row in rows
    ]


def frames_of_body(
    logbook: Logbook, body: str, between: Span | None = None
) -> Iterator[tuple[int, Recorded]]:
    """Every frame of a body, by its serial number or its model, with what was recorded of it.

    Parameters
    ----------
    body
        Serial number, or model in any case, perhaps with `NO_SERIAL` behind it.
    between
        Only frames taken in this span, by the camera's own clock.

    Yields
    ------
    int, Recorded
        The frame's id, and its record, in order of time.
    """
    within = "" if between is None else "AND taken_at BETWEEN :first AND :last"
    sql = f"""SELECT {RECORDED} WHERE {_OF_BODY} {within}
              ORDER BY taken_at, frame_id"""
    first_at, last_at = between or ("", "")
    for row in logbook.query(sql, {"body": body, "first": first_at, "last": last_at}):
        yield row["frame_id"], recorded_of(row)


def frames_below(logbook: Logbook, paths: Iterable[str]) -> Iterator[tuple[int, Recorded]]:
    """Every frame that has a picture at one of these paths or below it, with what was recorded of it.

    Parameters
    ----------
    paths
        Files or folders, absolute.

    Returns
    -------
    Iterator[tuple[int, Recorded]]
        Id and record of each frame.
    """
    below = "SELECT frame_id FROM files WHERE role <> 'sidecar' AND (path = ? OR (path >= ? AND path < ?))"
    sql = f"SELECT {RECORDED} WHERE frame_id IN ({below}) ORDER BY frame_id"
    seen: set[int] = set()
    for path in paths:
        for row in logbook.query(sql, (path, *path_range(path))):
            if row["frame_id"] not in seen:
                seen.add(row["frame_id"])
                yield row["frame_id"], recorded_of(row)


def trips_in_span(logbook: Logbook, first_at: str, last_at: str) -> list[FrameOfTrip]:
    """Frames taken in a span, both ends included, by the corrected clock, in order of time.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.

    Returns
    -------
    Each frame's id, time and the name of its trip; None for a frame that is in no trip.
    """
    sql = """SELECT i.frame_id, i.taken_at, t.name AS trip_name FROM inferred AS i
             LEFT JOIN membership AS m USING (frame_id) LEFT JOIN trips AS t USING (trip_id)
             WHERE i.taken_at BETWEEN ? AND ? AND NOT i.excluded ORDER BY i.taken_at, i.frame_id"""
    return [FrameOfTrip(**dict(row)) for row in logbook.query(sql, (first_at, last_at))]


def trips_reach_over(logbook: Logbook, first_at: str, last_at: str) -> bool:
    """Whether a span is not just one trip: it cuts a trip, or holds several.

    Parameters
    ----------
    first_at, last_at
        Local time, ISO 8601.

    Returns
    -------
    bool
        False where the span lies in no trip.
    """
    sql = """SELECT count(*), min(first_at) < :first OR max(last_at) > :last FROM trips
             WHERE first_at <= :last AND last_at >= :first"""
    ((count, cuts),) = logbook.query(sql, {"first": first_at, "last": last_at})
    return count > 1 or bool(cuts)


def span_of_body(logbook: Logbook, body: str, *, by_camera_clock: bool) -> Span | None:
    """First and last frame of a body; None where none says when it was taken.

    Parameters
    ----------
    body
        Its serial number, or its model in any case.
    by_camera_clock
        By the times that the camera wrote, not by those that a declaration put right.

    Returns
    -------
    Span or None
        Local times, ISO 8601.
    """
    clock = "f.taken_at" if by_camera_clock else "i.taken_at"
    sql = f"""SELECT min({clock}), max({clock}) FROM frames AS f JOIN inferred AS i USING (frame_id)
              WHERE {_OF_BODY}"""
    ((first_at, last_at),) = logbook.query(sql, {"body": body})
    return None if first_at is None else Span(first_at, last_at)


def bodies(logbook: Logbook) -> list[Body]:
    """Bodies in the logbook, the most used first."""
    rows = logbook.query(
        "SELECT body_make, body_model, body_serial, count(*) AS frames FROM frames "
        "GROUP BY body_make, body_model, body_serial ORDER BY frames DESC"
    )
    return [Body(**dict(row)) for row in rows]


def _who() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # a machine that does not tell
        return "unknown"
