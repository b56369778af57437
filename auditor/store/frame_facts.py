"""Rows of the view frame_facts: typed for the product, and as the logbook has them for other programs."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, fields
from functools import lru_cache
from typing import Any, NamedTuple, TypeVar

from auditor.store.logbook import Logbook

_CHUNK = 500
_JSON = ("keywords", "flags", "reading_flags", "missing")
_BOOLEANS = ("auto_iso", "flash_fired")
_TEXTS = ("path", "missing")


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameFacts:
    """One frame: the columns of the view, as docs/logbook.md explains them; None where nothing tells.

    A file that no logbook knows has 0 for its frame and its kit.
    """

    frame_id: int = 0
    trip_id: int | None = None
    encounter_id: int | None = None
    scene_id: int | None = None
    burst_id: int | None = None
    path: str | None = None
    taken_at: str | None = None
    utc_offset: str | None = None
    utc_offset_source: str | None = None
    body_make: str | None = None
    body_model: str | None = None
    body_serial: str | None = None
    lens_name: str | None = None
    kit_id: int = 0
    kit_name: str = ""
    focal_length_mm: float | None = None
    focal_length_recorded_mm: float | None = None
    f_number: float | None = None
    f_number_recorded: float | None = None
    iso: float | None = None
    auto_iso: bool | None = None
    exposure_time_s: float | None = None
    exposure_bias_ev: float | None = None
    flash_fired: bool | None = None
    settings_ev: float | None = None
    light_value_ev: float | None = None
    converter_factor: float | None = None
    converter_source: str | None = None
    lens_widest_f_number: float | None = None
    crop_factor: float | None = None
    sensor_diagonal_mm: float | None = None
    pixel_pitch_um: float | None = None
    width_px: int | None = None
    height_px: int | None = None
    focus_mode: str | None = None
    area_mode: str | None = None
    drive_mode: str | None = None
    camera_word: str | None = None
    af_x: float | None = None
    af_y: float | None = None
    af_width: float | None = None
    af_height: float | None = None
    focus_distance_m: float | None = None
    rating: int | None = None
    keywords: list[str] | None = None
    measured_on: str | None = None
    reading_version: str | None = None
    blur_px: float | None = None
    blur_um: float | None = None
    blur_urad: float | None = None
    system_blur_px: float | None = None
    system_blur_urad: float | None = None
    blur_kind: str | None = None
    reading_flags: list[str] | None = None
    verdict: str | None = None
    verdict_source: str | None = None
    verdict_on_subject: str | None = None
    forced_push_ev: float | None = None
    forced_push_low_ev: float | None = None
    chosen_ev: float | None = None
    iso_without_converter: float | None = None
    flags: list[str] = field(default_factory=list)
    missing: dict[str, str] = field(default_factory=dict)
    camera_blur_px: float | None = None
    hit_probability: float | None = None
    chosen: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FrameLine:
    """A frame as a list shows it: some columns of the view, since all of a million frames take a minute."""

    path: str | None
    taken_at: str | None
    kit_id: int
    kit_name: str
    scene_id: int | None
    iso: float | None
    exposure_time_s: float | None
    blur_px: float | None
    camera_word: str | None
    verdict: str | None
    flags: list[str]
    missing: dict[str, str]


Facts = TypeVar("Facts")
_NAMES = tuple(column.name for column in fields(FrameFacts))


class FactsTable(NamedTuple):
    """Rows as the logbook has them: numbers, texts and None; JSON columns as text."""

    columns: tuple[str, ...]
    rows: list[tuple[Any, ...]]


def facts_from(rows: Sequence[sqlite3.Row], of: type[Facts]) -> list[Facts]:
    """Rows of frame_facts as records whose fields are columns of it, JSON decoded.

    Parameters
    ----------
    rows
        With at least the columns that are asked for.
    of
        A dataclass: `FrameFacts`, or one with some of its fields.

    Returns
    -------
    list[Facts]
        In the order of `rows`.
    """
    if not rows:
        return []
    names = rows[0].keys()
    # Most lists of flags and keywords are one of a few.
    read = lru_cache(maxsize=1000)(json.loads)
    columns = [(names.index(name), _reader(name, read)) for name in (*_JSON, *_BOOLEANS) if name in names]
    facts = []
    for row in rows:
        values = list(row)
        for place, decoded in columns:
            if values[place] is not None:
                values[place] = decoded(values[place])
        facts.append(of(**dict(zip(names, values, strict=True))))
    return facts


def columns_of(facts: type[Any]) -> str:
    """The columns that a dataclass asks of frame_facts, as SQL.

    Parameters
    ----------
    facts
        A dataclass whose fields are columns of frame_facts.

    Returns
    -------
    str
        Their names, joined by commas.
    """
    return ", ".join(column.name for column in fields(facts))


def frames_by_id(logbook: Logbook, frame_ids: Sequence[int]) -> list[FrameFacts]:
    """Frames by their ids, in the order of the ids; ids that the logbook lacks are left out.

    Parameters
    ----------
    frame_ids
        In the order that is wanted.

    Returns
    -------
    list[FrameFacts]
        With all of their facts.
    """
    return list(each_by_id(logbook, frame_ids))


def each_by_id(logbook: Logbook, frame_ids: Sequence[int]) -> Iterator[FrameFacts]:
    """The same, one by one: a million take more room than there may be.

    Parameters
    ----------
    frame_ids
        In the order that is wanted.

    Yields
    ------
    FrameFacts
        With all of its facts.
    """
    for first in range(0, len(frame_ids), _CHUNK):
        part = tuple(frame_ids[first : first + _CHUNK])
        marks = ", ".join("?" * len(part))
        sql = f"SELECT {columns_of(FrameFacts)} FROM frame_facts WHERE frame_id IN ({marks})"
        by_id = {frame.frame_id: frame for frame in facts_from(logbook.query(sql, part), FrameFacts)}
        yield from (by_id[frame_id] for frame_id in part if frame_id in by_id)


def document_of(frame: FrameFacts) -> dict[str, Any]:
    """A frame by the names of its columns, for JSON."""
    return {name: getattr(frame, name) for name in _NAMES}


def table_in_parts(
    logbook: Logbook,
    where: str = "TRUE",
    values: Mapping[str, object] | None = None,
    *,
    most_rows: int = 20_000,
) -> Iterator[FactsTable]:
    """The view in order of time, some rows at a time: it may be larger than memory. At least one part.

    Parameters
    ----------
    where, values
        A condition on columns of frame_facts, and its named parameters.
    most_rows
        Of a part.

    Returns
    -------
    Iterator[FactsTable]
        Every part with the names of the columns.
    """
    cursor = logbook.connection.execute(
        f"SELECT * FROM frame_facts WHERE {where} ORDER BY taken_at, frame_id", dict(values or {})
    )
    columns = tuple(column[0] for column in cursor.description)
    rows = cursor.fetchmany(most_rows)
    while True:
        yield FactsTable(columns, [tuple(row) for row in rows])
        rows = cursor.fetchmany(most_rows)
        if not rows:
            return


def table_of_trip(logbook: Logbook, trip_id: int | None) -> Iterator[FactsTable]:
    """The frames of one trip or of all; of a narrowed logbook (see store.selection) those that are left.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    Iterator[FactsTable]
        At least one part.
    """
    where = "(:trip IS NULL OR trip_id = :trip) AND frame_id IN (SELECT frame_id FROM inferred)"
    return table_in_parts(logbook, where, {"trip": trip_id})


def table_of_frames(logbook: Logbook, frame_ids: Sequence[int]) -> Iterator[FactsTable]:
    """Some frames, in order of time.

    Parameters
    ----------
    frame_ids
        In any order.

    Returns
    -------
    Iterator[FactsTable]
        At least one part.
    """
    where = "frame_id IN (SELECT value FROM json_each(:frames))"
    return table_in_parts(logbook, where, {"frames": json.dumps(list(frame_ids))})


def column_types(logbook: Logbook) -> dict[str, str]:
    """The columns of frame_facts and their types: INTEGER, REAL or TEXT."""
    declared = {row[1]: row[2] for row in logbook.query("PRAGMA table_info(frame_facts)")}
    # SQLite tells no type of an expression: of these, path and missing are text, the rest are measures.
    return {name: kind or ("TEXT" if name in _TEXTS else "REAL") for name, kind in declared.items()}


def _reader(name: str, read: Callable[[str], Any]) -> Callable[[Any], Any]:
    """What makes a value of a column of one of the logbook; a list or dictionary of its own each time."""
    if name in _BOOLEANS:
        return bool
    return lambda text: read(text).copy()
