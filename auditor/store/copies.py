"""Copies of a logbook: made whole while it is in use, noted beside it, and found again when it is damaged.

SQLite's own backup interface makes them: copying the file by hand can miss what still stands in the log
beside it.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from auditor.errors import LogbookError, OutputError
from auditor.store.migrations import APPLICATION_ID
from auditor.store.uri import uri

_HEADER_BYTES = 100
_MAGIC = b"SQLite format 3\0"


def copy_to(connection: sqlite3.Connection, place: Path, *, replace: bool = False) -> None:
    """Copy an open logbook, with all that is committed, into a file of its own.

    Parameters
    ----------
    place
        The new file.
    replace
        Put it in place of one that is there.

    Raises
    ------
    OutputError
        for a file that is there, or cannot be written.
    """
    if place.exists() and not replace:
        raise OutputError(f"{place}: exists already. Choose another name for the copy.")
    unfinished = place.with_name(f"{place.name}.unfinished")
    try:
        unfinished.unlink(missing_ok=True)
        with closing(sqlite3.connect(unfinished)) as copy:
            connection.backup(copy)
            copy.execute("PRAGMA journal_mode = DELETE")  # so that the one file is all of it
        with unfinished.open("rb+") as file:
            os.fsync(file.fileno())
        unfinished.replace(place)
    except (OSError, sqlite3.Error) as error:
        for left in (unfinished, unfinished.with_name(f"{unfinished.name}-journal")):
            with suppress(OSError):
                left.unlink(missing_ok=True)
        reason = error.strerror if isinstance(error, OSError) else error
        raise OutputError(f"{place}: the logbook cannot be copied there ({reason}).") from error


def copy_before_migrations(connection: sqlite3.Connection, path: Path, first: str) -> Path:
    """Copy a logbook beside itself, before its tables are changed.

    Parameters
    ----------
    path
        Of the logbook.
    first
        The first migration that it lacks, which the copy is named after.

    Raises
    ------
    LogbookError
        where there is no room for it: nothing was changed.
    """
    place = path.with_name(f"{path.stem}-before-{first}{path.suffix}")
    try:
        copy_to(connection, place, replace=True)
    except OutputError as error:
        raise LogbookError(
            f"{error} It is copied before its tables are brought up to date: make room, then run the same "
            "command again. Nothing was changed."
        ) from error
    return place


def note(path: Path, place: Path) -> None:
    """Remember where a copy of a logbook lies, in a list of text beside it."""
    with suppress(OSError), _list(path).open("a", encoding="utf-8", errors="surrogateescape") as file:
        file.write(f"{place.absolute()}\n")


def newest_good(path: Path) -> Path | None:
    """The newest copy of a logbook that is there and sound; None where none is known."""
    noted: list[Path] = []
    with suppress(OSError):
        lines = _list(path).read_text(encoding="utf-8", errors="surrogateescape").splitlines()
        noted = [Path(line) for line in lines if line]
    found = {*noted, *path.parent.glob(f"{path.stem}-before-*{path.suffix}")}
    there = [place for place in found if place.is_file() and place.absolute() != path.absolute()]
    for place in sorted(there, key=lambda place: place.stat().st_mtime, reverse=True):
        if is_sound(place):
            return place
    return None


def is_sound(place: Path) -> bool:
    """Whether a file is a whole and sound logbook. Slow: all of it is read."""
    if pages_missing(place):
        return False
    try:
        with closing(sqlite3.connect(uri(place.absolute(), "ro"), uri=True)) as copy:
            (application_id,) = copy.execute("PRAGMA application_id").fetchone()
            (said,) = copy.execute("PRAGMA quick_check(1)").fetchone()
    except sqlite3.Error:
        return False
    return bool(application_id == APPLICATION_ID and said == "ok")


def pages_missing(path: Path) -> str | None:
    """How much of a logbook is not there, in words, where its file was cut short; None where it is whole.

    The file states its number of pages (SQLite's file format, 1.3.8). With a log beside it that is not
    written back yet, the file may rightly be shorter.
    """
    wal = path.with_name(f"{path.name}-wal")
    try:
        with path.open("rb") as file:
            header = file.read(_HEADER_BYTES)
            size_bytes = file.seek(0, 2)
        if wal.exists() and wal.stat().st_size:
            return None
    except OSError:
        return None
    if len(header) < _HEADER_BYTES:
        return f"only {size_bytes} bytes are there" if _MAGIC.startswith(header[:16]) and header else None
    if not header.startswith(_MAGIC) or header[24:28] != header[92:96]:
        return None  # an older SQLite wrote it, and did not keep the number up
    page_bytes = int.from_bytes(header[16:18])
    page_bytes = 65536 if page_bytes == 1 else page_bytes
    pages = int.from_bytes(header[28:32])
    there = size_bytes / page_bytes if page_bytes else 0
    return f"it is cut short: {there:,.0f} of {pages:,} pages are there" if there < pages else None


def _list(path: Path) -> Path:
    return path.with_name(f"{path.stem}-copies.txt")
