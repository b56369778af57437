"""Sums by kit and encounter as columns: kept a trip at a time, packed.

A hundred thousand rows of forty sums take SQLite a second to hand over value by value, packed a tenth of one.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from auditor.store.logbook import Logbook
from auditor.store.packed_numbers import numbers_packed, numbers_unpacked

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

COUNTS = (
    "kit_id", "encounter_id", "trip_id", "frames", "judged", "hits", "unclear", "weighed", "by_word",
    "by_reading", "framed_judged", "framed_hits", "measured", "silent", "manual", "unmetered", "iso_pushed",
    "near_reciprocal", "compared", "compared_by_word", "compared_by_reading", "keyworded", "numbered",
)  # fmt: skip
"""Those that no frame tells of count as 0."""
FLOATS = (
    "likely_hits", "compared_hits", "light_ev", "exposure_time_s", "metre_mrad", "lowest", "highest",
    "lowest_of_high", "highest_of_low",
)  # fmt: skip
TIMES = ("first_at", "last_at")
WORDS = ("first_keywords", "last_keywords", "first_mode", "last_mode")
NAMES = (*COUNTS, *FLOATS, *TIMES, *WORDS)
_MICROSECONDS = "datetime64[us]"


@dataclass(frozen=True, slots=True, eq=False)
class Words:
    """A column of words, each of them written once."""

    names: tuple[str | None, ...]
    number: NDArray[np.int64]
    """The place in `names` of each row's word, shape (rows,)."""

    @classmethod
    def of(cls, names: Sequence[str | None], number: NDArray[Any]) -> Words:
        """The words that rows have, in the order of the alphabet; None stands as if it were written.

        Parameters
        ----------
        names
            In any order, one perhaps several times.
        number
            The place in them of each row's word, shape (rows,).

        Returns
        -------
        Words
            Each name once, and none that no row has.
        """
        import numpy as np

        used = np.flatnonzero(np.bincount(number, minlength=len(names))).tolist()
        kept = sorted({names[place] for place in used}, key=str)
        place_of = {name: place for place, name in enumerate(kept)}
        places = np.zeros(len(names), dtype=np.int64)
        places[used] = [place_of[names[place]] for place in used]
        return cls(tuple(kept), places[number])

    @property
    def numbered(self) -> NDArray[np.int64]:
        """Numbers from 0 for the words of these rows alone, in the order of `names`, shape (rows,)."""
        import numpy as np

        used = np.bincount(self.number, minlength=len(self.names)) > 0
        return np.asarray((np.cumsum(used) - 1)[self.number])

    def __len__(self) -> int:
        return len(self.number)

    def __getitem__(self, chosen: NDArray[Any]) -> Words:
        return Words(self.names, self.number[chosen])

    def are(self, chosen: Sequence[bool]) -> NDArray[np.bool_]:
        """Which rows have one of the chosen words, shape (rows,).

        Parameters
        ----------
        chosen
            An answer for each of `names`.

        Returns
        -------
        NDArray[np.bool_]
            An answer for each row.
        """
        import numpy as np

        return np.asarray(np.array(chosen, dtype=np.bool_)[self.number])


class Part(NamedTuple):
    """Some rows: those of a trip, say."""

    values: NDArray[np.int64]
    """A column a name, shape (NAMES, rows). Floats and times as the bits that they are, words as numbers."""
    words: list[str | None]


def part_of(rows: Sequence[Sequence[Any]]) -> Part:
    """Rows as SQL tells them, as columns.

    Parameters
    ----------
    rows
        Each in the order of NAMES.

    Returns
    -------
    Part
        With as many rows.
    """
    import numpy as np

    columns = dict(zip(NAMES, zip(*rows, strict=True) if rows else [()] * len(NAMES), strict=True))
    places: dict[str | None, int] = {}
    counts = np.array([columns[name] for name in COUNTS], dtype=np.float64)  # None becomes NaN
    floats = np.array([columns[name] for name in FLOATS], dtype=np.float64)
    times = np.array([columns[name] for name in TIMES], dtype=_MICROSECONDS)  # None becomes NaT
    words = np.array(
        [[places.setdefault(word, len(places)) for word in columns[name]] for name in WORDS], dtype=np.int64
    )
    values = [np.nan_to_num(counts).astype(np.int64), floats.view(np.int64), times.view(np.int64), words]
    return Part(np.concatenate(values), list(places))


def columns_of(parts: Iterable[Part], names: Sequence[str] = NAMES) -> dict[str, Any]:
    """Columns of all parts together, in order of kits, then of encounters.

    Parameters
    ----------
    parts
        Of one logbook.
    names
        Some of NAMES.

    Returns
    -------
    dict[str, ndarray or Words]
        By name: whole numbers, floats (NaN: not known), times (NaT: not known) and words, which all share
        their `names`.
    """
    import numpy as np

    parts = list(parts)
    places: dict[str | None, int] = {}
    numbers = [
        np.array([places.setdefault(word, len(places)) for word in words], dtype=np.int64)
        for _values, words in parts
    ]

    def column(name: str) -> NDArray[np.int64]:
        of_parts = [values[NAMES.index(name)] for values, _words in parts]
        if name in WORDS:
            of_parts = [own[of_part] for own, of_part in zip(numbers, of_parts, strict=True)]
        return np.concatenate(of_parts) if of_parts else np.zeros(0, dtype=np.int64)

    order = np.lexsort((column("encounter_id"), column("kit_id")))
    columns: dict[str, Any] = {}
    for name in names:
        values = column(name)[order]
        if name in FLOATS:
            columns[name] = values.view(np.float64)
        elif name in TIMES:
            columns[name] = values.view(_MICROSECONDS)
        else:
            columns[name] = values if name in COUNTS else Words(tuple(places), values)
    return columns


def keep(logbook: Logbook, trip_id: int, rows: Sequence[Sequence[Any]]) -> None:
    """Pack the sums of a trip, and keep them; inside `writing()`.

    Parameters
    ----------
    trip_id
        Of a trip without sums, or `summed.NO_TRIP`.
    rows
        Each in the order of NAMES.
    """
    values, words = part_of(rows)
    packed = numbers_packed(values.T.astype("<i8").tobytes(), len(NAMES))
    logbook.execute("INSERT INTO encounter_columns VALUES (?, ?, ?)", (trip_id, packed, json.dumps(words)))


def kept(logbook: Logbook, trip_id: int | None) -> list[Part]:
    """What was kept of a trip, or of all; for logbooks whose sums stand.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    list[Part]
        One a trip.
    """
    import numpy as np

    where = "" if trip_id is None else "WHERE trip_id = :trip"
    sql = f"SELECT sums, words FROM encounter_columns {where} ORDER BY trip_id"
    return [
        Part(numbers_unpacked(row[0], len(NAMES)).view(np.int64), json.loads(row[1]))
        for row in logbook.connection.execute(sql, {"trip": trip_id})
    ]


def check(logbook: Logbook) -> None:
    """Look whether all that is kept can be unpacked.

    Raises
    ------
    ValueError
        where some of it cannot: it was changed since.
    """
    for part in kept(logbook, None):
        columns_of([part])
