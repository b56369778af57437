"""All that a trip, or all trips together, say of the kits: made once, shown by terminal and report alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from auditor.analysis.advice import advice
from auditor.analysis.changes import changes
from auditor.analysis.comparisons import alternatives, by_optics_alone, comparisons, evidence
from auditor.analysis.kit_flags import kit_flags
from auditor.analysis.kit_table import kit_table
from auditor.analysis.rows import json_rows
from auditor.settings import Settings
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

Row = dict[str, Any]


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What there is to say of the kits."""

    table: pd.DataFrame
    """The kit table."""
    compared: list[Row]
    """Kits with a converter against the bare lens: rows of `comparisons`."""
    alternatives: list[Row]
    """Kits with a converter against a smaller sensor that frames alike."""
    changes: list[Row]
    """Stretches of a trip with fewer hits; none for all trips, which are looked at one by one."""
    flags: list[Row]
    """Flags on kits: kit_name, flag, reason."""
    advice: list[Row]
    """A paragraph a kit: kit_id, kit_name, paragraph."""


def findings(logbook: Logbook, trip_id: int | None, settings: Settings) -> Findings:
    """Everything about the kits of a trip, or of all."""
    found = evidence(logbook, trip_id)
    table = kit_table(logbook, trip_id, gathered=found.kit_encounters)
    compared = comparisons(found, settings)
    changed = [] if trip_id is None else changes(logbook, trip_id)
    return Findings(
        table=table,
        compared=compared,
        alternatives=alternatives(found),
        changes=changed,
        flags=kit_flags(compared, changed),
        advice=advice(json_rows(table), compared, changed, by_optics_alone(found)),
    )
