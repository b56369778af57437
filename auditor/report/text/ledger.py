"""The ledger: a row a converter kit, with what it cost, what it brought, and its answer in a few words."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

from auditor.analysis.answers import KitAnswer
from auditor.analysis.compared import DetailCompared
from auditor.analysis.kit_table import KitRow
from auditor.report.text import comparisons, losses, values
from auditor.report.text.values import count
from auditor.statistics.likely_loss import Claim
from auditor.words import Advice, DetailOutcome, FocusOutcome

SHORT = {
    Advice.WORTH_ITS_COST: "worth it where light allows",
    Advice.FOR_STILL_ANIMALS: "for animals that hold still",
    Advice.LEAVE_IT_OFF: "leave it off and crop",
    Advice.LEAVE_IT_OFF_UNLESS_NEEDED_TO_AIM: "leave it off for now",
    Advice.LEAVE_IT_OFF_IN_LOW_LIGHT: "leave it off in low light",
    Advice.USE_IT_IN_GOOD_LIGHT: "cost little; detail not settled",
    Advice.COSTS_FOCUS: "it cost focus",
    Advice.SHOWS_MORE: "shows more; cost not settled",
    Advice.CROP_SHOWS_AS_MUCH: "a crop shows as much",
    Advice.COSTS_LITTLE_FOCUS: "it cost little focus",
    Advice.NOT_SETTLED: "not settled yet",
    Advice.NEVER_USED_BARE: "never used bare",
    Advice.NO_CONVERTER: "no converter",
}
"""Advice in at most six words."""
NOT_COMPARED = "not compared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Loss:
    """Frames in focus that a converter costs in the same light, as a share: positive where it loses."""

    loss: float
    low: float
    high: float
    likely: bool
    """Whether it is the most likely loss with its 80 % range; else as measured, with the 95 % interval."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LedgerLine:
    """One kit of the ledger, in words."""

    kit_id: int
    name: str
    counted: str
    loss: Loss | None
    in_focus: str
    between: str
    iso: str
    over: str
    detail: str
    detail_between: str
    answer: str


def ledger(answers: Sequence[KitAnswer]) -> list[LedgerLine]:
    """A row a converter kit, the largest loss first; those that cannot be compared last, by use."""
    converted = [answer for answer in answers if answer.kit.converted]
    return [_line(answer) for answer in sorted(converted, key=by_loss)]


def by_loss(answer: KitAnswer) -> tuple[bool, float, int, str]:
    """What the ledger is sorted by."""
    loss = loss_of(answer)
    return loss is None, -loss.loss if loss else 0.0, -answer.kit.frames, answer.kit_name


def loss_of(answer: KitAnswer) -> Loss | None:
    """The loss against bare in the same light; None where too little is alike."""
    if answer.comparison is None:
        return None
    hits = answer.comparison.hits
    if hits.answer is not None:
        likely = hits.answer.likely
        return Loss(loss=likely.loss, low=likely.low, high=likely.high, likely=True)
    if hits.difference is None or hits.low is None or hits.high is None:
        return None
    if min(hits.clusters_treated, hits.clusters_bare) < comparisons.FEWEST:
        return None
    return Loss(loss=-hits.difference, low=-hits.high, high=-hits.low, likely=False)


def claim_of(answer: KitAnswer) -> Claim | None:
    """What is probable of a loss that is not firm: the most it probably exceeds, else what it stays under."""
    if answer.comparison is None or answer.comparison.hits.answer is None:
        return None
    claims = answer.comparison.hits.answer.claims
    return max(claims, key=lambda claim: (claim.more, claim.loss), default=None)


def converter_names(answers: Sequence[KitAnswer]) -> dict[int, str]:
    """What sentences call each converter kit: "the 2x" where one kit has it, else the kit's short name."""
    converted = [answer.kit for answer in answers if answer.kit.converted]
    used = Counter(kit.converter_factor for kit in converted)
    return {
        kit.kit_id: f"the {kit.converter_factor:g}x"
        if used[kit.converter_factor] == 1
        else values.shortened(kit.kit_name, 60)
        for kit in converted
    }


def _line(answer: KitAnswer) -> LedgerLine:
    kit = answer.kit
    loss = loss_of(answer)
    iso, over = _iso(kit)
    detail, detail_between = _detail(answer.comparison.detail if answer.comparison else None)
    return LedgerLine(
        kit_id=kit.kit_id,
        name=values.plain(kit.kit_name),
        counted=f"{count(kit.frames, 'frame')}, {count(kit.encounters, 'encounter')}",
        loss=loss,
        in_focus=losses.change_of_100(loss.loss, short=True) if loss else NOT_COMPARED,
        between=_between(answer, loss),
        iso=iso,
        over=over,
        detail=detail,
        detail_between=detail_between,
        answer=_answer(answer),
    )


def _between(answer: KitAnswer, loss: Loss | None) -> str:
    if loss is not None:
        ends = losses.range_of_100(loss.low, loss.high)
        return f"{'likely ' if loss.likely else ''}between {ends}"
    if answer.comparison is None:
        return "no bare frames"
    hits = answer.comparison.hits
    return f"{count(hits.clusters_treated, 'encounter')} against {hits.clusters_bare} bare"


def _iso(kit: KitRow) -> tuple[str, str]:
    if kit.shutter_gave_way and kit.median_forced_push_ev and kit.median_exposure_time_s:
        paid_s = kit.median_exposure_time_s
        bare_s = paid_s / 2**kit.median_forced_push_ev
        bare, paid = (values.typical_exposure_time(time_s) for time_s in (bare_s, paid_s))
        return f"{bare} → {paid}", "shutter: ISO set by hand"
    if not kit.median_forced_push_ev or kit.median_iso is None or kit.median_iso_without_converter is None:
        return values.NOT_KNOWN, ""
    bare, paid = (values.typical_iso(iso) for iso in (kit.median_iso_without_converter, kit.median_iso))
    over = f"{count(kit.iso_pushed_frames, 'frame')} over your ceiling" if kit.iso_pushed_frames else ""
    return f"{bare} → {paid}", over


def _detail(detail: DetailCompared | None) -> tuple[str, str]:
    if detail is None or detail.outcome is DetailOutcome.NOT_ENOUGH_EVIDENCE:
        return NOT_COMPARED, ""
    if detail.gain is None or detail.low is None or detail.high is None:
        return NOT_COMPARED, ""
    ends = values.finer_interval(detail.low, detail.high)
    word = {
        DetailOutcome.GAIN: values.finer(detail.gain),
        DetailOutcome.NO_GAIN: "none gained",
    }.get(detail.outcome, "not settled")
    return word, ends


def _answer(answer: KitAnswer) -> str:
    """Its own answer in at most six words, no firmer than the outcome."""
    if losses.unmetered(answer.kit):
        return "exposed by hand: not compared"
    if answer.advice is not Advice.NOT_SETTLED or answer.comparison is None:
        return SHORT[answer.advice]
    if answer.comparison.hits.outcome is FocusOutcome.FEWER_HITS:
        return "fewer in focus, perhaps from distance"
    claim = claim_of(answer)
    if claim is None or claim.word == "not settled":
        return SHORT[Advice.NOT_SETTLED]
    return f"{claim.word} {'over' if claim.more else 'under'} {100 * claim.loss:.0f} lost"
