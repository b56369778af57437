"""The first screen: what the frames say of each kit, in plain sentences with their numbers.

A sentence is never stronger than its evidence, and every comparison is between like conditions.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from auditor.analysis.answers import KitAnswer
from auditor.analysis.comparisons import Comparison
from auditor.analysis.kit_table import KitRow
from auditor.report.text import comparisons, losses, values
from auditor.report.text.outcomes import no_rate
from auditor.report.text.values import count
from auditor.words import DetailOutcome, FocusOutcome

MOST = 5
"""Sentences, unless more than these are settled: nothing settled is dropped."""


def first_screen(answers: Sequence[KitAnswer]) -> list[str]:
    """Sentences about the kits: what is settled, the largest loss first; then what is not; then the cost."""
    compared = [answer for answer in answers if answer.comparison is not None]
    settled = sorted(
        (
            (weight, answer.kit_name, text)
            for answer in compared
            if answer.comparison is not None
            for weight, text in _settled(answer.comparison)
        ),
        key=lambda entry: entry[:2],
    )
    told = [text for _weight, _name, text in settled]
    if compared and not settled and not any(_is_graded(answer) for answer in compared):
        told.append(_nothing_settled([answer.comparison for answer in compared if answer.comparison]))
    settled_names = {name for _weight, name, _text in settled}
    open_kits = [answer for answer in _most_used(answers) if answer.kit_name not in settled_names]
    converted = [answer for answer in open_kits if answer.kit.converted]
    told += [_open(answer) for answer in converted][: max(0, MOST - 1 - len(told))]
    if not any(answer.kit.converted for answer in answers):
        told += [_rate(answer.kit) for answer in open_kits][: max(0, MOST - len(told))]
    costs = [
        _cost(answer.kit) for answer in _most_used(answers) if answer.kit.converted and _has_cost(answer.kit)
    ]
    return told + costs[: max(0, MOST - len(told))]


def _settled(row: Comparison) -> Iterable[tuple[tuple[int, float], str]]:
    """What a comparison settles, with its place among others: losses first, the largest at the top."""
    kit, bare = values.plain(row.kit_name), values.plain(row.bare_kit_name)
    hits, detail = row.hits, row.detail
    likely = hits.answer.likely if hits.answer is not None else None
    gained = f"{comparisons.gained(detail)}; {count(detail.scenes, 'scene')} against {detail.scenes_bare}"
    if hits.outcome is FocusOutcome.FELL and hits.difference is not None and hits.low is not None:
        lost = -likely.loss if likely is not None else hits.difference
        ends = (
            f"80 % range {losses.range_of_100(likely.low, likely.high)}"
            if likely is not None
            else f"95 % interval {values.fewer(hits.high or 0.0)} to {values.fewer(hits.low)} fewer"
        )
        yield (
            (0, lost),
            (
                f"Mount {bare} bare where focus matters most: with {kit}, {values.fewer(lost)} "
                f"fewer frames of 100 were in focus in like light ({ends}; "
                f"{count(hits.clusters_treated, 'encounter')} against {hits.clusters_bare})."
            ),
        )
    elif detail.outcome is DetailOutcome.GAIN and hits.outcome is FocusOutcome.NO_FALL:
        yield (
            (1, -(detail.gain or 0.0)),
            (
                f"{kit} seems worth its cost: detail on the animal was {gained}, and the loss in focus was "
                "under 10 points in like light."
            ),
        )
    elif detail.outcome is DetailOutcome.GAIN:
        yield (
            (2, -(detail.gain or 0.0)),
            f"{kit} showed more of the animal: detail was {gained}. Whether it costs focus is not settled.",
        )
    elif detail.outcome is DetailOutcome.NO_GAIN:
        yield (
            (3, detail.gain or 0.0),
            (
                f"{kit} brought no finer detail worth having: {gained}; "
                f"{comparisons.detail_adjusted_for(detail)}. Unless you need it to aim, leave the converter "
                "off and crop."
            ),
        )


def _is_graded(answer: KitAnswer) -> bool:
    """Whether something can be said of its hits, firm or not."""
    compared = answer.comparison
    return compared is not None and compared.hits.answer is not None and bool(compared.hits.answer.claims)


def _nothing_settled(compared: Sequence[Comparison]) -> str:
    most = max(compared, key=lambda row: min(row.hits.clusters_treated, row.hits.clusters_bare)).hits
    return (
        f"These frames do not settle what to mount: at most {count(most.clusters_treated, 'encounter')} with "
        f"a converter could be compared with {most.clusters_bare} bare in like light. Mount by reach and "
        "light; more trips will tell."
    )


def _open(answer: KitAnswer) -> str:
    """A converter about which nothing is settled: like for like where that can be, else what it got."""
    row = answer.comparison
    name = values.plain(answer.kit_name)
    by_hand = losses.unmetered(answer.kit)
    if by_hand:
        return f"{_rate(answer.kit)} {by_hand}"
    if row is None:
        return f"{_rate(answer.kit)} There are no bare frames of this lens and body to compare it with."
    hits = row.hits
    if hits.answer is not None:
        told = f"{name}: most likely {losses.expected(hits.answer, ' against bare in the same light')}."
        return " ".join(part for part in (told, losses.to_settle(row)) if part)
    enough = min(hits.clusters_treated, hits.clusters_bare) >= comparisons.FEWEST
    if hits.difference is None or hits.low is None or hits.high is None or not enough:
        return f"{_rate(answer.kit)} Too few encounters in the light of the bare frames to compare."
    if hits.outcome is FocusOutcome.NO_FALL:
        return (
            f"{name}: no loss of more than 10 points in focus in like light "
            f"({values.points(hits.difference)}, 95 % interval "
            f"{values.points_interval(hits.low, hits.high)}); whether it shows more is not settled."
        )
    return (
        f"{name}: {values.points(hits.difference)} in focus against bare in like light (95 % interval "
        f"{values.points_interval(hits.low, hits.high)}); that settles nothing yet."
    )


def _rate(kit: KitRow) -> str:
    name = values.plain(kit.kit_name)
    if kit.hit_rate is not None and kit.hit_rate_frames is not None:
        return (
            f"{name}: {values.percent(kit.hit_rate)} of {count(kit.hit_rate_frames, 'frame')} in focus (95 % "
            f"interval {values.interval(kit.hit_rate_low, kit.hit_rate_high)})."
        )
    why = no_rate(kit) or ""
    if kit.judged:
        return f"{name}: {kit.hits:,} of {count(kit.judged, 'frame')} in focus ({why})."
    return f"{name}: {count(kit.frames, 'frame')}; {why}."


def _has_cost(kit: KitRow) -> bool:
    return bool(kit.median_forced_push_ev) and kit.median_iso is not None


def _cost(kit: KitRow) -> str:
    over = ""
    if kit.iso_pushed_frames:
        over = f" {count(kit.iso_pushed_frames, 'frame')} went over your ISO ceiling for it."
    return (
        f"{values.plain(kit.kit_name)} took {values.stops_counted(kit.median_forced_push_ev or 0.0)} of "
        f"light: median ISO {values.typical_iso(kit.median_iso)}, where bare up to "
        f"{values.typical_iso(kit.median_iso_without_converter)} would have done.{over}"
    )


def _most_used(answers: Iterable[KitAnswer]) -> list[KitAnswer]:
    return sorted(answers, key=lambda answer: (-answer.kit.frames, answer.kit_name))
