"""Kits compared: with the bare lens, with a smaller sensor, and within a trip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditor.analysis.answers import KitAnswer
from auditor.analysis.changes import Change
from auditor.analysis.compared import Alternative, Comparison, DetailCompared, HitsCompared
from auditor.analysis.optics import ExpectedGain
from auditor.report.text import losses, values
from auditor.report.text.outcomes import DETAIL, FOCUS
from auditor.report.text.values import count
from auditor.words import DetailOutcome, FocusOutcome, KitFlag

FEWEST = 3
"""With fewer encounters or scenes of either kit only counts are shown."""
DETAIL_NOTE = (
    "Detail is compared in the light that the kits share, where they share enough; it is not adjusted for "
    "shutter speed or distance."
)
_ADJUSTMENTS = {
    "subject size": "distance",
    "the animal's own size": "the animal's size",
    "distance to the subject": "its distance",
}
"""What a metre measures in the picture follows from distance alone, and is called that."""


def comparison(row: Comparison) -> list[str]:
    """A kit against its bare kit: a line on focus and one on detail, with their intervals and counts."""
    kit = values.plain(row.kit_name)
    hits = row.hits
    focus = f"{kit}, focus: {FOCUS[hits.outcome]}"
    if _enough_to_show(hits):
        focus += f", {_difference(hits)}"
    encounters = f"{count(hits.clusters_treated, 'encounter')} against {hits.clusters_bare} bare"
    focus += f". {encounters}, {adjusted_for(hits)}."
    focus = " ".join((focus, *losses.sentences(row)))
    if row.deleted.turned:
        focus += f" {deleted_would_change(row)}"
    at_shutter = row.at_equal_shutter
    if at_shutter.outcome is not FocusOutcome.NOT_ENOUGH_EVIDENCE:
        focus += f" At equal shutter speed: {FOCUS[at_shutter.outcome]}, {_difference(at_shutter)}."
    detail = f"{kit}, detail of sharp frames: {DETAIL[row.detail.outcome]}"
    shown = row.detail.outcome is not DetailOutcome.NOT_ENOUGH_EVIDENCE
    if shown:
        detail += f", {gained(row.detail)}"
    detail += f". {count(row.detail.scenes, 'scene')} against {row.detail.scenes_bare} bare."
    if shown and row.detail_got is not None:
        detail += f" {got_over_all(row.detail_got)}"
    return [focus, " ".join((detail, by_optics(row.optics))).strip()]


def beside(row: Comparison) -> list[str]:
    """What stands beside the comparison: at equal shutter speed, and what was got over all frames."""
    sentences = []
    if row.at_equal_shutter.outcome is not FocusOutcome.NOT_ENOUGH_EVIDENCE:
        outcome = FOCUS[row.at_equal_shutter.outcome]
        sentences.append(f"At equal shutter speed: {outcome}, {_difference(row.at_equal_shutter)}.")
    if row.detail.outcome is not DetailOutcome.NOT_ENOUGH_EVIDENCE and row.detail_got is not None:
        sentences.append(got_over_all(row.detail_got))
    return sentences


def alternative(row: Alternative) -> str:
    """A kit with a converter against a smaller sensor that frames alike."""
    hits, detail = row.hits, row.detail
    kit, other_kit = values.plain(row.kit_name), values.plain(row.other_kit_name)
    sentence = f"{kit} against {other_kit}, which frames alike. "
    sentence += f"Focus: {FOCUS[hits.outcome].replace('bare', 'with the smaller sensor')}"
    if _enough_to_show(hits):
        sentence += f", {_difference(hits)}, {adjusted_for(hits)}"
    sentence += f". Detail: {DETAIL[detail.outcome]}"
    if detail.low is not None and min(detail.scenes, detail.scenes_bare) >= FEWEST:
        sentence += f", {gained(detail)}"
    sentence += "."
    if detail.noise_on_subject and detail.noise_on_subject_bare:
        times = detail.noise_on_subject / detail.noise_on_subject_bare
        sentence += f" Noise on the animal: {times:.1f} times that of the smaller sensor."
    return sentence


def _chance(p_value: float) -> str:
    """A p value with two decimals, never shown as 0.00."""
    return "p below 0.01" if p_value < 0.005 else f"p = {p_value:.2f}"


def changes(rows: Sequence[Change]) -> list[str]:
    """A line a kit that was searched for a stretch of fewer hits; one line where none could be."""
    return [_change(row) for row in rows] or [
        "No kit has the 8 encounters, with hits and misses among them, that it takes to see a change."
    ]


def _change(row: Change) -> str:
    """Whether a kit's hits fell; its lowest stretch only where that is lower as counted too."""
    lowest = (
        f"lowest from {values.moment(row.from_at)}: {values.percent(row.rate_inside)} against "
        f"{values.percent(row.rate_outside)} in the rest of the trip; "
    )
    return (
        f"{values.plain(row.kit_name)}: {'fewer in focus' if row.fell else 'no fall beyond chance'} "
        f"({lowest if row.fell or row.rate_inside < row.rate_outside else ''}{_chance(row.p_value)}; "
        f"{count(row.encounters, 'encounter')})."
    )


def kit_flags(answers: Sequence[KitAnswer]) -> list[dict[str, str]]:
    """A row a flag on a kit, by flag and then by kit: kit_name, flag, reason in words and numbers."""
    return [
        {"kit_name": answer.kit_name, "flag": str(flag), "reason": reason}
        for kind in KitFlag
        for answer in answers
        for flag, reason in reasons(answer)
        if flag is kind
    ]


def reasons(answer: KitAnswer) -> Iterator[tuple[KitFlag, str]]:
    """Each flag on a kit, and why it has it in words and numbers."""
    comparison, change = answer.comparison, answer.change
    if comparison is not None and KitFlag.HIT_RATE_FELL in answer.flags:
        yield KitFlag.HIT_RATE_FELL, _fell(comparison.hits)
    if comparison is not None and KitFlag.NO_DETAIL_GAIN in answer.flags:
        yield KitFlag.NO_DETAIL_GAIN, _no_gain(comparison.detail)
    if change is not None and KitFlag.FELL_DURING_TRIP in answer.flags:
        yield KitFlag.FELL_DURING_TRIP, _fell_during(change)


def adjusted_for(hits: HitsCompared) -> str:
    """What a comparison of hits was adjusted for, and what not."""
    done, left = (
        [_ADJUSTMENTS.get(word, word) for word in words]
        for words in (hits.adjusted_for, hits.not_adjusted_for)
    )
    words = f"adjusted for {values.listed(done)}"
    return f"{words}, not for {values.listed(left, last='or')}" if left else words


def detail_adjusted_for(detail: DetailCompared) -> str:
    """What a comparison of detail was adjusted for, and what not."""
    if detail.alike_in_light:
        return "matched on light; not adjusted for shutter speed or distance"
    return "as the kits were used: not adjusted for light, shutter speed or distance"


def deleted_would_change(row: Comparison) -> str:
    """That frames deleted in camera could turn the outcome."""
    deleted = row.deleted
    return (
        f"{count(deleted.frames, 'frame')} with it and {deleted.frames_bare} bare may have been deleted in "
        "camera: counting them as misses would change this result."
    )


def got_over_all(detail: DetailCompared) -> str:
    """What was got over all frames, misses included: no reason to crop."""
    if detail.gain is None:
        return ""
    return f"Over all frames, misses included: {gained(detail)}."


def gained(detail: DetailCompared) -> str:
    """The gain of a comparison of detail with its interval."""
    if detail.gain is None or detail.low is None or detail.high is None:
        return "no interval"
    ends = values.finer_interval(detail.low, detail.high)
    return f"{values.finer(detail.gain)} (95 % interval {ends})"


def by_optics(optics: ExpectedGain | None) -> str:
    """What optics expect, apart from the photographer's own record; empty where nothing is expected."""
    if optics is None:
        return ""
    return (
        "By optics alone, not your record: a perfect converter would typically be "
        f"{values.finer(optics.gain_excellent_lens)} behind a very good lens, "
        f"{values.finer(optics.gain_soft_lens)} behind a soft one; a real one has blur of its own."
    )


def _enough_to_show(hits: HitsCompared) -> bool:
    return hits.difference is not None and min(hits.clusters_treated, hits.clusters_bare) >= FEWEST


def _difference(hits: HitsCompared) -> str:
    if hits.difference is None or hits.low is None or hits.high is None:
        return "nothing to compare"
    return f"{values.points(hits.difference)} (95 % interval {values.points_interval(hits.low, hits.high)})"


def _fell(hits: HitsCompared) -> str:
    return (
        f"{_difference(hits)} against bare, {adjusted_for(hits)}; "
        f"{count(hits.clusters_treated, 'encounter')} against {hits.clusters_bare}"
    )


def _no_gain(detail: DetailCompared) -> str:
    return (
        f"{gained(detail)}; {count(detail.scenes, 'scene')} against "
        f"{detail.scenes_bare}; {detail_adjusted_for(detail)}"
    )


def _fell_during(change: Change) -> str:
    until = "the end of the trip" if change.until_at is None else values.moment(change.until_at)
    either_side = " and ".join(
        values.plain(name or "a frame whose file has gone")
        for name in (change.last_before, change.first_inside)
    )
    return (
        f"{values.percent(change.rate_inside)} in focus from {values.moment(change.from_at)} to {until}, "
        f"{values.percent(change.rate_outside)} in the rest of the trip (p = {change.p_value:.3f}; "
        f"{count(change.encounters, 'encounter')}). Look at {either_side}, the frames on either side. "
        "Adjusted for light only: other animals can be the cause"
    )
