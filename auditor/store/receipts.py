"""Receipts: what was handed over where, noted first, so that it can be taken back."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from auditor import __version__
from auditor.errors import LogbookError
from auditor.file_names import as_path, as_text
from auditor.store.clock import now_utc
from auditor.store.logbook import Logbook

Way = Literal["copy", "hard_link", "symbolic_link", "sidecar"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Receipt:
    """One run that handed files over. Times are UTC, ISO 8601."""

    receipt_id: int
    what: Way
    folder: str
    started_at: str
    finished_at: str | None
    """None for a run that was cut off."""
    undone_at: str | None
    files: int
    """Files that it made and that were not taken back."""


@dataclass(frozen=True, slots=True, kw_only=True)
class WrittenRating:
    """A rating that the auditor wrote into a sidecar: no opinion of the photographer's."""

    rating: int
    """As xmp:Rating, -1 to 5."""
    before: int | None
    """The photographer's own, which it took the place of."""
    fingerprint: str
    """Of the whole sidecar, as scans know files by (`readers.frame.fingerprint_of`)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Planned:
    """One file before it is made."""

    path: Path
    source: Path
    written_as: Path | None
    """The name that it has until it is whole; None for links, which are made at once."""
    backup: Path | None = None
    """Where the file that is there now will lie."""
    hash_before: str | None = None
    rated: WrittenRating | None = None
    """The rating that is written into it; None for a file that gets none."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Made:
    """One file or folder of a receipt that was not taken back yet."""

    path: Path
    is_folder: bool
    source: Path | None
    written_as: Path | None
    hash: str | None
    backup: Path | None
    hash_before: str | None
    made_at: str | None
    """None where the run was cut off before it was whole."""


def begin(logbook: Logbook, what: Way, folder: str) -> tuple[int, list[Path]]:
    """A new receipt; for copies and links, that of a run into the same folder that was cut off goes on.

    A sidecar is replaced, so each run that does it keeps a receipt of its own.

    Parameters
    ----------
    what
        Copies, links or sidecars.
    folder
        Where they go, as text.

    Returns
    -------
    tuple[int, list[Path]]
        The receipt's number, and the half-written files that runs left that were cut off.
    """
    cut_off = "what = ? AND folder = ? AND finished_at IS NULL AND undone_at IS NULL"
    unfinished = f"receipt_id IN (SELECT receipt_id FROM receipts WHERE {cut_off})"
    with logbook.writing():
        left = logbook.query(
            f"SELECT written_as FROM receipt_files WHERE written_as IS NOT NULL AND {unfinished}",
            (what, folder),
        )
        logbook.execute(f"DELETE FROM receipt_files WHERE made_at IS NULL AND {unfinished}", (what, folder))
        earlier = logbook.query(f"SELECT max(receipt_id) FROM receipts WHERE {cut_off}", (what, folder))
        if what != "sidecar" and earlier[0][0] is not None:
            return int(earlier[0][0]), [as_path(row[0]) for row in left]
        sql = "INSERT INTO receipts (what, folder, started_at, auditor_version) VALUES (?, ?, ?, ?)"
        number = logbook.execute(sql, (what, folder, now_utc(), __version__))
        return number, [as_path(row[0]) for row in left]


def plan(logbook: Logbook, receipt_id: int, files: Iterable[Planned], folders: Iterable[Path]) -> None:
    """Note what is about to be made: folders as made, files as planned.

    Parameters
    ----------
    receipt_id
        As `begin` gave it.
    files
        Each with its original and what it is written as until it is whole.
    folders
        New ones, so that taking back removes them.
    """
    now = now_utc()
    with logbook.writing():
        logbook.execute_many(
            "INSERT OR IGNORE INTO receipt_files (receipt_id, path, is_folder, made_at) VALUES (?, ?, 1, ?)",
            [(receipt_id, as_text(folder), now) for folder in folders],
        )
        # A file that was noted as made and is planned again never got its final name.
        logbook.execute_many(
            "INSERT OR REPLACE INTO receipt_files "
            "(receipt_id, path, is_folder, source, written_as, backup, hash_before, rating, rating_before, "
            "fingerprint) VALUES (?, ?, 0, ?, ?, ?, ?, ?, ?, ?)",
            [
                (receipt_id, as_text(file.path), as_text(file.source), _text(file.written_as),
                 _text(file.backup), file.hash_before, *_rating_row(file.rated))
                for file in files
            ],
        )  # fmt: skip


def written_rating(logbook: Logbook, path: str, fingerprint: str, rating: int) -> WrittenRating | None:
    """The receipt by which the auditor wrote a sidecar's rating; None where it is the photographer's.

    It is ours where a receipt wrote this very file, wherever it lies now, or wrote this rating at this path
    (another program may have added to the file since). One that was changed to another rating is the
    photographer's.

    Parameters
    ----------
    path
        Of the sidecar, as text.
    fingerprint
        Of the file as it is now.
    rating
        That it holds now.

    Returns
    -------
    WrittenRating or None
        The rating, and the one that stood there before.
    """
    sql = """
        SELECT rating, rating_before AS before, fingerprint FROM receipt_files
        WHERE rating = :rating AND made_at IS NOT NULL
        AND (fingerprint = :fingerprint OR (path = :path AND undone_at IS NULL))
        ORDER BY path = :path DESC, receipt_id DESC LIMIT 1"""
    rows = logbook.query(sql, {"path": path, "fingerprint": fingerprint, "rating": rating})
    return WrittenRating(**dict(rows[0])) if rows else None


def note_made(logbook: Logbook, receipt_id: int, path: Path, file_hash: str) -> None:
    """Note a file as made: to be called before it gets its final name.

    Parameters
    ----------
    receipt_id
        That `begin` gave.
    path
        Its final name.
    file_hash
        XXH3-128 of its bytes, hexadecimal.

    Raises
    ------
    LogbookError
        where another run into the same folder has taken over meanwhile.
    """
    with logbook.writing():
        logbook.execute(
            "UPDATE receipt_files SET hash = ?, made_at = ? WHERE receipt_id = ? AND path = ?",
            (file_hash, now_utc(), receipt_id, as_text(path)),
        )
        if logbook.query("SELECT changes()")[0][0] != 1:
            raise LogbookError(
                f"Another run hands files over to {path.parent}. Wait for it to end, then run this one again."
            )


def finish(logbook: Logbook, receipt_id: int, not_made: Iterable[Path]) -> bool:
    """Close a receipt, without the files that could not be made.

    Parameters
    ----------
    receipt_id
        That `begin` gave.
    not_made
        Final names of those files.

    Returns
    -------
    bool
        Whether anything was made: a receipt of nothing is taken away.
    """
    with logbook.writing():
        logbook.execute_many(
            "DELETE FROM receipt_files WHERE receipt_id = ? AND path = ?",
            [(receipt_id, as_text(path)) for path in not_made],
        )
        sql = "SELECT EXISTS (SELECT 1 FROM receipt_files WHERE receipt_id = ?)"
        if not logbook.query(sql, (receipt_id,))[0][0]:
            logbook.execute("DELETE FROM receipts WHERE receipt_id = ?", (receipt_id,))
            return False
        logbook.execute("UPDATE receipts SET finished_at = ? WHERE receipt_id = ?", (now_utc(), receipt_id))
        return True


def all_receipts(logbook: Logbook) -> list[Receipt]:
    """Every receipt, the oldest first."""
    sql = """
        SELECT receipt_id, what, folder, started_at, finished_at, undone_at,
            (SELECT count(*) FROM receipt_files AS f WHERE f.receipt_id = r.receipt_id
             AND NOT is_folder AND made_at IS NOT NULL AND f.undone_at IS NULL) AS files
        FROM receipts AS r ORDER BY receipt_id"""
    return [Receipt(**dict(row)) for row in logbook.query(sql)]


def find(logbook: Logbook, receipt_id: int) -> Receipt:
    """One receipt.

    Parameters
    ----------
    receipt_id
        As `receipts` lists it.

    Returns
    -------
    Receipt
        With the time and the place of the run.

    Raises
    ------
    LogbookError
        where there is none with this number, or it was taken back already.
    """
    for receipt in all_receipts(logbook):
        if receipt.receipt_id == receipt_id:
            if receipt.undone_at is not None:
                raise LogbookError(
                    f"Receipt {receipt_id} was taken back already, on {receipt.undone_at[:10]}."
                )
            return receipt
    raise LogbookError(f"There is no receipt {receipt_id}. See: auditor keepers receipts")


def still_there(logbook: Logbook, receipt_id: int) -> list[Made]:
    """What a receipt made and was not taken back yet, the newest first; folders after what is in them.

    Parameters
    ----------
    receipt_id
        As `receipts` lists it.

    Returns
    -------
    list[Made]
        With the hash that each had when it was made.
    """
    rows = logbook.query(
        "SELECT path, is_folder, source, written_as, hash, backup, hash_before, made_at FROM receipt_files "
        "WHERE receipt_id = ? AND undone_at IS NULL ORDER BY is_folder, length(path) DESC, path",
        (receipt_id,),
    )
    return [_made(row) for row in rows]


def later(logbook: Logbook, receipt_id: int) -> dict[Path, int]:
    """Files of a receipt that a later one made again: their path, and that receipt.

    Parameters
    ----------
    receipt_id
        As `receipts` lists it.

    Returns
    -------
    dict[Path, int]
        Receipt id by path.
    """
    rows = logbook.query(
        "SELECT path, max(newer.receipt_id) FROM receipt_files AS newer WHERE newer.receipt_id > :id "
        "AND NOT is_folder AND made_at IS NOT NULL AND undone_at IS NULL "
        "AND path IN (SELECT path FROM receipt_files WHERE receipt_id = :id) GROUP BY path",
        {"id": receipt_id},
    )
    return {as_path(row[0]): int(row[1]) for row in rows}


def note_undone(logbook: Logbook, receipt_id: int, paths: Iterable[Path]) -> None:
    """Note what was taken back; a receipt of which nothing is left is closed.

    Parameters
    ----------
    receipt_id
        As `receipts` lists it.
    paths
        Final names.
    """
    now = now_utc()
    with logbook.writing():
        logbook.execute_many(
            "UPDATE receipt_files SET undone_at = ? WHERE receipt_id = ? AND path = ?",
            [(now, receipt_id, as_text(path)) for path in paths],
        )
        logbook.execute(
            "UPDATE receipts SET undone_at = ?, finished_at = coalesce(finished_at, ?) WHERE receipt_id = ? "
            "AND NOT EXISTS (SELECT 1 FROM receipt_files WHERE receipt_id = ? AND undone_at IS NULL)",
            (now, now, receipt_id, receipt_id),
        )


def _made(row: sqlite3.Row) -> Made:
    def path(name: str) -> Path | None:
        return None if row[name] is None else as_path(row[name])

    return Made(
        path=as_path(row["path"]), is_folder=bool(row["is_folder"]), source=path("source"),
        written_as=path("written_as"), hash=row["hash"], backup=path("backup"),
        hash_before=row["hash_before"], made_at=row["made_at"],
    )  # fmt: skip


def _rating_row(rated: WrittenRating | None) -> tuple[int | None, int | None, str | None]:
    return (None, None, None) if rated is None else (rated.rating, rated.before, rated.fingerprint)


def _text(path: Path | None) -> str | None:
    return None if path is None else as_text(path)
