"""Numbers of every frame that medians and quartiles are made of: kept a trip at a time, packed.

A million frames as rows of SQL take seconds to read, packed a fifth of one.
"""

from __future__ import annotations

import math
import sys
from array import array
from collections.abc import Iterable
from typing import TYPE_CHECKING, Literal

from auditor.store import summed
from auditor.store.logbook import Logbook
from auditor.store.of_trip import OF_TRIP, asked_of
from auditor.store.packed_numbers import COLUMNS, numbers_packed, numbers_unpacked

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

_LIGHT = """
SELECT i.kit_id, f.iso, i.iso_without_converter, i.forced_push_ev, i.light_value_ev,
       iif(i.light_value_ev IS NULL, NULL, f.auto_iso), f.exposure_time_s
FROM inferred AS i JOIN frames AS f USING (frame_id) LEFT JOIN membership AS m USING (frame_id)
WHERE NOT i.excluded AND {which} {order}
"""
_DETAIL = """
SELECT i.kit_id, m.scene_id, m.encounter_id, r.noise,
       r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000, r.system_sigma_px, i.light_value_ev
FROM readings AS r JOIN inferred AS i USING (frame_id) JOIN membership AS m USING (frame_id)
WHERE r.system_sigma_px > 0 AND i.pixel_pitch_um > 0 AND i.focal_length_mm > 0 AND NOT i.excluded
  AND {which} {order}
"""
_SQL = {"light": _LIGHT, "detail": _DETAIL}


def light(logbook: Logbook, trip_id: int | None) -> NDArray[np.float64]:
    """A row a frame: kit_id, ISO, ISO without the converter, stops forced, light in EV, whether ISO was left
    to the body (1 or 0, of frames in known light), exposure time in seconds; NaN: unknown.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    NDArray[np.float64]
        Shape (frames, 7), in no order.
    """
    return _numbers(logbook, "light", trip_id)


def measured_detail(logbook: Logbook, trip_id: int | None) -> NDArray[np.float64]:
    """A row a measured frame: kit_id, scene_id, encounter_id, noise, microradians a pixel, blur, light.

    Noise of a pixel is in levels of luma (0 to 255), blur in pixels (the whole of it), light in EV (NaN where
    not known).

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    NDArray[np.float64]
        Shape (frames, 7), in no order.
    """
    return _numbers(logbook, "detail", trip_id)


def keep(logbook: Logbook, trip_id: int) -> None:
    """Pack the numbers of a trip, and keep them; inside `writing()`.

    Parameters
    ----------
    trip_id
        Of a trip without sums, or `summed.NO_TRIP`.
    """
    which = summed.frames_of(trip_id)
    packed = [
        numbers_packed(
            _as_bytes(logbook.query(sql.format(which=which, order="ORDER BY i.frame_id"), {"trip": trip_id}))
        )
        for sql in (_LIGHT, _DETAIL)
    ]
    logbook.execute("INSERT INTO trip_numbers VALUES (?, ?, ?)", (trip_id, *packed))


def check(logbook: Logbook) -> None:
    """Look whether all that is kept can be unpacked.

    Raises
    ------
    ValueError
        where some of it cannot: it was changed since.
    """
    for row in logbook.connection.execute("SELECT light, detail FROM trip_numbers"):
        for value in row:
            numbers_unpacked(value)


def _as_bytes(rows: Iterable[Iterable[float | None]]) -> bytes:
    numbers = array("d")
    for row in rows:
        numbers.extend(math.nan if value is None else value for value in row)
    if sys.byteorder == "big":
        numbers.byteswap()
    return numbers.tobytes()


def _numbers(logbook: Logbook, kind: Literal["light", "detail"], trip_id: int | None) -> NDArray[np.float64]:
    import numpy as np

    if summed.stand_for(logbook):
        where = "" if trip_id is None else "WHERE trip_id = :trip"
        sql = f"SELECT {kind} FROM trip_numbers {where} ORDER BY trip_id"
        parts = [numbers_unpacked(row[0]) for row in logbook.connection.execute(sql, {"trip": trip_id})]
        return np.concatenate(parts, axis=1).T if parts else np.zeros((0, COLUMNS))
    cursor = logbook.connection.execute(
        asked_of(_SQL[kind].format(which=OF_TRIP, order=""), trip_id), {"trip": trip_id}
    )
    cursor.row_factory = None
    rows = (tuple(math.nan if value is None else value for value in row) for row in cursor)
    return np.fromiter(rows, dtype=np.dtype((float, COLUMNS)))
