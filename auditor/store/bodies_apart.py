"""Bodies of one model that record no serial number: what the logbook has to tell them apart by."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import groupby
from typing import NamedTuple

from auditor.store.body_key import body_key_sql
from auditor.store.exposure_identity import name_prefix
from auditor.store.logbook import Logbook

_BODY = body_key_sql("f")
_OF_TOUCHED_DAYS = f"""
WITH days AS (
    SELECT DISTINCT substr(g.taken_at, 1, 10) AS day FROM touched JOIN frames AS g USING (frame_id)
    WHERE g.taken_at IS NOT NULL AND g.body_serial IS NULL AND g.body_model IS NOT NULL
)
SELECT {_BODY} AS body, days.day, f.file_number,
       (SELECT min(o.path) FROM files AS o
        WHERE o.frame_id = f.frame_id AND o.role NOT IN ('sidecar', 'edited')) AS path
FROM days CROSS JOIN frames AS f ON f.taken_at BETWEEN days.day AND days.day || '~'
WHERE f.body_serial IS NULL AND f.body_model IS NOT NULL AND f.file_number IS NOT NULL
ORDER BY body, f.taken_at, f.file_number
"""


class NumberedFrame(NamedTuple):
    """A frame by its file's name."""

    prefix: str
    number: int


def days_of_bodies(logbook: Logbook) -> Iterator[tuple[str, list[NumberedFrame]]]:
    """Every day of each body without a serial number that touched frames are of, in order of time.

    Yields
    ------
    tuple[str, list[NumberedFrame]]
        The body as `body_key` gives it, and the frames of the day whose names a camera gave.
    """
    rows = logbook.connection.execute(_OF_TOUCHED_DAYS)
    for (body, _day), frames in groupby(rows, key=lambda row: (row["body"], row["day"])):
        named = ((name_prefix(row["path"] or ""), row["file_number"]) for row in frames)
        yield body, [NumberedFrame(prefix, number) for prefix, number in named if prefix is not None]


def bodies_without_serial(logbook: Logbook) -> dict[str, set[str]]:
    """What stands in the place of a serial number in the kits of each model, where something does.

    Returns
    -------
    dict[str, set[str]]
        By the body as `body_key` gives it without a serial number.
    """
    found: dict[str, set[str]] = {}
    for row in logbook.query("SELECT body_make, body_model, body_serial FROM kits"):
        if row["body_serial"] is not None:
            body = "|".join((row["body_make"] or "", row["body_model"] or "", ""))
            found.setdefault(body, set()).add(row["body_serial"])
    return found


def touch_bodies(logbook: Logbook, bodies: Iterable[str]) -> None:
    """Put every frame of these bodies on the list for rebuilding, inside `writing()`.

    Parameters
    ----------
    bodies
        As `body_key` gives them, without a serial number.
    """
    logbook.execute_many(
        f"INSERT OR IGNORE INTO touched SELECT frame_id FROM frames AS f WHERE {_BODY} = ?",
        [(body,) for body in bodies],
    )
