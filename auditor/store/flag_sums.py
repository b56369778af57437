"""How many frames have each flag: kept a trip, or counted where frames are chosen by options."""

from __future__ import annotations

from auditor.store import summed
from auditor.store.logbook import Logbook

_KEEP = """
INSERT INTO flag_sums SELECT :trip, flag.value, count(*)
FROM inferred AS i LEFT JOIN membership AS m USING (frame_id), json_each(i.flags) AS flag
WHERE {which} GROUP BY flag.value
"""


def keep(logbook: Logbook, trip_id: int) -> None:
    """Count the flags of a trip's frames, and keep the counts; inside `writing()`.

    Parameters
    ----------
    trip_id
        Of a trip without sums, or `summed.NO_TRIP`.
    """
    which = summed.frames_of(trip_id)
    logbook.execute(_KEEP.format(which=which), {"trip": trip_id})


def flag_counts(logbook: Logbook, trip_id: int | None) -> dict[str, int] | None:
    """How many frames of a trip, or of all, have each flag, in order of the flags' names.

    Parameters
    ----------
    trip_id
        None for all trips; frames that were left out count too.

    Returns
    -------
    dict[str, int] or None
        None where no sums stand, and the frames are to be counted.
    """
    if not summed.stand_for(logbook):
        return None
    where = "" if trip_id is None else "WHERE trip_id = :trip"
    sql = f"SELECT flag, sum(frames) FROM flag_sums {where} GROUP BY flag ORDER BY flag"
    return {row[0]: row[1] for row in logbook.query(sql, {"trip": trip_id})}
