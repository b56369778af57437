"""How much the logbook holds."""

from __future__ import annotations

from auditor.store.logbook import Logbook

TABLES = ("frames", "files", "trips", "kits")


def counts(logbook: Logbook) -> dict[str, int]:
    """The number of frames, files, trips and kits, by these words."""
    return {table: int(logbook.query(f"SELECT count(*) FROM {table}")[0][0]) for table in TABLES}
