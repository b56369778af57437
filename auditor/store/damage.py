"""Whether a logbook is damaged: its structure, and the values that other code takes for granted."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import datetime

from auditor.errors import AuditorError, show_when_debugging
from auditor.store import declarations, derived, encounter_columns, readings, trip_numbers
from auditor.store.logbook import Logbook, damaged

JSON_COLUMNS = {
    "files": ("recorded_json(recorded)",),
    "frames": ("recorded_json(focus_areas)", "keywords"),
    "reasons": ("reasons",),
    "declarations": ("facts",),
    "inferred": ("flags",),
    "readings": ("region", "flags"),
}
TIME_COLUMNS = {
    "frames": ("taken_at",),
    "inferred": ("taken_at",),
    "trips": ("first_at", "last_at"),
    "encounters": ("first_at", "last_at"),
    "bursts": ("first_at", "last_at"),
    "files": ("modified_at",),
}


@contextmanager
def damage_told(logbook: Logbook) -> Iterator[None]:
    """Tell an exception that damage in the logbook brought about as such, wherever it arises.

    Bytes that changed inside a value leave the file's structure whole, and values that make no sense.

    Raises
    ------
    LogbookError
        in place of such an exception; one of a sound logbook goes on as it is.
    """
    try:
        yield
    except (UnicodeDecodeError, UnicodeEncodeError):  # told by whoever opened the logbook
        raise
    except (ValueError, TypeError, LookupError, AttributeError, ArithmeticError) as error:
        if is_damaged(logbook):
            show_when_debugging()
            raise damaged(logbook.path, error) from error
        raise


def is_damaged(logbook: Logbook) -> bool:
    """Whether anything in a logbook cannot have been written by the auditor.

    Slow, since every value is looked at: asked only when something has gone wrong.
    """
    try:
        return bool(problems(logbook))
    except (AuditorError, sqlite3.Error, ValueError, TypeError, KeyError, AttributeError, OverflowError):
        return True


def problems(logbook: Logbook) -> list[str]:
    """What is wrong, a line each; nothing where all is as it was written.

    Raises
    ------
    Exception
        of many kinds, over values that make no sense.
    """
    wrong = logbook.problems()
    for table, columns in JSON_COLUMNS.items():
        for column in columns:
            sql = f"SELECT count(*) FROM {table} WHERE {column} IS NOT NULL AND NOT json_valid({column})"
            wrong += [f"{table}.{column}: {row[0]} values" for row in logbook.query(sql) if row[0]]
    for table, columns in TIME_COLUMNS.items():
        for column in columns:
            for row in logbook.query(f"SELECT DISTINCT {column} FROM {table} WHERE {column} IS NOT NULL"):
                datetime.fromisoformat(row[0])
    frame_ids = [row[0] for row in logbook.query("SELECT frame_id FROM frames")]
    for _frame in derived.frames_of(logbook, frame_ids):
        pass
    readings.of_frames(logbook, frame_ids)
    declarations.history(logbook)
    trip_numbers.check(logbook)
    encounter_columns.check(logbook)
    strange = """SELECT count(*) FROM frames WHERE frame_id NOT IN (SELECT frame_id FROM inferred)
                 AND frame_id NOT IN (SELECT frame_id FROM touched)"""
    wrong += [f"{row[0]} frames without what follows from them" for row in logbook.query(strange) if row[0]]
    return wrong
