"""The answer on each kit: everything that page, terminal, flags and JSON say of it, made once."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor.analysis.changes import Change
from auditor.analysis.compared import Comparison
from auditor.analysis.kit_table import KitRow
from auditor.analysis.optics import ExpectedGain
from auditor.words import Advice, DetailOutcome, FocusOutcome, KitFlag

_BOTH_KNOWN = {
    (FocusOutcome.FELL, DetailOutcome.GAIN): Advice.FOR_STILL_ANIMALS,
    (FocusOutcome.FELL, DetailOutcome.NO_GAIN): Advice.LEAVE_IT_OFF,
    (FocusOutcome.FELL, DetailOutcome.INCONCLUSIVE): Advice.LEAVE_IT_OFF_UNLESS_NEEDED_TO_AIM,
    (FocusOutcome.NO_FALL, DetailOutcome.GAIN): Advice.WORTH_ITS_COST,
    (FocusOutcome.NO_FALL, DetailOutcome.NO_GAIN): Advice.LEAVE_IT_OFF_IN_LOW_LIGHT,
    (FocusOutcome.NO_FALL, DetailOutcome.INCONCLUSIVE): Advice.USE_IT_IN_GOOD_LIGHT,
}
_FOCUS_ALONE = {
    FocusOutcome.FELL: Advice.COSTS_FOCUS,
    FocusOutcome.NO_FALL: Advice.COSTS_LITTLE_FOCUS,
}
_DETAIL_ALONE = {
    DetailOutcome.GAIN: Advice.SHOWS_MORE,
    DetailOutcome.NO_GAIN: Advice.CROP_SHOWS_AS_MUCH,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class KitAnswer:
    """What there is to say of one kit."""

    kit: KitRow
    """Its row of the kit table."""
    bare: KitRow | None
    """The row of the same body and lens with no converter; None for a bare kit, or where there is none."""
    comparison: Comparison | None
    """Against the bare kit; None where there is none."""
    optics: ExpectedGain | None
    """What optics expect of the converter; None for a bare kit, or where pixel or f-number is not known."""
    change: Change | None
    """The stretch of the trip with the fewest hits; None over all trips, or where none could be told."""
    advice: Advice
    flags: tuple[KitFlag, ...]

    @property
    def kit_id(self) -> int:
        """The kit's id in the logbook."""
        return self.kit.kit_id

    @property
    def kit_name(self) -> str:
        """The kit's name."""
        return self.kit.kit_name


def answers(
    kits: Sequence[KitRow],
    compared: Iterable[Comparison],
    changes: Iterable[Change] = (),
    optics: dict[int, ExpectedGain] | None = None,
) -> list[KitAnswer]:
    """One answer a kit, in the order of `kits`.

    Parameters
    ----------
    kits
        Rows of the kit table.
    compared
        Kits against their bare kits.
    changes
        What changed inside the trip.
    optics
        What optics expect of kits that were never used bare, by kit_id; a comparison has its own.

    Returns
    -------
    list[KitAnswer]
        What to say of each kit.
    """
    rows = {kit.kit_id: kit for kit in kits}
    comparison_of = {each.kit_id: each for each in compared}
    change_of = {each.kit_id: each for each in changes}
    kit_answers = []
    for kit in kits:
        comparison, change = comparison_of.get(kit.kit_id), change_of.get(kit.kit_id)
        kit_answers.append(
            KitAnswer(
                kit=kit,
                bare=rows.get(comparison.bare_kit_id) if comparison else None,
                comparison=comparison,
                optics=comparison.optics if comparison else (optics or {}).get(kit.kit_id),
                change=change,
                advice=_advice(kit, comparison),
                flags=tuple(_flags(comparison, change)),
            )
        )
    return kit_answers


def _advice(kit: KitRow, comparison: Comparison | None) -> Advice:
    if not kit.converted:
        return Advice.NO_CONVERTER
    if comparison is None:
        return Advice.NEVER_USED_BARE
    focus, detail = comparison.hits.outcome, comparison.detail.outcome
    known = _BOTH_KNOWN.get((focus, detail)) or _FOCUS_ALONE.get(focus) or _DETAIL_ALONE.get(detail)
    return known or Advice.NOT_SETTLED


def _flags(comparison: Comparison | None, change: Change | None) -> Iterable[KitFlag]:
    if comparison is not None and comparison.hits.outcome is FocusOutcome.FELL:
        yield KitFlag.HIT_RATE_FELL
    if comparison is not None and comparison.detail.outcome is DetailOutcome.NO_GAIN:
        yield KitFlag.NO_DETAIL_GAIN
    if change is not None and change.fell:
        yield KitFlag.FELL_DURING_TRIP
