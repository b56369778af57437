"""Opening the logbook, and the one way of writing to it."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlite_utils import Database

from auditor.errors import LogbookError
from auditor.store.migrations import APPLICATION_ID, migrations

WAIT_FOR_OTHERS_S = 60.0
"""How long a run waits for another one that is writing, before it says so."""


class Logbook:
    """An open logbook. Reads at any time; writes only inside `with logbook.writing():`."""

    def __init__(self, db: Database, path: Path) -> None:
        self.db = db
        self.path = path

    def query(self, sql: str, parameters: object = ()) -> list[sqlite3.Row]:
        """All rows of a SELECT."""
        with _errors_told(self.path):
            cursor = self.db.conn.execute(sql, parameters)  # type: ignore[arg-type]  # a tuple or a dict
            return cursor.fetchall()

    def execute(self, sql: str, parameters: object = ()) -> int:
        """Run one statement inside `writing()`; returns the id of the row it inserted."""
        return int(self.db.conn.execute(sql, parameters).lastrowid or 0)  # type: ignore[arg-type]

    def execute_many(self, sql: str, rows: Iterator[object] | list[object]) -> None:
        """Run one statement for many rows inside `writing()`."""
        self.db.conn.executemany(sql, rows)  # type: ignore[arg-type]

    @contextmanager
    def writing(self) -> Iterator[None]:
        """One transaction, taken at once: all of it is kept, or nothing.

        Raises
        ------
        LogbookError
            when another run holds the logbook for too long, or the disk refuses.
        """
        with _errors_told(self.path):
            self.db.conn.execute("BEGIN IMMEDIATE")
            try:
                yield
            except BaseException:
                self.db.conn.execute("ROLLBACK")
                raise
            self.db.conn.execute("COMMIT")

    def close(self) -> None:
        """Close the file. Not needed inside `with open_logbook(...)`."""
        self.db.conn.close()


@contextmanager
def open_logbook(path: Path, *, create: bool = False, network_share: bool = False) -> Iterator[Logbook]:
    """Open a logbook and bring its tables up to date.

    Parameters
    ----------
    create
        Make a new one where there is none.
    network_share
        The place is on another machine: keep a rollback journal, since the shared memory
        that a write-ahead log needs does not work across a network.

    Raises
    ------
    LogbookError
        where there is none, it is no logbook, it comes from a newer auditor, or cannot be written.
    """
    path = path.absolute()
    if not path.exists():
        if not create:
            raise LogbookError(
                f"{path}: there is no logbook here yet. Scan a folder first: auditor scan FOLDER"
            )
        _make_place(path.parent)
    elif path.is_dir():
        raise LogbookError(f"{path}: is a folder, not a logbook. Name a file, such as logbook.sqlite in it.")
    with _errors_told(path):
        connection = sqlite3.connect(path, timeout=WAIT_FOR_OTHERS_S, isolation_level=None)
    try:
        with _errors_told(path):
            # sqlite3 opens lazily: this is where a file that is not SQLite is found out.
            applied = _applied_migrations(connection)
            _refuse_strangers(path, connection, applied)
            connection.row_factory = sqlite3.Row
            logbook = Logbook(Database(connection), path)
            if set(applied) != set(_known_migrations()):
                _bring_up_to_date(logbook)
            connection.execute("PRAGMA foreign_keys = ON")
            connection.execute(f"PRAGMA journal_mode = {'DELETE' if network_share else 'WAL'}")
            connection.execute(
                "PRAGMA synchronous = NORMAL" if not network_share else "PRAGMA synchronous = FULL"
            )
        yield logbook
    finally:
        connection.close()


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


def _known_migrations() -> list[str]:
    return [migration.name for migration in migrations._migrations]  # no public list in sqlite-utils 4


def _applied_migrations(connection: sqlite3.Connection) -> list[str]:
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if migrations.migrations_table not in tables:
        return []
    sql = f"SELECT name FROM {migrations.migrations_table} WHERE migration_set = ?"
    return [row[0] for row in connection.execute(sql, (migrations.name,))]


def _refuse_strangers(path: Path, connection: sqlite3.Connection, applied: list[str]) -> None:
    newer = sorted(set(applied) - set(_known_migrations()))
    if newer:
        raise LogbookError(
            f"{path}: this logbook was written by a newer auditor (it has {newer[-1]}). "
            "Update the auditor; nothing was changed."
        )
    (application_id,) = connection.execute("PRAGMA application_id").fetchone()
    (objects,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if objects and application_id != APPLICATION_ID:
        raise LogbookError(
            f"{path}: is a database of another program, not a logbook. Choose another place with --logbook."
        )


def _bring_up_to_date(logbook: Logbook) -> None:
    with logbook.writing():
        logbook.db.conn.execute(f"PRAGMA application_id = {APPLICATION_ID}")
        migrations.apply(logbook.db)


@contextmanager
def _errors_told(path: Path) -> Iterator[None]:
    """Turn SQLite's errors into one line that says what to do."""
    try:
        yield
    except sqlite3.OperationalError as error:
        text = str(error)
        if "locked" in text or "busy" in text:
            advice = "Another run of the auditor is writing to it: wait for it to end, then try again."
        elif "full" in text:
            advice = "The disk is full: make room, then run the same command again."
        else:
            advice = "Check the place and its permissions, or choose another with --logbook."
        raise LogbookError(f"{path}: the logbook cannot be used ({text}). {advice}") from error
    except sqlite3.DatabaseError as error:
        raise LogbookError(
            f"{path}: is not a logbook, or is damaged ({error}). Choose another place with --logbook, "
            "or restore a copy."
        ) from error
