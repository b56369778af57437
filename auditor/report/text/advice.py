"""A paragraph a kit: what it got, what it cost, and what to do next time, no stronger than the numbers."""

from __future__ import annotations

from auditor.analysis.answers import KitAnswer
from auditor.analysis.changes import Change
from auditor.analysis.compared import Comparison, DetailCompared
from auditor.analysis.kit_table import KitRow
from auditor.report.text import comparisons, losses, values
from auditor.report.text.outcomes import ADVICE, DETAIL, FOCUS, no_rate
from auditor.report.text.values import count, percent
from auditor.statistics.shrinkage import shrunk
from auditor.words import DetailOutcome, FocusOutcome


def paragraph(answer: KitAnswer) -> str:
    """What a kit got, what it cost, how it compares, and what to do next time."""
    return " ".join(parts(answer))


def parts(answer: KitAnswer) -> list[str]:
    """The same sentence by sentence."""
    sentences = [*_got(answer.kit), *_cost(answer.kit)]
    if answer.comparison is not None:
        sentences += [
            *_hits(answer.comparison),
            losses.unmetered(answer.kit),
            _detail(answer.comparison.detail),
        ]
    sentences += [comparisons.by_optics(answer.optics), ADVICE[answer.advice]]
    if answer.change is not None and answer.change.fell:
        sentences.append(_fell_during(answer.change))
    return [part for part in sentences if part]


def _got(kit: KitRow) -> list[str]:
    if kit.hit_rate is not None and kit.hit_rate_frames is not None:
        return [
            f"{percent(kit.hit_rate)} of {count(kit.hit_rate_frames, 'frame')} in focus (95 % interval "
            f"{values.interval(kit.hit_rate_low, kit.hit_rate_high)}; {count(kit.encounters, 'encounter')}).",
            *bounds(kit),
        ]
    why = no_rate(kit) or ""
    if kit.judged:
        return [f"{kit.hits:,} of {count(kit.judged, 'frame')} in focus ({why})."]
    return [f"{count(kit.frames, 'frame')}; {why}."]


def bounds(kit: KitRow) -> list[str]:
    """What unclear and deleted frames could make of the rate."""
    sentences = []
    if kit.unclear:
        low, high = kit.hit_rate_if_unclear_missed, kit.hit_rate_if_unclear_hit
        same = percent(low) == percent(high)
        sentences.append(
            f"{count(kit.unclear, 'unclear frame')}: counted as misses or as hits, "
            f"{f'{percent(low)} either way' if same else values.interval(low, high)}."
        )
    if kit.deleted:
        sentences.append(
            f"{count(kit.deleted, 'frame')} may have been deleted in camera; counted as misses, "
            f"{percent(kit.hit_rate_if_deleted_missed)}."
        )
    if kit.numbers_of_several:
        sentences.append(
            "Its file numbers run back and forth, as where two bodies of one model record no serial number "
            "and name files alike: they count as one body, and what was deleted in camera cannot be told."
        )
    return sentences


def _cost(kit: KitRow) -> list[str]:
    sentences = []
    if kit.median_forced_push_ev and kit.shutter_gave_way and kit.median_exposure_time_s:
        bare_s = kit.median_exposure_time_s / 2**kit.median_forced_push_ev
        sentences.append(
            f"The converter took {values.stops_counted(kit.median_forced_push_ev)} of light. ISO was set by "
            f"hand, so the shutter gave way: {values.typical_exposure_time(kit.median_exposure_time_s)}, "
            f"where the bare lens would have allowed up to {values.typical_exposure_time(bare_s)} (medians)."
        )
    elif kit.median_forced_push_ev and kit.median_iso is not None:
        sentences.append(
            f"The converter took {values.stops_counted(kit.median_forced_push_ev)} of light: ISO "
            f"{values.typical_iso(kit.median_iso)}, where the bare lens would have needed up to "
            f"{values.typical_iso(kit.median_iso_without_converter)} (medians)."
        )
    if kit.iso_pushed_frames:
        sentences.append(
            f"{percent(kit.iso_pushed_share)} of its frames went over your ISO ceiling; the bare lens would "
            "have stayed under it."
        )
    if sentences and kit.auto_iso_at_limit_frames:
        sentences.append(
            f"In {count(kit.auto_iso_at_limit_frames, 'frame')} Auto-ISO was at its limit: there the cost "
            "was at least that."
        )
    if sentences and kit.near_reciprocal_frames and kit.shutter_for_reach_ev:
        sentences.append(
            f"The longer focal length needed a shutter {values.stops_counted(kit.shutter_for_reach_ev)} "
            f"faster in {count(kit.near_reciprocal_frames, 'frame')} near 1 / focal length."
        )
    return sentences


def _hits(row: Comparison) -> list[str]:
    hits = row.hits
    if hits.answer is not None:
        sentences = [
            f"Focus against the bare lens, {comparisons.adjusted_for(hits)}: {FOCUS[hits.outcome]}, "
            f"{values.points(hits.difference or 0.0)} (95 % interval "
            f"{values.points_interval(hits.low or 0.0, hits.high or 0.0)}; "
            f"{count(hits.clusters_treated, 'encounter')} against {hits.clusters_bare} bare).",
            *losses.sentences(row),
        ]
        if row.deleted.turned:
            sentences.append(comparisons.deleted_would_change(row))
        return sentences
    if (
        hits.outcome is FocusOutcome.NOT_ENOUGH_EVIDENCE
        or hits.difference is None
        or hits.low is None
        or hits.high is None
    ):
        text = (
            "Focus against the bare lens in like light: not enough evidence "
            f"({count(hits.clusters_treated, 'encounter')} against {hits.clusters_bare} bare)."
        )
    else:
        likely = shrunk(hits.difference, hits.low, hits.high)
        text = (
            f"Focus against the bare lens, {comparisons.adjusted_for(hits)}: {FOCUS[hits.outcome]}, "
            f"{values.points(hits.difference)} (95 % interval {values.points_interval(hits.low, hits.high)}; "
            f"likely nearer {values.signed(likely)})."
        )
    return [text, comparisons.deleted_would_change(row)] if row.deleted.turned else [text]


def _detail(detail: DetailCompared) -> str:
    if detail.outcome is DetailOutcome.NOT_ENOUGH_EVIDENCE or detail.low is None:
        return ""
    return (
        f"Detail of sharp frames against a crop of the bare one: {DETAIL[detail.outcome]}; "
        f"{comparisons.gained(detail)}; "
        f"{comparisons.detail_adjusted_for(detail)}."
    )


def _fell_during(change: Change) -> str:
    until = "on" if change.until_at is None else f"to {values.moment(change.until_at)}"
    return (
        f"From {values.moment(change.from_at)} {until} fewer of its frames were in focus "
        f"({percent(change.rate_inside)} against {percent(change.rate_outside)}): a knock, a setting, the "
        "air, or other animals. Adjusted for light only."
    )
