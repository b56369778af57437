"""The derived tables: kits, and what was inferred of frames; their groups are in `groups`.

Everything here can be thrown away and made again from `frames`.
"""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, fields
from functools import lru_cache
from operator import attrgetter
from typing import Any

from auditor.records import FocusArea, Inferred, KitIdentity, KnownKit, Recorded
from auditor.store import reasons
from auditor.store.exposure_identity import FRAME_COLUMNS, RECORDED_COLUMNS
from auditor.store.logbook import Logbook
from auditor.store.packed import unpacked

_IDENTITY = tuple(field.name for field in fields(KitIdentity))
_KIT_COLUMNS = ("kit_key", "kit_name", *_IDENTITY)
_BOOLEANS = ("auto_iso", "flash_fired")
_CHUNK = 2000
RECORDED = (
    f"frame_id, {', '.join(f'f.{name}' for name in RECORDED_COLUMNS)}, n.reasons "
    "FROM frames AS f LEFT JOIN reasons AS n ON n.reasons_id = f.missing"
)
"""What `recorded_of` reads, to be selected."""
# Focus areas are many, and nothing that is derived without pixels comes of them.
_FOR_DERIVING = RECORDED.replace("f.focus_areas", "NULL")


@dataclass(frozen=True, slots=True, kw_only=True)
class InferredFrame:
    """One row of `inferred`."""

    frame_id: int
    kit_id: int
    facts: Inferred
    """Without its neighbours, and without its pixels ..."""
    flags: tuple[str, ...]
    """... which raise flags, too, and ..."""
    missing: dict[str, str]
    """... are reasons why something is not told."""
    blur_px: float | None
    """Sigma, px of the picture that was measured; None where none was, or it could not be told."""
    camera_blur_px: float | None
    """The camera's own blur, which `blur_px` is without."""
    stamp: str


_FRAME_COLUMNS = ("frame_id", "kit_id", "blur_px", "camera_blur_px", "stamp")
_PLAIN_COLUMNS = Inferred._fields[:-2]
"""All but its flags and reasons, to which pixels add."""
_frame_values = attrgetter(*_FRAME_COLUMNS)


def facts_are_stale(logbook: Logbook, stamp: str) -> bool:
    """Whether what was inferred of frames comes from another version, or from other settings.

    Parameters
    ----------
    stamp
        Of the present version and settings.

    Returns
    -------
    bool
        False where nothing was inferred yet.
    """
    sql = "SELECT EXISTS (SELECT 1 FROM (SELECT stamp FROM inferred LIMIT 1) WHERE stamp <> ?)"
    return bool(logbook.query(sql, (stamp,))[0][0])


def touch_all(logbook: Logbook) -> None:
    """Put every frame on the list for rebuilding, inside `writing()`."""
    logbook.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames")


def touch_measured(logbook: Logbook) -> None:
    """Put every measured frame on the list for rebuilding, inside `writing()`."""
    logbook.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM readings")


def any_touched(logbook: Logbook) -> bool:
    """Whether anything waits to be rebuilt."""
    return bool(logbook.query("SELECT EXISTS (SELECT 1 FROM touched)")[0][0])


def paths_of(logbook: Logbook, frame_id: int) -> list[str]:
    """Every path of a frame's pictures, those that have gone included.

    Parameters
    ----------
    frame_id
        Of the frame.

    Returns
    -------
    list[str]
        Absolute, as text.
    """
    sql = "SELECT path FROM files WHERE frame_id = ? AND role <> 'sidecar'"
    return [row[0] for row in logbook.query(sql, (frame_id,))]


def touch(logbook: Logbook, frame_ids: Iterable[int]) -> None:
    """Put frames on the list for rebuilding.

    Parameters
    ----------
    frame_ids
        Frames that are on it already stay once.
    """
    logbook.execute_many("INSERT OR IGNORE INTO touched VALUES (?)", [(frame_id,) for frame_id in frame_ids])


def frames_of(logbook: Logbook, frame_ids: Iterable[int]) -> Iterator[tuple[int, Recorded]]:
    """These frames, with what was recorded of them but for their focus areas.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    Iterator[tuple[int, Recorded]]
        Id and record of each.
    """
    for frame_id in frame_ids:
        for row in logbook.query(f"SELECT {_FOR_DERIVING} WHERE frame_id = ?", (frame_id,)):
            yield frame_id, recorded_of(row)


def touched_frames(
    logbook: Logbook, *, after: int = -1, but_for: str | None = None
) -> Iterator[tuple[int, Recorded]]:
    """Frames that wait to be rebuilt, with what was recorded of them but for their focus areas.

    Parameters
    ----------
    after
        Only frames with higher ids.
    but_for
        Name of a table: without the frames in it.

    Returns
    -------
    Iterator[tuple[int, Recorded]]
        Id and record of each, in order of ids.
    """
    others = f"AND frame_id NOT IN (SELECT frame_id FROM {but_for})" if but_for else ""
    sql = (
        f"SELECT {_FOR_DERIVING} JOIN touched USING (frame_id) WHERE frame_id > ? {others} "
        "ORDER BY frame_id LIMIT ?"
    )
    while rows := logbook.query(sql, (after, _CHUNK)):
        for row in rows:
            yield row["frame_id"], recorded_of(row)
        after = rows[-1]["frame_id"]


def recorded_of(row: sqlite3.Row) -> Recorded:
    """A row of `frames` as a record.

    Parameters
    ----------
    row
        Of RECORDED.

    Returns
    -------
    Recorded
        Packed and JSON columns decoded.
    """
    facts: dict[str, Any] = dict(zip(FRAME_COLUMNS, row[-len(FRAME_COLUMNS) :], strict=True))
    facts["focus_areas"] = focus_areas_of(facts["focus_areas"])
    facts["keywords"] = tuple(json.loads(facts["keywords"])) if facts["keywords"] else ()
    for name in _BOOLEANS:
        facts[name] = None if facts[name] is None else bool(facts[name])
    facts["missing"] = _missing(facts["missing"]).copy()
    return Recorded(**facts)


def focus_areas_of(value: bytes | str | None) -> tuple[FocusArea, ...]:
    """The focus areas of a frame.

    Parameters
    ----------
    value
        Column `focus_areas` of `frames`.

    Returns
    -------
    tuple[FocusArea, ...]
        Empty where none is recorded.
    """
    return tuple(FocusArea(**area) for area in json.loads(unpacked(value))) if value else ()


@lru_cache(maxsize=1000)
def _missing(text: str) -> dict[str, str]:
    """Frames of one camera mostly lack the same facts."""
    return dict(json.loads(text))


@lru_cache(maxsize=1000)
def _flags_text(flags: tuple[str, ...]) -> str:
    return json.dumps(flags)


def kit_ids(logbook: Logbook) -> dict[str, int]:
    """Known kits by key."""
    return {row[0]: row[1] for row in logbook.query("SELECT kit_key, kit_id FROM kits")}


def add_kit(logbook: Logbook, kit_key: str, kit: KitIdentity) -> int:
    """Add a kit, inside `writing()`; its key is its name until `rename_kits`, by which a new one is known.

    Parameters
    ----------
    kit_key
        As `frames.kit_names.kit_key` gives it.
    kit
        Body, lens and converter.

    Returns
    -------
    int
        Its id.
    """
    return logbook.execute(
        f"INSERT INTO kits ({', '.join(_KIT_COLUMNS)}) VALUES ({', '.join('?' * len(_KIT_COLUMNS))})",
        (kit_key, kit_key, *(getattr(kit, name) for name in _IDENTITY)),
    )


def number_new_kits(logbook: Logbook) -> None:
    """Number kits that have no name yet by their first frames, once those are inferred; inside `writing()`.

    A frame that changed after it was inferred may have another kit: the one that it had first is taken away
    where no frame has it.
    """
    first = "(SELECT min(frame_id) FROM inferred AS i WHERE i.kit_id = kits.kit_id)"
    logbook.execute(f"DELETE FROM kits WHERE kit_name = kit_key AND {first} IS NULL")
    (last,) = logbook.query("SELECT coalesce(max(kit_id), 0) FROM kits WHERE kit_name <> kit_key")[0]
    rows = logbook.query(f"SELECT kit_id FROM kits WHERE kit_name = kit_key ORDER BY {first}")
    numbers = {row[0]: number for number, row in enumerate(rows, last + 1) if row[0] != number}
    logbook.execute("PRAGMA defer_foreign_keys = ON")
    for table in ("kits", "inferred"):
        sql = f"UPDATE {table} SET kit_id = ? WHERE kit_id = ?"
        logbook.execute_many(sql, [(-new, old) for old, new in numbers.items()])  # below 0 all are free
        logbook.execute_many(sql, [(new, -new) for new in numbers.values()])


def rename_kits(logbook: Logbook, names: dict[int, str]) -> None:
    """Give kits their names anew.

    Parameters
    ----------
    names
        Full name by kit id.
    """
    logbook.execute_many(
        "UPDATE kits SET kit_name = ? WHERE kit_id = ? AND kit_name <> ?",
        [(name, kit_id, name) for kit_id, name in names.items()],
    )


def kits(logbook: Logbook) -> list[KnownKit]:
    """All kits, in order of kit_id."""
    return _kits(logbook, "TRUE")


def kits_in_use(logbook: Logbook) -> list[KnownKit]:
    """Kits that frames of the logbook were taken with, in order of kit_id."""
    return _kits(logbook, "EXISTS (SELECT 1 FROM inferred AS i WHERE i.kit_id = kits.kit_id)")


def _kits(logbook: Logbook, where: str) -> list[KnownKit]:
    columns = ("kit_id", "kit_name", *_IDENTITY)
    rows = logbook.query(f"SELECT {', '.join(columns)} FROM kits WHERE {where} ORDER BY kit_id")
    return [KnownKit(**row) for row in rows]


def write_inferred(logbook: Logbook, rows: Iterable[InferredFrame]) -> None:
    """Write rows of `inferred`, in place of what was inferred before; inside `writing()`.

    Parameters
    ----------
    rows
        One a frame.
    """
    columns = (*_FRAME_COLUMNS, *_PLAIN_COLUMNS, "flags", "missing")
    marks = ", ".join("?" * len(columns))
    rows = list(rows)
    texts = [reasons.as_text(row.missing) for row in rows]
    numbers = reasons.numbers(logbook, texts)
    logbook.execute_many(
        f"INSERT OR REPLACE INTO inferred ({', '.join(columns)}) VALUES ({marks})",
        [
            (
                *_frame_values(row),
                *row.facts[:-2],
                _flags_text(row.flags),
                numbers[text],
            )
            for row, text in zip(rows, texts, strict=True)
        ],
    )


def write_verdicts(
    logbook: Logbook, rows: Sequence[tuple[int, str, str, str | None, str, float | None]]
) -> None:
    """Write (frame_id, verdict, source, verdict on the subject, stamp, probability of a hit).

    Parameters
    ----------
    rows
        One a frame.
    """
    logbook.execute_many("INSERT OR REPLACE INTO verdicts VALUES (?, ?, ?, ?, ?, ?)", list(rows))


def touched_span(logbook: Logbook) -> tuple[str, str] | None:
    """First and last time that touched frames have now, or had in the trips they were in."""
    row = logbook.query(
        """
        SELECT min(first_at), max(last_at) FROM (
            SELECT min(taken_at) AS first_at, max(taken_at) AS last_at
            FROM inferred JOIN touched USING (frame_id)
            UNION ALL
            SELECT min(first_at), max(last_at) FROM trips WHERE trip_id IN (
                SELECT trip_id FROM membership JOIN touched USING (frame_id))
        )
        """
    )[0]
    return (row[0], row[1]) if row[0] is not None else None


def whole_span(logbook: Logbook) -> tuple[str, str] | None:
    """First and last time of all frames, and of all trips; None where no frame has a time."""
    row = logbook.query(
        "SELECT min(at), max(at) FROM (SELECT taken_at AS at FROM inferred "
        "UNION ALL SELECT first_at FROM trips UNION ALL SELECT last_at FROM trips)"
    )[0]
    return (row[0], row[1]) if row[0] is not None else None


def clear_touched(logbook: Logbook) -> None:
    """Nothing waits any more."""
    logbook.execute("DELETE FROM touched")
