"""Files that cannot be read now: listed, and forgotten once they can be."""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor import __version__
from auditor.records import ReadFailure
from auditor.store.logbook import Logbook
from auditor.store.paths import marks, path_range

UNDECODABLE = """(SELECT path, size_bytes, modified_at FROM unreadable
    WHERE stage = 'pixels' AND size_bytes IS NOT NULL AND modified_at IS NOT NULL
    AND error_class IN (SELECT value FROM json_each(:content_failures)))"""
"""Pictures whose content could not be decoded, whatever auditor tried it."""


@dataclass(frozen=True, slots=True)
class KnownFailure:
    """What the logbook remembers of a file that could not be read."""

    size_bytes: int | None
    modified_at: str | None
    tried_with: str
    error_class: str


@dataclass(frozen=True, slots=True)
class UnreadableFile:
    """A file that cannot be read now."""

    path: str
    stage: str
    reason: str
    error_class: str
    seen_at: str
    """When it was last tried: UTC, ISO 8601."""


def known_failures(logbook: Logbook, paths: Sequence[str]) -> dict[str, KnownFailure]:
    """Files at these paths whose metadata could not be read when last tried.

    Parameters
    ----------
    paths
        Absolute, as text.

    Returns
    -------
    dict[str, KnownFailure]
        By path; those that can be read are left out.
    """
    sql = f"""SELECT path, size_bytes, modified_at, tried_with, error_class FROM unreadable
              WHERE stage <> 'pixels' AND path IN ({marks(paths)})"""
    return {row[0]: KnownFailure(*row[1:]) for row in logbook.query(sql, tuple(paths))}


def store_failures(logbook: Logbook, failures: Iterable[ReadFailure], *, seen_at: str) -> None:
    """List files that cannot be read, inside `writing()`.

    Parameters
    ----------
    failures
        One a file.
    seen_at
        When they were tried: UTC, ISO 8601.
    """
    logbook.execute_many(
        "INSERT OR REPLACE INTO unreadable VALUES (?, ?, ?, ?, ?, ?, ?, ?)",
        [
            (
                failure.path, failure.stage, failure.reason, failure.error_class, seen_at,
                failure.size_bytes, failure.modified_at, __version__,
            )
            for failure in failures
        ],
    )  # fmt: skip


def unreadable_files(logbook: Logbook) -> list[UnreadableFile]:
    """Every file that cannot be read now, in order of path."""
    sql = "SELECT path, stage, reason, error_class, seen_at FROM unreadable ORDER BY path"
    return [UnreadableFile(*row) for row in logbook.query(sql)]


def unreadable_under(logbook: Logbook, folder: str) -> list[tuple[str, str]]:
    """(path, reason) of every file in a folder whose metadata cannot be read.

    Parameters
    ----------
    folder
        Absolute, as text.

    Returns
    -------
    list[tuple[str, str]]
        In order of paths.
    """
    return _under(logbook, folder, "stage <> 'pixels'")


def undecodable_under(logbook: Logbook, folder: str) -> list[tuple[str, str]]:
    """(path, reason) of every picture in a folder that could not be decoded; its metadata was read.

    Parameters
    ----------
    folder
        Absolute, as text.

    Returns
    -------
    list[tuple[str, str]]
        In order of paths.
    """
    return _under(logbook, folder, "stage = 'pixels'")


def _under(logbook: Logbook, folder: str, which: str) -> list[tuple[str, str]]:
    low, high = path_range(folder)
    sql = f"SELECT path, reason FROM unreadable WHERE path >= ? AND path < ? AND {which} ORDER BY path"
    return [(row[0], row[1]) for row in logbook.query(sql, (low, high))]


def forget_unreadable(logbook: Logbook, paths: Iterable[str]) -> None:
    """Drop rows of `unreadable` whose files have gone, inside `writing()`.

    Parameters
    ----------
    paths
        Absolute, as text.
    """
    logbook.execute(
        "DELETE FROM unreadable WHERE path IN (SELECT value FROM json_each(?))", (json.dumps(list(paths)),)
    )
