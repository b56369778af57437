"""The hits that a converter costs, in words with fixed ranges and their numbers.

Frames are counted of 100; "probably" is 80 to 95 %, "almost surely" 95 % and more.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from auditor.report.text import values
from auditor.report.text.values import count
from auditor.words import FocusOutcome

if TYPE_CHECKING:
    from auditor.analysis.compared import Comparison
    from auditor.analysis.kit_table import KitRow
    from auditor.analysis.losses import TripPart
    from auditor.analysis.trips import Added
    from auditor.statistics.answer import Answer
    from auditor.statistics.likely_loss import Claim

LEAST_LENT = 0.005
"""What other kits lend is not mentioned below half a frame of 100."""
UNMETERED_SHARE = 0.2
AS_MANY = "as many"
OPEN = (FocusOutcome.INCONCLUSIVE, FocusOutcome.NOT_ENOUGH_EVIDENCE)


def expected(answer: Answer) -> str:
    """The most likely loss, the range around it and how sure that is: "9 fewer of 100 in focus"."""
    likely = answer.likely
    lost = round(100 * likely.loss)
    sentence = "About as many in focus as bare"
    if abs(lost) > 1:
        sentence = f"Most likely {change_of_100(likely.loss, short=True)} of 100 in focus than bare"
    sentence += f" (likely between {range_of_100(likely.low, likely.high)} of 100)"
    claims = [_claim(claim) for claim in answer.claims]
    return f"{sentence}; {' and '.join(claims)}" if claims else sentence


def side_by_side(answer: Answer) -> str:
    """Rates of both kits over the same light and animals: "61 of 100 in focus with it, 70 bare".

    One decimal where whole numbers would lie a frame nearer or farther apart than the loss beside them.
    """
    apart = round(100 * answer.rate_bare) - round(100 * answer.rate)
    decimals = 0 if apart == round(100 * answer.loss) else 1
    return (
        f"over the same light and animals {100 * answer.rate:.{decimals}f} of 100 in focus with it, "
        f"{100 * answer.rate_bare:.{decimals}f} bare"
    )


def sentences(row: Comparison) -> list[str]:
    """All that the record says about a kit's hits, a sentence each; empty where no model was fitted."""
    answer = row.hits.answer
    if answer is None:
        return []
    parts = [
        f"{expected(answer)}.",
        f"As measured, {side_by_side(answer)}.",
        to_settle(row),
        hidden_distance(answer),
    ]
    if abs(answer.lent) >= LEAST_LENT:
        way = "up" if answer.lent > 0 else "down"
        parts.append(
            f"Your other kits of this factor or lens moved the most likely loss {way} by "
            f"{100 * abs(answer.lent):.0f} of 100."
        )
    if row.disagree and row.matched is not None and row.matched.difference is not None:
        parts.append(
            f"Encounters matched one by one say otherwise ({values.points(row.matched.difference)}): "
            "take this with care."
        )
    if row.trip is not None:
        parts.append(this_trip(row.trip, answer))
    return [sentence for sentence in parts if sentence]


def to_settle(row: Comparison) -> str:
    """What would settle an open question; empty where it is settled."""
    answer = row.hits.answer
    if answer is None or row.hits.outcome not in OPEN:
        return ""
    if answer.encounters_to_settle is None:
        return "Its loss lies so near to 10 of 100 or to none that more trips would hardly settle it."
    sentence = f"About {count(answer.encounters_to_settle, 'more encounter')} with it would settle it"
    if answer.useful_light_ev is not None:
        low, high = answer.useful_light_ev
        where = f"at {low:.0f} EV" if low == high else f"between {low:.0f} and {high:.0f} EV"
        sentence += f", most useful {where}"
    return f"{sentence}; animals with both kits on each count for more."


def unmetered(kit: KitRow) -> str:
    """Why frames exposed by hand are not compared, and what to say; empty where they are few."""
    if kit.unmetered_frames < UNMETERED_SHARE * kit.frames:
        return ""
    return (
        f"{count(kit.unmetered_frames, 'frame')} with it were exposed by hand: their light is not known, so "
        "they are not compared. If ISO was left to the body, say so: auditor declare body --auto-iso."
    )


def hidden_distance(answer: Answer) -> str:
    """What farther animals would have done; empty where distance is adjusted for, or nothing is lost."""
    hidden = answer.hidden
    if hidden is None or answer.loss <= 0:
        return ""
    return (
        f"Distance is known for too few encounters: animals {hidden.times_as_far:.1f} times as far with it "
        f"would explain this, if twice as far halves the odds of a hit (E-value {hidden.e_value:.1f})."
    )


def this_trip(part: TripPart, answer: Answer) -> str:
    """What one trip added: "This trip: 4 animals with both kits; its loss is now 21 of 100 (was 18)"."""
    if part.encounters_both:
        sentence = f"This trip: {count(part.encounters_both, 'encounter')} with both kits"
    else:
        sentence = f"This trip: {count(part.encounters, 'encounter')} with it and {part.encounters_bare} bare"
    now, before = change_of_100(answer.likely.loss), part.most_likely_before
    if before is None:
        sentence += f"; most likely now {now}"
    elif change_of_100(before) == now:
        sentence += f"; most likely still {now}"
    else:
        sentence += f"; most likely now {now} (was {change_of_100(before, short=True)})"
    if part.differs and part.loss is not None:
        sentence += f". By itself it differs from the rest beyond chance: {change_of_100(part.loss)}"
    return f"{sentence}."


def what_it_added(added: Added) -> str:
    """A trip in a few words, as the trips are listed.

    "4 animals with both kits: now 21 fewer of 100 in focus with the 2x (likely 17 to 26 fewer)".
    """
    converter = "a converter" if added.factor is None else f"the {added.factor:g}x"
    if added.encounters_both:
        met, of = f"{count(added.encounters_both, 'animal')} with both kits", f" with {converter}"
    else:
        met, of = f"{count(added.encounters, 'animal')} with {converter}", ""
    loss, loss_before = added.most_likely, added.most_likely_before
    now = change_of_100(loss, short=True)
    before = None if loss_before is None else change_of_100(loss_before, short=True)
    likely = range_of_100(added.low, added.high).replace(" and ", " to ")
    still = "still" if now == before else "now"
    as_bare = "" if of else " as bare"
    many = f"{now} in focus{as_bare}" if now == AS_MANY else f"{now} of 100 in focus"
    line = f"{met}: {still} {many}{of} (likely {likely})"
    return line if before in (None, now) else f"{line}, {before} before"


def change_of_100(loss: float, *, short: bool = False) -> str:
    """A loss as frames of 100: "9 fewer frames of 100", "as many in focus"; in short "9 fewer", "as many"."""
    lost = round(100 * loss)
    if lost == 0:
        return AS_MANY if short else f"{AS_MANY} in focus"
    way = "fewer" if lost > 0 else "more"
    return f"{abs(lost)} {way}" if short else f"{count(abs(lost), f'{way} frame')} of 100"


def of_100(loss: float) -> str:
    """A loss as so many of 100 frames: "24 of 100 frames"."""
    return f"{round(100 * loss)} of 100 frames"


def range_of_100(low: float, high: float) -> str:
    """The ends of a loss, read after "between": "4 and 15 fewer", "3 more and 9 fewer"."""
    ends = [round(100 * end) for end in (low, high)]
    if ends[0] >= 0:
        return f"{ends[0]} and {ends[1]} fewer"
    if ends[1] <= 0:
        return f"{-ends[1]} and {-ends[0]} more"
    return f"{-ends[0]} more and {ends[1]} fewer"


def signed_of_100(loss: float, low: float, high: float) -> str:
    """A loss and its ends as a table writes them, where a minus is frames lost: "-22 (-26 to -17)"."""
    return f"{values.signed(-loss)} ({values.points_interval(-high, -low)})"


def _claim(claim: Claim) -> str:
    way = "more" if claim.more else "fewer"
    chance = "over 99 %" if claim.probability > 0.99 else values.percent(claim.probability)
    return f"{claim.word} {way} than {100 * claim.loss:.0f} lost ({chance})"
