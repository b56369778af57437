"""The record of scans: which folder, when, by which version."""

from __future__ import annotations

from auditor import __version__
from auditor.store.logbook import Logbook


def add(
    logbook: Logbook, folder: str, *, started_at: str, finished_at: str, seen: int, read: int, unreadable: int
) -> None:
    """Note a scan that ran to its end, inside `writing()`.

    Parameters
    ----------
    folder
        Its real path.
    started_at, finished_at
        UTC, ISO 8601.
    seen, read, unreadable
        Numbers of files.
    """
    logbook.execute(
        "INSERT INTO scans (folder, started_at, finished_at, files_seen, files_read, files_unreadable, "
        "auditor_version) VALUES (?, ?, ?, ?, ?, ?, ?)",
        (folder, started_at, finished_at, seen, read, unreadable, __version__),
    )


def folders(logbook: Logbook) -> list[str]:
    """Every folder that was ever scanned."""
    return [row[0] for row in logbook.query("SELECT DISTINCT folder FROM scans ORDER BY folder")]
