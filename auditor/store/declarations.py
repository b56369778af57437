"""What the photographer said that no file records, with its history: nothing is deleted, only undone."""

from __future__ import annotations

import getpass
import json
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from auditor.errors import LogbookError
from auditor.store.logbook import Logbook


@dataclass(frozen=True, slots=True, kw_only=True)
class Declaration:
    """One thing said. `body` is a serial number or a model; times are by the corrected clock."""

    declaration_id: int
    kind: str
    """converter, body, clock, trip or exclude."""
    body: str | None
    from_at: str | None
    to_at: str | None
    facts: dict[str, Any]
    said_at: str
    said_by: str
    undone_at: str | None


def add(
    logbook: Logbook,
    kind: str,
    facts: dict[str, Any],
    *,
    body: str | None = None,
    from_at: str | None = None,
    to_at: str | None = None,
) -> int:
    """Keep a declaration, inside `writing()`; returns its number."""
    return logbook.execute(
        "INSERT INTO declarations (kind, body, from_at, to_at, facts, said_at, said_by) "
        "VALUES (?, ?, ?, ?, ?, ?, ?)",
        (kind, body, from_at, to_at, json.dumps(facts, ensure_ascii=False, sort_keys=True), _now(), _who()),
    )


def undo(logbook: Logbook, declaration_id: int) -> Declaration:
    """Take a declaration back, inside `writing()`.

    Raises
    ------
    LogbookError
        where there is none with this number, or it is undone already.
    """
    for declaration in history(logbook):
        if declaration.declaration_id == declaration_id and declaration.undone_at is None:
            logbook.execute(
                "UPDATE declarations SET undone_at = ? WHERE declaration_id = ?", (_now(), declaration_id)
            )
            return declaration
    raise LogbookError(f"There is no declaration {declaration_id} to undo. See: auditor declare list")


def history(logbook: Logbook) -> list[Declaration]:
    """Every declaration ever made, the oldest first, those undone included."""
    return [
        Declaration(**{**dict(row), "facts": json.loads(row["facts"])})
        for row in logbook.query("SELECT * FROM declarations ORDER BY declaration_id")
    ]


def touch_body(logbook: Logbook, body: str) -> int:
    """List the frames of a body for rebuilding, inside `writing()`; returns how many there are."""
    where = "body_serial = :body OR lower(body_model) = lower(:body)"
    logbook.execute(
        f"INSERT OR IGNORE INTO touched SELECT frame_id FROM frames WHERE {where}", {"body": body}
    )
    return int(logbook.query(f"SELECT count(*) FROM frames WHERE {where}", {"body": body})[0][0])


def touch_all(logbook: Logbook) -> None:
    """List every frame for rebuilding, inside `writing()`."""
    logbook.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames")


def bodies(logbook: Logbook) -> list[dict[str, Any]]:
    """Bodies in the logbook: make, model, serial, frames."""
    return [
        dict(row)
        for row in logbook.query(
            "SELECT body_make, body_model, body_serial, count(*) AS frames FROM frames "
            "GROUP BY body_make, body_model, body_serial ORDER BY frames DESC"
        )
    ]


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")


def _who() -> str:
    try:
        return getpass.getuser()
    except (KeyError, OSError, ImportError):  # a machine that does not tell
        return "unknown"
