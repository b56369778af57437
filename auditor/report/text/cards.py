"""A card a kit: the same short facts in the same order, and the workings behind a fold."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor.analysis.answers import KitAnswer
from auditor.analysis.compared import Alternative
from auditor.analysis.kit_table import KitRow
from auditor.report.text import advice, comparisons, losses, values
from auditor.report.text.ledger import NOT_COMPARED, ledger, loss_of
from auditor.report.text.outcomes import ADVICE, KIT_FLAGS, no_rate
from auditor.report.text.values import count, percent
from auditor.words import DetailOutcome

FACTS = ("In focus", "Cost", "Detail", "Change", "Limits")
"""What each card says, in this order."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KitCard:
    """One kit in short facts."""

    kit_id: int
    name: str
    answer: str
    """What follows, in a few words."""
    flags: tuple[str, ...]
    """What is flagged, in words."""
    facts: tuple[tuple[str, str], ...]
    """(word of FACTS, what there is to say)."""
    workings: tuple[str, ...]
    """How that was worked out, a sentence or two each."""


def cards(
    answers: Sequence[KitAnswer], alternatives: Iterable[Alternative], *, of_trip: bool = True
) -> list[KitCard]:
    """One card a kit, in the order of the kit table.

    Parameters
    ----------
    alternatives
        Kits with a converter against a smaller sensor: they stand in the workings of the first.
    of_trip
        Whether one trip is looked at: over all trips no change during the trip is looked for.
    """
    others = list(alternatives)
    short = {line.kit_id: line.answer for line in ledger(answers)}
    return [
        KitCard(
            kit_id=answer.kit_id,
            name=values.plain(answer.kit_name),
            answer=short.get(answer.kit_id, "bare lens"),
            flags=tuple(KIT_FLAGS[flag] for flag in answer.flags),
            facts=_facts(answer, of_trip),
            workings=_workings(answer, [row for row in others if row.kit_id == answer.kit_id]),
        )
        for answer in answers
    ]


def _facts(answer: KitAnswer, of_trip: bool) -> tuple[tuple[str, str], ...]:
    texts = (
        _in_focus(answer),
        _cost(answer.kit),
        _detail(answer),
        _during(answer) if of_trip else "",
        _limits(answer.kit),
    )
    return tuple((word, text) for word, text in zip(FACTS, texts, strict=True) if text)


def _in_focus(answer: KitAnswer) -> str:
    kit = answer.kit
    if kit.hit_rate is not None:
        rate = f"{percent(kit.hit_rate)} ({values.interval(kit.hit_rate_low, kit.hit_rate_high)})"
    else:
        rate = f"{kit.hits:,} of {kit.judged:,}" if kit.judged else "no frame is decided"
    lost = loss_of(answer)
    if lost is None:
        return rate
    ends = losses.range_of_100(lost.low, lost.high).replace(" and ", " to ")
    likely = "likely " if lost.likely else ""
    change = losses.change_of_100(lost.loss, short=True)
    return f"{change} ({likely}{ends})" if change == losses.AS_MANY else f"{change} of 100 ({likely}{ends})"


def _cost(kit: KitRow) -> str:
    if not kit.converted:
        return ""
    if not kit.median_forced_push_ev:
        return "no light, or not known"
    cost = f"{values.stops_counted(kit.median_forced_push_ev)} of light"
    if kit.iso_pushed_frames:
        cost += f"; {count(kit.iso_pushed_frames, 'frame')} over your ISO ceiling"
    return cost


def _detail(answer: KitAnswer) -> str:
    if not answer.kit.converted:
        return ""
    detail = answer.comparison.detail if answer.comparison else None
    if detail is None or detail.outcome is DetailOutcome.NOT_ENOUGH_EVIDENCE:
        return (
            NOT_COMPARED
            if detail is None
            else f"{NOT_COMPARED}: {_scenes(detail.scenes, detail.scenes_bare)}"
        )
    if detail.gain is None or detail.low is None or detail.high is None:
        return NOT_COMPARED
    return f"{values.finer(detail.gain)} ({values.finer_interval(detail.low, detail.high)})"


def _scenes(scenes: int, bare: int) -> str:
    return f"{count(scenes, 'scene')} measured against {bare:,} bare"


def _during(answer: KitAnswer) -> str:
    change = answer.change
    if change is None:
        return "too few to tell"
    if not change.fell:
        return "none beyond chance"
    return (
        f"fell from {values.moment(change.from_at)}: {percent(change.rate_inside)}, else "
        f"{percent(change.rate_outside)}"
    )


def _limits(kit: KitRow) -> str:
    """What the numbers rest on, apart from what the kit table counts."""
    counts = [count(kit.encounters, "encounter")]
    for number, what in (
        (kit.deleted, "perhaps deleted in camera"),
        (kit.unmetered_frames, "exposed by hand"),
        (kit.auto_iso_at_limit_frames, "at the limit of Auto-ISO"),
    ):
        if number:
            counts.append(f"{count(number, 'frame')} {what}")
    why = no_rate(kit)
    return "; ".join((", ".join(counts), *([why] if why else [])))


def _workings(answer: KitAnswer, others: Sequence[Alternative]) -> tuple[str, ...]:
    sentences = [*advice.parts(answer)]
    if answer.comparison is not None:
        sentences += comparisons.beside(answer.comparison)
    sentences += [comparisons.alternative(row) for row in others]
    sentences += [f"{KIT_FLAGS[flag]}: {reason}." for flag, reason in comparisons.reasons(answer)]
    return tuple(sentence for sentence in sentences if sentence and sentence != ADVICE[answer.advice]) + (
        (ADVICE[answer.advice],) if ADVICE[answer.advice] else ()
    )
