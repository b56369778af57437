"""Days on which a body moved its ISO by itself, seen in frames that do not say so."""

from __future__ import annotations

from collections.abc import Iterable

from auditor.store.body_key import body_key_sql
from auditor.store.logbook import Logbook

_BODY = body_key_sql("f")
_SEEN = f"""
WITH days AS (
    SELECT DISTINCT substr(g.taken_at, 1, 10) AS day FROM touched JOIN frames AS g USING (frame_id)
    WHERE g.taken_at IS NOT NULL
), taken AS (
    SELECT {_BODY} AS body, substr(f.taken_at, 1, 10) AS day, f.iso, f.f_number, f.exposure_time_s,
           julianday(f.taken_at) AS moment
    FROM days CROSS JOIN frames AS f ON f.taken_at BETWEEN days.day AND days.day || '~'
    WHERE f.auto_iso IS NULL AND (f.exposure_program = 1 OR f.exposure_mode = 1) AND f.iso IS NOT NULL
), steps AS (
    SELECT body, day, iso <> lag(iso) OVER earlier AND f_number = lag(f_number) OVER earlier
           AND exposure_time_s = lag(exposure_time_s) OVER earlier
           AND (moment - lag(moment) OVER earlier) * 86400 <= :within_s AS moved
    FROM taken WINDOW earlier AS (PARTITION BY body, day ORDER BY moment)
)
SELECT body, day FROM steps GROUP BY body, day HAVING sum(moved) >= :fewest
"""


def seen(logbook: Logbook, *, within_s: float, fewest: int) -> set[tuple[str, str]]:
    """Bodies and days of touched frames whose ISO moved by itself: (make|model|serial, day).

    Exposure set by hand, the camera's note silent on Auto ISO; and at least `fewest` times ISO differs from
    the frame before, taken within so many seconds at the same f-number and shutter speed.

    Parameters
    ----------
    within_s
        Seconds between one frame and the next.
    fewest
        Changes of ISO in one day.

    Returns
    -------
    set[tuple[str, str]]
        Body as `body_key` gives it, and day as 2026-04-18.
    """
    rows = logbook.query(_SEEN, {"within_s": within_s, "fewest": fewest})
    return {(row["body"], row["day"]) for row in rows}


def touch_unmetered(logbook: Logbook, bodies_and_days: Iterable[tuple[str, str]]) -> None:
    """Put frames of these bodies and days on the list whose light is not known.

    Parameters
    ----------
    bodies_and_days
        As `seen` gives them.
    """
    logbook.execute_many(
        "INSERT OR IGNORE INTO touched SELECT frame_id FROM frames AS f JOIN inferred AS i USING (frame_id) "
        f"WHERE {_BODY} = ? AND f.taken_at BETWEEN ? AND ? || '~' AND i.light_value_ev IS NULL",
        [(body, day, day) for body, day in bodies_and_days],
    )
