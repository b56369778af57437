"""Opening the logbook, and the one way of writing to it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any

from auditor.errors import LogbookError, LogbookPlaceError
from auditor.store import copies, migrations, packed
from auditor.store.uri import uri

WAIT_FOR_OTHERS_S = 60.0
"""How long a run waits for another one that is writing, before it says so."""
USUAL_KIB, MIGRATING_KIB = 2000, 24_000
"""What SQLite keeps of the file in memory; the first is its own."""
MOST_FREE = 0.25
"""A logbook of which changed tables left more than this share empty is written anew."""

Parameters = Sequence[Any] | Mapping[str, Any]
"""What a statement asks for: in order, or by name."""


class Logbook:
    """An open logbook. Reads at any time; writes only inside `with logbook.writing():`."""

    def __init__(self, connection: sqlite3.Connection, path: Path, *, read_only: bool = False) -> None:
        self.connection = connection
        self.path = path
        self.read_only = read_only
        """Its place cannot be written to: everything can be looked at as it was last brought up to date."""
        self.out_of_date = False
        """What follows from its frames could not be brought up to date."""
        self.narrowed = False
        """Questions are answered from some of its frames alone (see `store.selection.narrowed`)."""

    def query(self, sql: str, parameters: Parameters = ()) -> list[sqlite3.Row]:
        """All rows of a SELECT.

        Parameters
        ----------
        sql
            One statement.
        parameters
            A tuple, or a dictionary of named ones.

        Returns
        -------
        list[sqlite3.Row]
            In the order of the statement.
        """
        try:
            return self.connection.execute(sql, parameters).fetchall()
        except (UnicodeError, sqlite3.Error) as error:
            raise _told(self.path, error) from error

    def execute(self, sql: str, parameters: Parameters = ()) -> int:
        """Run one statement inside `writing()`.

        Parameters
        ----------
        sql
            One statement.
        parameters
            A tuple, or a dictionary of named ones.

        Returns
        -------
        int
            The id of the row that it inserted; 0 for none.
        """
        return int(self.connection.execute(sql, parameters).lastrowid or 0)

    def execute_many(self, sql: str, rows: Iterable[Parameters]) -> None:
        """Run one statement for many rows inside `writing()`.

        Parameters
        ----------
        sql
            One statement.
        rows
            The parameters of each run.
        """
        self.connection.executemany(sql, rows)

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction, taken at once: all of it is kept, or nothing.

        Raises
        ------
        LogbookPlaceError
            where the logbook can only be read, or its disk is full.
        LogbookError
            when another run holds the logbook for too long, or it is damaged.
        """
        if self.read_only:
            raise LogbookPlaceError(
                f"{self.path}: the logbook can only be read here, so nothing was changed. Check permissions "
                "and room on the disk, or copy it to another place and name that with --logbook."
            )
        with _errors_told(self.path):
            self.connection.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:  # Ctrl-C too: what was begun is taken back
                if self.connection.in_transaction:  # a full disk has rolled back by itself
                    self.connection.execute("ROLLBACK")
                raise
            self.connection.execute("COMMIT")

    def problems(self) -> list[str]:
        """What SQLite finds wrong with the file, a line each; empty where it is sound."""
        lines = [str(row[0]) for row in self.query("PRAGMA integrity_check")]
        return [] if lines == ["ok"] else lines

    def close(self) -> None:
        """Close the file. Not needed inside `with open_logbook(...)`."""
        self.connection.close()


@contextmanager
def open_logbook(path: Path, *, create: bool = False, network_share: bool = False) -> Iterator[Logbook]:
    """Open a logbook and bring its tables up to date.

    Where its place cannot be written to, it is opened to be read alone.

    Parameters
    ----------
    path
        Of the database file.
    create
        Make a new one where there is none.
    network_share
        The place is on another machine: keep a rollback journal, since the shared memory that a write-ahead
        log needs does not work across a network.

    Returns
    -------
    Iterator[Logbook]
        The open logbook; it is closed on leaving.

    Raises
    ------
    LogbookError
        where there is none, it is no logbook, it is damaged, or it comes from a newer auditor.
    """
    path = path.absolute()
    _check_place(path, create)
    logbook = _opened(path, network_share)
    try:
        with _errors_told(path):
            yield logbook
    finally:
        logbook.close()


def _check_place(path: Path, create: bool) -> None:
    if path.is_dir():
        raise LogbookError(f"{path}: is a folder, not a logbook. Name a file, such as logbook.sqlite in it.")
    try:
        size_bytes = path.stat().st_size
    except (FileNotFoundError, NotADirectoryError):
        if not create:
            raise LogbookError(
                f"{path}: there is no logbook here yet. Audit a folder first: auditor audit FOLDER"
            ) from None
        _make_place(path.parent)
    except OSError as error:
        raise LogbookError(f"{path}: the logbook cannot be reached ({error.strerror}).") from error
    else:
        if not size_bytes and not create:
            raise LogbookError(
                f"{path}: is an empty file, not a logbook. Scan a folder to begin one: auditor scan FOLDER"
            )


def _opened(path: Path, network_share: bool) -> Logbook:
    """The logbook to be written, or, where its place refuses that, to be read alone."""
    if missing := copies.pages_missing(path):
        raise damaged(path, missing)
    there = path.exists()
    try:
        return _connected(path, "rwc", network_share)
    except LogbookPlaceError as error:
        refused = error
    if not _size_bytes(path):  # it was to be begun: nothing is there to be looked at
        if not there:
            with suppress(OSError):
                path.unlink(missing_ok=True)
        raise refused
    # Without a write-ahead log beside it, what is in the file is all there is.
    for way in ("ro", "ro&immutable=1"):
        try:
            return _connected(path, way, network_share)
        except LogbookPlaceError as error:
            refused = error
    raise refused


def _size_bytes(path: Path) -> int:
    try:
        return path.stat().st_size
    except OSError:
        return 0


def _connected(path: Path, way: str, network_share: bool) -> Logbook:
    with _errors_told(path):
        connection = sqlite3.connect(
            uri(path, way), uri=True, timeout=WAIT_FOR_OTHERS_S, isolation_level=None
        )
    try:
        with _errors_told(path):
            # sqlite3 opens lazily: this is where a file that is not SQLite is found out.
            applied = migrations.applied(connection)
            _refuse_strangers(path, connection, applied)
            connection.row_factory = sqlite3.Row
            packed.add_function(connection)
            logbook = Logbook(connection, path, read_only=way != "rwc")
            current = set(applied) == set(migrations.MIGRATIONS)
            if logbook.read_only:
                if not current:
                    raise LogbookError(
                        f"{path}: comes from an older auditor and can only be read here, so it cannot be "
                        "brought up to date. Copy it to a place that can be written to."
                    )
                return logbook
            if not current:
                if applied:
                    lacking = next(name for name in migrations.MIGRATIONS if name not in applied)
                    copies.copy_before_migrations(connection, path, lacking)
                _bring_up_to_date(logbook)
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute(f"PRAGMA journal_mode = {'DELETE' if network_share else 'WAL'}")
            connection.execute(
                "PRAGMA synchronous = NORMAL" if not network_share else "PRAGMA synchronous = FULL"
            )
            return logbook
    except BaseException:  # Ctrl-C too: the file is left closed
        connection.close()
        raise


def _make_place(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise LogbookError(
            f"{folder}: this place for the logbook cannot be made ({error.strerror}). "
            "Choose another with --logbook."
        ) from error
    if not os.access(folder, os.W_OK):
        raise LogbookError(
            f"{folder}: this place for the logbook cannot be written to. Choose another with --logbook."
        )


def _refuse_strangers(path: Path, connection: sqlite3.Connection, applied: list[str]) -> None:
    newer = sorted(set(applied) - set(migrations.MIGRATIONS))
    if newer:
        raise LogbookError(
            f"{path}: this logbook was written by a newer auditor (it has {newer[-1]}). "
            "Update the auditor; nothing was changed."
        )
    (application_id,) = connection.execute("PRAGMA application_id").fetchone()
    (objects,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if objects and application_id != migrations.APPLICATION_ID:
        raise LogbookError(
            f"{path}: is a database of another program, not a logbook. Choose another place with --logbook."
        )


def _bring_up_to_date(logbook: Logbook) -> None:
    # Tables are written anew: through the log each page would be written twice, and keys come in no order.
    with suppress(sqlite3.OperationalError):  # another run has it open: through the log, then
        logbook.connection.execute("PRAGMA journal_mode = DELETE")
    logbook.connection.execute(f"PRAGMA cache_size = -{MIGRATING_KIB}")
    with logbook.writing():
        migrations.bring_up_to_date(logbook.connection)
    free, pages = (logbook.query(f"PRAGMA {name}")[0][0] for name in ("freelist_count", "page_count"))
    if free > MOST_FREE * pages:
        with suppress(sqlite3.OperationalError):  # no room for the moment: what is free serves later frames
            logbook.connection.execute("VACUUM")
    logbook.connection.execute(f"PRAGMA cache_size = -{USUAL_KIB}")


_PLACE_REFUSES = (
    sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_IOERR, sqlite3.SQLITE_PERM,
    sqlite3.SQLITE_FULL,
)  # fmt: skip
_OTHERS_WRITE = (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED, sqlite3.SQLITE_PROTOCOL)


def damaged(path: Path, error: BaseException | str) -> LogbookError:
    """What is told of a damaged logbook, and what to do.

    Parameters
    ----------
    path
        Of the database file.
    error
        What SQLite raised.

    Returns
    -------
    LogbookError
        To be raised from `error`.
    """
    return LogbookError(
        f"{path}: the logbook is damaged ({error}). {_what_to_do(path)} In a new one scanning brings all "
        "frames back; declarations, choices and receipts would be lost."
    )


def _what_to_do(path: Path) -> str:
    good = copies.newest_good(path)
    copy = "Put a copy of it back if you have one" if good is None else f"The last good copy is {good}"
    return f"{copy}; auditor check --repair NEW_FILE saves what can be saved of it."


@contextmanager
def _errors_told(path: Path) -> Iterator[None]:
    try:
        yield
    except (UnicodeError, sqlite3.Error) as error:
        raise _told(path, error) from error


def _told(path: Path, error: UnicodeError | sqlite3.Error) -> LogbookError:
    """SQLite's errors as one line that says what to do."""
    if isinstance(error, UnicodeEncodeError):
        return LogbookError(f"{error.object!r}: is no Unicode text, so the logbook cannot hold it.")
    if isinstance(error, UnicodeError):
        return damaged(path, error)
    # The low byte is the error, what stands above it the particular case; none where Python found it.
    code = (getattr(error, "sqlite_errorcode", None) or 0) & 0xFF
    if code in _OTHERS_WRITE:
        return LogbookError(
            f"{path}: the logbook cannot be used ({error}). Another run of the auditor is writing to it: "
            "wait for it to end, then try again."
        )
    if code in _PLACE_REFUSES:
        full = code == sqlite3.SQLITE_FULL
        advice = (
            "The disk is full: make room, then run the same command again."
            if full
            else "Check the place and its permissions, or choose another with --logbook."
        )
        return LogbookPlaceError(f"{path}: the logbook cannot be written ({error}). {advice}")
    if code == sqlite3.SQLITE_NOTADB:
        return LogbookError(
            f"{path}: is not a logbook, or is damaged ({error}). Choose another place with --logbook. "
            f"{_what_to_do(path)}"
        )
    return damaged(path, error)
