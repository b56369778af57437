"""What one scan has seen of a folder, so that what it has not seen can be told.

Kept in temporary tables of the logbook's connection: memory does not grow with the folder.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from auditor.store.logbook import Logbook
from auditor.store.paths import path_range

_TABLES = {
    "seen_files": "file_id INTEGER PRIMARY KEY",
    "seen_spans": "first TEXT PRIMARY KEY, last TEXT NOT NULL",
    "seen_unreadable": "path TEXT PRIMARY KEY",
}
_PRESENT = "FROM files WHERE present = 1 AND path >= ? AND path < ?"


class SeenFiles:
    """The files and the unreadable files that a scan came across."""

    def __init__(self, logbook: Logbook, folder: str) -> None:
        self._logbook = logbook
        self._range = path_range(folder)
        self._in_spans = 0
        self.ticked_off = 0
        """How many files so far."""
        for table, columns in _TABLES.items():
            logbook.connection.execute(f"CREATE TEMP TABLE IF NOT EXISTS {table} ({columns})")
            logbook.connection.execute(f"DELETE FROM {table}")

    def add(self, file_ids: Iterable[int] = (), unreadable_paths: Iterable[str] = ()) -> None:
        """Tick off files by the id of their row, and unreadable ones by path.

        Parameters
        ----------
        file_ids
            Of rows of `files`.
        unreadable_paths
            As `unreadable` has them.
        """
        file_ids, unreadable_paths = list(file_ids), list(unreadable_paths)
        self.ticked_off += len(file_ids) + len(unreadable_paths)
        # One statement: outside a transaction each statement is one of its own.
        self._logbook.execute(
            "INSERT OR IGNORE INTO seen_files SELECT value FROM json_each(?)", (json.dumps(file_ids),)
        )
        self._logbook.execute_many(
            "INSERT OR IGNORE INTO seen_unreadable VALUES (?)", [(path,) for path in unreadable_paths]
        )

    def add_span(self, first_path: str, last_path: str, files: int) -> None:
        """Tick off all files that the logbook has from one path to another, without a look at each.

        Parameters
        ----------
        first_path, last_path
            Both included. What was added before lies outside.
        files
            How many they are.
        """
        self._logbook.execute("INSERT INTO seen_spans VALUES (?, ?)", (first_path, last_path))
        self._in_spans += files
        self.ticked_off += files

    def files_missed(self) -> list[tuple[int, str]]:
        """(file_id, path) of files thought to be in the folder that were not seen."""
        present = self._logbook.query(f"SELECT count(*) {_PRESENT}", self._range)[0][0]
        if present == self._in_spans + self._logbook.query("SELECT count(*) FROM seen_files")[0][0]:
            return []  # what was seen is there: if it is as many, it is all of them
        # Spans lie apart: the last that begins before a path holds it, or none does.
        sql = f"""
            SELECT file_id, path {_PRESENT} AND file_id NOT IN (SELECT file_id FROM seen_files)
            AND path > coalesce((SELECT last FROM seen_spans WHERE first <= path
                                 ORDER BY first DESC LIMIT 1), '')"""
        return [(row[0], row[1]) for row in self._logbook.query(sql, self._range)]

    def unreadable_missed(self) -> list[str]:
        """Paths listed as unreadable in the folder that were not seen again."""
        return [
            row[0]
            for row in self._logbook.query(
                "SELECT path FROM unreadable WHERE path >= ? AND path < ? "
                "AND path NOT IN (SELECT path FROM seen_unreadable) AND NOT (stage = 'pixels' "
                "AND path IN (SELECT path FROM files WHERE present = 1))",
                self._range,
            )
        ]
