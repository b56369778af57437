"""What one scan has seen of a folder, so that what it has not seen can be told.

Kept in temporary tables of the logbook's connection: memory does not grow with the folder.
"""

from __future__ import annotations

import json
from collections.abc import Iterable

from auditor.store.logbook import Logbook
from auditor.store.paths import path_range


class SeenFiles:
    """The files and the unreadable files that a scan came across."""

    def __init__(self, logbook: Logbook, folder: str) -> None:
        self._logbook = logbook
        self._range = path_range(folder)
        for table, column in (("seen_files", "file_id INTEGER"), ("seen_unreadable", "path TEXT")):
            logbook.connection.execute(f"CREATE TEMP TABLE IF NOT EXISTS {table} ({column} PRIMARY KEY)")
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
        # One statement: outside a transaction each statement is one of its own.
        self._logbook.execute(
            "INSERT OR IGNORE INTO seen_files SELECT value FROM json_each(?)", (json.dumps(list(file_ids)),)
        )
        self._logbook.execute_many(
            "INSERT OR IGNORE INTO seen_unreadable VALUES (?)", [(path,) for path in unreadable_paths]
        )

    def files_missed(self) -> list[tuple[int, str]]:
        """(file_id, path) of files thought to be in the folder that were not seen."""
        return [
            (row[0], row[1])
            for row in self._logbook.query(
                "SELECT file_id, path FROM files WHERE present = 1 AND path >= ? AND path < ? "
                "AND file_id NOT IN (SELECT file_id FROM seen_files)",
                self._range,
            )
        ]

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
