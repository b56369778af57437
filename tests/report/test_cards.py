"""A card a kit: the same short facts in the same order, no longer than a card holds, the workings apart."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.analysis.answers import answers
from auditor.analysis.changes import Change
from auditor.report.text.cards import FACTS, KitCard, cards
from tests.report.made_answers import NO_RATE, comparison, detail, hits, kit_row, trip, with_2x

OUTCOMES = ("fell", "fewer hits", "no fall beyond 10 points", "inconclusive", "not enough evidence")
DETAILS = ("gain", "no_detail_gain", "inconclusive", "not enough evidence")


def facts(card: KitCard) -> dict[str, str]:
    return dict(card.facts)


@pytest.mark.parametrize("focus", OUTCOMES)
@pytest.mark.parametrize("of_detail", DETAILS)
def test_every_card_has_its_facts_in_one_order_and_none_is_long(focus: str, of_detail: str) -> None:
    for card in cards(trip(focus, of_detail), []):
        order = [FACTS.index(word) for word, _told in card.facts]
        assert order == sorted(order)
        assert {"In focus", "Change", "Limits"} <= {word for word, _told in card.facts}
        assert max(len(told) for _word, told in card.facts) <= 130
        assert not any(code in str(card.facts) for code in ("None", "nan", "{", "_"))


def test_a_converter_is_told_like_for_like_with_its_cost_and_what_it_brought() -> None:
    kit = with_2x(median_iso=1680.0, median_iso_without_converter=420.0, iso_pushed_frames=12, unclear=3)
    rows = [comparison(hits("fell"), detail("gain"))]
    bare, converted = cards(answers([kit_row(), kit], rows), [])
    assert facts(converted) == {
        "In focus": "20 fewer of 100 (10 to 30 fewer)",
        "Cost": "2 stops of light; 12 frames over your ISO ceiling",
        "Detail": "12 % finer (4 to 20 % finer)",
        "Change": "too few to tell",
        "Limits": f"{kit.encounters} encounters",
    }
    assert converted.flags == ("fewer in focus",)
    assert facts(bare)["In focus"] == "67 % (55 to 77 %)"
    assert bare.answer == "bare lens"


def test_the_workings_hold_everything_that_the_facts_leave_out() -> None:
    (_bare, converted) = cards(trip("fell", "gain"), [])
    told = " ".join(converted.workings)
    for words in ("adjusted for", "95 % interval", "encounters against 19", "Detail of sharp frames"):
        assert words in told
    assert len(converted.workings) == len(set(converted.workings))


@pytest.mark.parametrize("p_value", [0.001, 0.5])
def test_a_fall_during_the_trip_is_told_where_it_is_more_than_chance(p_value: float) -> None:
    change = Change(
        kit_id=1, kit_name="Bare", from_at="2026-04-18T10:04:00", until_at=None, rate_inside=0.4,
        rate_outside=0.85, p_value=p_value, encounters=12, fell=p_value < 0.05, last_before=None,
        first_inside=None, bursts=20, encounters_inside=5,
    )  # fmt: skip
    (card,) = cards(answers([kit_row()], [], [change]), [])
    expected: Any = "fell from 2026-04-18 10:04: 40 %, else 85 %" if change.fell else "none beyond chance"
    assert facts(card)["Change"] == expected
    (card,) = cards(answers([kit_row()], [], [change]), [], of_trip=False)
    assert "Change" not in facts(card)


def test_without_a_rate_the_counts_and_the_reason_are_told() -> None:
    (card,) = cards(answers([kit_row(**NO_RATE)], []), [])
    assert facts(card)["In focus"] == "2 of 3"
    assert "counts only" in facts(card)["Limits"]
