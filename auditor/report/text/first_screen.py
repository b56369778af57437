"""The first screen: the answer of the record as a heading, the trip's part in it, and what is open.

A sentence is never stronger than its evidence, and every comparison is between like conditions.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from auditor.analysis.answers import KitAnswer
from auditor.report.text import losses, values
from auditor.report.text.ledger import LedgerLine, by_loss, claim_of, converter_names, ledger, loss_of
from auditor.report.text.outcomes import no_rate
from auditor.report.text.values import count
from auditor.words import DetailOutcome, FocusOutcome

MOST_NAMED = 3
"""Kits that one sentence names; the ledger has them all."""
LONGEST_NAMES = 60
"""Letters that the names of kits may take in the heading before their converter stands for them."""
MOST_LETTERS = 100
"""A third is named where the three are no longer than this, so that a sentence has at most three lines."""
MOST_SENTENCES = 2
LITTLE_MOVED = 1
"""Frames of 100: less than the reading of one encounter more or less does."""
LITTLE = 0.1
"""That a loss stays under more than this, as a share, is no answer: a lot could be lost yet."""
SURE = "almost surely"
"""That a loss probably stays under something is no heading either: one time in five it does not."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstScreen:
    """What the page and the terminal begin with."""

    heading: str
    below: str
    """The trip's part in the answer, or what was got where nothing can be compared; may be empty."""
    lines: list[LedgerLine]
    of_trip: bool
    """Whether the counts of the lines are of the trip alone, where the losses are of the record."""
    to_settle: str
    """What would settle the open ones; may be empty."""


def first_screen(answers: Sequence[KitAnswer]) -> FirstScreen:
    """The answer on the kits of a trip, or of all: what to mount, what it cost, and how sure that is."""
    names = converter_names(answers)
    converted = sorted((answer for answer in answers if answer.kit.converted), key=by_loss)
    return FirstScreen(
        heading=_heading(answers, converted, names),
        below=_trip_part(converted, names) if converted else _rates(answers),
        lines=ledger(answers),
        of_trip=any(answer.comparison is not None and answer.comparison.trip for answer in converted),
        to_settle=_to_settle(converted, names),
    )


def _heading(answers: Sequence[KitAnswer], converted: Sequence[KitAnswer], names: dict[int, str]) -> str:
    if not converted:
        return _no_converter(answers)
    if all(answer.comparison is None for answer in converted):
        return f"Nothing to compare with yet: no bare frames beside {_named(converted, names)}."
    groups: dict[tuple[int, str], list[KitAnswer]] = {}
    for answer in converted:
        if (ranked_template := _ranked_sentence(answer)) is not None:
            groups.setdefault(ranked_template, []).append(answer)
    if not groups:
        return _cannot_say(converted, names)
    if len(converted) > 1 and len(next(iter(groups.values()))) == len(converted):
        (_rank, template), *_ = groups
        if template == _LEAVE_OFF:
            return _all_off(converted)
    sentences = [
        _sentence(template, group, converted, names)
        for (_rank, template), group in sorted(groups.items(), key=lambda item: item[0][0])
    ]
    return " ".join(sentences[:MOST_SENTENCES])


_LEAVE_OFF = "Leave {names} off and crop."
_FELL = {
    DetailOutcome.NO_GAIN: "Leave {names} off and crop: {they} lost {lost}.",
    DetailOutcome.INCONCLUSIVE: "Leave {names} off for now: {they} lost {lost}.",
    DetailOutcome.NOT_ENOUGH_EVIDENCE: "{Names} lost {lost}, and nothing says yet that {they} showed more.",
    DetailOutcome.GAIN: "{Names} showed more but lost {lost}: for animals that hold still.",
}
_PAID = "{Names} paid: finer detail, and little focus lost."
_LITTLE_COST = {
    DetailOutcome.INCONCLUSIVE: (
        "{Names} cost little focus; whether {they} showed more than a crop is not settled."
    ),
    DetailOutcome.NOT_ENOUGH_EVIDENCE: "{Names} cost little focus.",
}
"""What to mount, what it cost and what it brought, by what is known of its detail."""


def _ranked_sentence(answer: KitAnswer) -> tuple[int, str] | None:
    """What is said of a kit, with its place among the others: firm words first, losses before gains."""
    if answer.comparison is None or losses.unmetered(answer.kit):
        return None
    hits, detail = answer.comparison.hits, answer.comparison.detail.outcome
    if hits.outcome is FocusOutcome.FELL:
        return 0, _FELL[detail]
    if detail is DetailOutcome.NO_GAIN:
        if hits.outcome is FocusOutcome.NO_FALL:
            return 2, "{Names} cost little focus, but a crop shows as much."
        return 1, _LEAVE_OFF
    if hits.outcome is FocusOutcome.NO_FALL:
        return 3, _PAID if detail is DetailOutcome.GAIN else _LITTLE_COST[detail]
    if hits.outcome is FocusOutcome.FEWER_HITS:
        return 4, "Fewer frames in focus with {names}: distance may be why."
    if detail is DetailOutcome.GAIN:
        return 5, "{Names} showed more; what that costs in focus is not settled."
    claim = claim_of(answer)
    if claim is None or claim.word == "not settled":
        return None
    if not claim.more and (claim.loss > LITTLE or claim.word != SURE):
        return None
    rank, way = (6, "more than") if claim.more else (7, "under")
    return rank, f"{{Names}} {claim.word} lost {way} {100 * claim.loss:.0f} of 100 frames."


def _sentence(
    template: str, group: Sequence[KitAnswer], converted: Sequence[KitAnswer], names: dict[int, str]
) -> str:
    named, single = _named(group, names), len(group) == 1
    if len(group) > MOST_NAMED or (not single and len(named) > LONGEST_NAMES):
        named = _by_factor(group, converted)
    return template.format(
        names=named,
        Names=_begun(named),
        they="it" if single else "they",
        lost=_lost(group),
    )


def _by_factor(group: Sequence[KitAnswer], converted: Sequence[KitAnswer]) -> str:
    """Kits that are many or have long names, by what they share: "the 2x (3 of 4 kits)"."""
    factors = {answer.kit.converter_factor for answer in group}
    if len(factors) > 1:
        return f"{len(group)} converter kits"
    (factor,) = factors
    alike = sum(answer.kit.converter_factor == factor for answer in converted)
    return f"the {factor:g}x ({len(group)} of {alike} kits)"


def _lost(group: Sequence[KitAnswer]) -> str:
    """What kits lost, in their order: "21 and 18 of 100 frames"; of many from the most to the least."""
    losses_of_100 = [round(100 * loss.loss) for answer in group if (loss := loss_of(answer)) is not None]
    if not losses_of_100:
        return "frames"
    if len(losses_of_100) > MOST_NAMED:
        return f"{max(losses_of_100)} to {min(losses_of_100)} of 100 frames"
    return f"{values.listed([str(number) for number in losses_of_100])} of 100 frames"


def _named(group: Sequence[KitAnswer], names: dict[int, str]) -> str:
    if len(group) > MOST_NAMED:
        return f"{len(group)} converter kits"
    return values.listed([names[answer.kit_id] for answer in group])


def _begun(text: str) -> str:
    return f"T{text[1:]}" if text.startswith("the ") else text


def _all_off(converted: Sequence[KitAnswer]) -> str:
    bare = {answer.comparison.bare_kit_name for answer in converted if answer.comparison is not None}
    where = f" {values.shortened(bare.pop(), 60)}" if len(bare) == 1 else ""
    return f"Leave the converters off{where} and crop."


def _cannot_say(converted: Sequence[KitAnswer], names: dict[int, str]) -> str:
    needed = [
        (answer.comparison.hits.answer.encounters_to_settle, answer)
        for answer in converted
        if answer.comparison is not None
        and answer.comparison.hits.answer is not None
        and answer.comparison.hits.outcome in losses.OPEN
        and answer.comparison.hits.answer.encounters_to_settle is not None
    ]
    if not needed:
        return "These frames cannot say yet what to mount."
    number, answer = min(needed, key=lambda item: item[0] or 0)
    return (
        f"These frames cannot say yet: about {count(number or 0, 'more encounter')} with "
        f"{names[answer.kit_id]} would."
    )


def _no_converter(answers: Sequence[KitAnswer]) -> str:
    if not answers:
        return "No frames, so no answer."
    known = all(answer.kit.converter_factor is not None for answer in answers)
    if len(answers) == 1:
        used = "no file names a converter" if known else "whether a converter was on is not known"
        return f"One kit, and {used}: there is nothing to compare."
    told = "No file names a converter" if known else "No converter is known to have been on"
    return f"{told}: there is nothing to compare."


def _rates(answers: Sequence[KitAnswer]) -> str:
    """What the most used kits got, where there is nothing to compare."""
    used = sorted(answers, key=lambda answer: (-answer.kit.frames, answer.kit_name))
    return " ".join(_rate(answer) for answer in used[:MOST_NAMED])


def _rate(answer: KitAnswer) -> str:
    kit, name = answer.kit, values.shortened(answer.kit_name, 60)
    if kit.hit_rate is not None and kit.hit_rate_frames is not None:
        return (
            f"{name}: {values.percent(kit.hit_rate)} of {count(kit.hit_rate_frames, 'frame')} in focus (95 % "
            f"interval {values.interval(kit.hit_rate_low, kit.hit_rate_high)})."
        )
    why = no_rate(kit) or "no rate"
    if kit.judged:
        return f"{name}: {kit.hits:,} of {count(kit.judged, 'frame')} in focus ({why})."
    return f"{name}: {count(kit.frames, 'frame')}; {why}."


def _trip_part(converted: Sequence[KitAnswer], names: dict[int, str]) -> str:
    """What the trip that is looked at did to the answer of the record, in one sentence."""
    moved: list[tuple[float, str]] = []
    newly_used, differing, added = [], [], False
    for answer in converted:
        row, name = answer.comparison, names[answer.kit_id]
        if row is None or row.trip is None or row.hits.answer is None:
            continue
        added = True
        if row.trip.most_likely_before is None:
            newly_used.append(values.shortened(answer.kit_name, 60))  # "the 2x" may have been on another body
        elif change := _moved(row.hits.answer.likely.loss, row.trip.most_likely_before):
            by = abs(row.hits.answer.likely.loss - row.trip.most_likely_before)
            moved.append((-by, f"{name} from {change}"))
        if row.trip.differs:
            differing.append(answer)
    parts = []
    if moved:
        parts.append(f"This trip moved {_some([text for _by, text in sorted(moved)])} of 100 in focus")
    elif added and not newly_used:
        parts.append("This trip changed little of that")
    if len(newly_used) == len(converted) > 1:
        parts.append("This trip was the first with any of them")
    elif newly_used:
        parts.append(f"{'it' if parts else 'This trip'} was the first with {_some(newly_used)}")
    if differing:
        which = "that" if len(moved) == len(differing) == 1 else f"with {_named(differing, names)} it"
        parts.append(f"{which} differs from the rest beyond chance")
    return f"{'; '.join(parts)}." if parts else ""


def _moved(now: float, before: float) -> str:
    """What a trip did to the most likely loss: "18 fewer to 21 fewer"; empty where that is next to none."""
    if abs(round(100 * now) - round(100 * before)) <= LITTLE_MOVED:
        return ""
    return f"{losses.change_of_100(before, short=True)} to {losses.change_of_100(now, short=True)}"


def _to_settle(converted: Sequence[KitAnswer], names: dict[int, str]) -> str:
    """One sentence on what would settle the open ones; and one on frames whose light is not known."""
    needed: list[tuple[int, str]] = []
    near, alone = [], []
    for answer in converted:
        row, name = answer.comparison, names[answer.kit_id]
        if losses.unmetered(answer.kit):
            continue
        if row is None or (row.hits.answer is None and row.hits.outcome in losses.OPEN):
            alone.append(name)
        elif row.hits.answer is not None and row.hits.outcome in losses.OPEN:
            number = row.hits.answer.encounters_to_settle
            if number is None:
                near.append(name)
            else:
                needed.append((number, f"{name} (about {count(number, 'more encounter')})"))
    sentences = []
    if needed:
        soonest = [text for _number, text in sorted(needed, key=lambda item: item[0])]
        both = "Animals photographed with the converter and without count for more."
        sentences.append(f"Focus not settled yet: {_some(soonest)}. {both}")
    if near:
        sentences.append(f"{_begun(_some(near))}: so near the limit that more trips would hardly settle it.")
    if alone:
        sentences.append(
            f"For {_some(alone)}, photograph the same animals in the same light with a converter and without."
        )
    by_hand = [text for answer in converted if (text := losses.unmetered(answer.kit))]
    return " ".join([*sentences, *by_hand[:1]])


def _some(parts: Sequence[str]) -> str:
    short = sum(map(len, parts[:MOST_NAMED])) <= MOST_LETTERS
    most = MOST_NAMED if short else MOST_NAMED - 1
    if len(parts) > most:
        others = len(parts) - most
        return f"{', '.join(parts[:most])} and {others} {'other' if others == 1 else 'others'}"
    return values.listed(list(parts))
