"""The loss of hits in words: fixed ranges, numbers of 100, and what would settle it."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from auditor.analysis.losses import TripPart
from auditor.report.text import losses, values
from auditor.statistics.answer import Answer, answers
from auditor.statistics.likely_loss import Kit
from auditor.words import FocusOutcome
from benchmarks.simulated_records import Distance, Photographer, record
from tests.report.made_answers import comparison, detail, hits
from tests.statistics.test_hit_model import arms_of


def an_answer(loss: float = 0.12, trips: int = 6, seed: int = 3, distance: Distance = "always") -> Answer:
    who = Photographer(loss=loss, distance=distance)
    drawn = arms_of(record(who, np.random.default_rng(seed), trips=trips))
    (found,) = answers([(Kit(factor=2.0, lens="a"), drawn)])
    assert found is not None
    return found


def told(answer: Answer, **changed: Any) -> str:
    of_hits = replace(hits(str(answer.word)), answer=answer)
    return " ".join(losses.sentences(replace(comparison(of_hits, detail()), **changed)))


def test_the_numbers_are_the_answers_own() -> None:
    answer = an_answer()
    text = told(answer)
    assert f"Most likely {round(100 * answer.likely.loss)} fewer of 100" in text
    assert losses.range_of_100(answer.likely.low, answer.likely.high) in text
    assert f"{100 * answer.rate:.0f} of 100 in focus with it, {100 * answer.rate_bare:.0f} bare" in text
    for claim in answer.claims:
        assert f"{claim.word} {'more' if claim.more else 'fewer'} than {100 * claim.loss:.0f}" in text


def test_rates_side_by_side_lie_as_far_apart_as_the_loss_beside_them() -> None:
    answer = replace(an_answer(), rate=0.7749, rate_bare=0.7551, loss=-0.0198)
    assert "77.5 of 100 in focus with it, 75.5 bare" in told(answer)  # beside "+2 points"
    near = replace(an_answer(), rate=0.7651, rate_bare=0.7749, loss=0.0098)
    assert "76.5 of 100 in focus with it, 77.5 bare" in told(near)  # beside "-1 point"
    rng = np.random.default_rng(1)
    for rate, rate_bare in rng.uniform(0.01, 0.99, (2000, 2)):
        text = losses.side_by_side(replace(answer, rate=rate, rate_bare=rate_bare, loss=rate_bare - rate))
        shown = [float(number) for number in re.findall(r"([\d.]+) (?:of 100 in focus|bare)", text)]
        assert abs(shown[0] - shown[1] - int(values.signed(rate - rate_bare))) < 0.501, text


def test_an_open_question_says_what_would_settle_it() -> None:
    answer = replace(an_answer(), word="inconclusive", encounters_to_settle=14, useful_light_ev=(9.0, 12.0))
    assert "About 14 more encounters with it would settle it, most useful between 9 and 12 EV" in told(answer)
    assert "would settle" not in told(replace(answer, word="fell"))


def test_where_no_distance_is_known_it_is_said_how_far_would_explain_it() -> None:
    answer = an_answer(0.25, 24, distance="never")
    assert answer.hidden is not None
    text = told(replace(answer, word="fewer hits"))
    assert f"{answer.hidden.times_as_far:.1f} times as far" in text
    # The same is said where a few encounters have one, too few to adjust for.
    assert "Distance is known for too few encounters" in text
    assert FocusOutcome.FEWER_HITS in ("fewer hits",)


@pytest.mark.parametrize(
    ("both", "text"),
    [(4, "This trip: 4 encounters with both kits;"), (0, "This trip: 7 encounters with it and 9 bare;")],
)
def test_a_trip_tells_what_it_changed(both: int, text: str) -> None:
    part = TripPart(
        encounters=7,
        encounters_bare=9,
        encounters_both=both,
        loss=0.1,
        most_likely_before=0.18,
        differs=False,
    )
    line = losses.this_trip(part, an_answer())
    assert line.startswith(text)
    assert "(was 18 fewer)" in line
    same = losses.this_trip(replace(part, most_likely_before=an_answer().likely.loss), an_answer())
    assert "; most likely still " in same
    assert "(was" not in same
    answer = an_answer()
    none = replace(answer, likely=replace(answer.likely, loss=0.001))
    first = losses.this_trip(replace(part, most_likely_before=None), none)
    assert first.endswith("; most likely now as many in focus.")


@pytest.mark.parametrize(
    ("low", "high", "text"),
    [(0.04, 0.151, "4 and 15 fewer"), (-0.03, 0.09, "3 more and 9 fewer"), (-0.08, -0.02, "2 and 8 more")],
)
def test_ranges_say_which_way(low: float, high: float, text: str) -> None:
    assert losses.range_of_100(low, high) == text
