"""The time that the logbook notes beside what it keeps."""

from __future__ import annotations

from datetime import UTC, datetime


def now_utc() -> str:
    """This moment as the logbook writes it: UTC, ISO 8601, whole seconds."""
    return datetime.now(UTC).isoformat(timespec="seconds")
