"""What a trip, or all trips, say of the kits: made once, shown by terminal, page and JSON alike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from auditor.analysis.answers import KitAnswer, answers
from auditor.analysis.changes import Change, changes
from auditor.analysis.compared import Alternative, Comparison
from auditor.analysis.comparisons import alternatives, by_optics_alone, comparisons, evidence, with_record
from auditor.analysis.criterion import answerable, too_fine, with_reasons
from auditor.analysis.kit_table import KitRow, kit_table
from auditor.analysis.measuring import Measuring, measuring
from auditor.settings import Settings
from auditor.store.logbook import Logbook

AdviceFrom = Literal["record", "shown"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Findings:
    """What there is to say of the kits."""

    kits: tuple[KitAnswer, ...]
    """One answer a kit, in the order of the kit table."""
    alternatives: tuple[Alternative, ...]
    """Kits with a converter against a smaller sensor that frames alike."""
    changes: tuple[Change, ...]
    """Stretches of a trip with fewer hits; none for all trips, which are looked at one by one."""
    measuring: Measuring
    """How many of the frames wait to be measured."""

    @property
    def table(self) -> list[KitRow]:
        """The kit table."""
        return [answer.kit for answer in self.kits]

    @property
    def compared(self) -> list[Comparison]:
        """Kits with a converter against the bare lens."""
        return [answer.comparison for answer in self.kits if answer.comparison is not None]


def findings(
    logbook: Logbook, trip_id: int | None, settings: Settings, *, advice_from: AdviceFrom = "record"
) -> Findings:
    """Everything about the kits of a trip, or of all trips where `trip_id` is None.

    The tables show that trip. What is told of a kit against its bare lens rests on every frame of both in the
    logbook, and says what the trip added; or, with `advice_from="shown"`, on the trip alone.

    Parameters
    ----------
    trip_id
        None for all trips.
    advice_from
        `record` or `shown`.

    Returns
    -------
    Findings
        The kit table, comparisons, changes and answers.
    """
    if trip_id is None or advice_from == "shown":
        shown = advice_evidence = evidence(logbook, trip_id, settings)
    else:
        shown, advice_evidence = with_record(logbook, trip_id, settings)
    shown, advice_evidence = answerable(shown, settings.crop), answerable(advice_evidence, settings.crop)
    rows = kit_table(logbook, trip_id, gathered=shown.kit_encounters, kits=shown.kits)
    table = with_reasons(rows, too_fine(shown.kits, settings.crop))
    changed = [] if trip_id is None else changes(logbook, trip_id)
    return Findings(
        kits=tuple(
            answers(table, comparisons(advice_evidence, settings), changed, by_optics_alone(advice_evidence))
        ),
        alternatives=tuple(alternatives(advice_evidence)),
        changes=tuple(changed),
        measuring=measuring(logbook, trip_id),
    )
