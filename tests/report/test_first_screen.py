"""The first screen: plain sentences, like for like, no surer than what they rest on."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.analysis.answers import answers
from auditor.report.text.first_screen import first_screen
from tests.report.made_answers import BARE, NO_RATE, WITH_2X, comparison, detail, hits, kit_row, trip, with_2x


@pytest.mark.parametrize(
    ("focus", "of_detail", "lead"),
    [
        (
            "fell",
            "inconclusive",
            f"Mount {BARE} bare where focus matters most: with {WITH_2X}, 20 fewer frames of 100 were in "
            "focus in like light (95 % interval 10 to 30 fewer; 14 encounters against 19).",
        ),
        (
            "no fall beyond 10 points",
            "gain",
            f"{WITH_2X} seems worth its cost: detail on the animal was 12 % finer (95 % interval 4 to 20 % "
            "finer); 14 scenes against 19, and the loss in focus was under 10 points in like light.",
        ),
        (
            "inconclusive",
            "no_detail_gain",
            f"{WITH_2X} brought no finer detail worth having: 12 % finer (95 % interval 4 to 20 % finer); "
            "14 scenes against 19; matched on light; not adjusted for shutter speed or distance. Unless "
            "you need it to aim, leave the converter off and crop.",
        ),
    ],
)
def test_what_is_settled_comes_first(focus: str, of_detail: str, lead: str) -> None:
    told = first_screen(trip(focus, of_detail))
    assert told[0] == lead
    assert len(told) <= 5


@pytest.mark.parametrize("focus", ["inconclusive", "not enough evidence", "no fall beyond 10 points"])
def test_what_is_not_settled_is_called_so(focus: str) -> None:
    told = first_screen(trip(focus, "inconclusive"))
    assert told[0].startswith("These frames do not settle what to mount: at most 14 encounters")
    assert not any("worth its cost" in sentence or "leave" in sentence for sentence in told)


def several(*outcomes: tuple[str, str, float]) -> list[str]:
    """The first screen of kits with a 2x, numbered from 2, with these outcomes and losses."""
    kits, compared = [kit_row()], []
    for number, (focus, of_detail, difference) in enumerate(outcomes, 2):
        kits.append(kit_row(number, f"Kit {number}", converter_factor=2.0))
        compared.append(
            comparison(
                hits(focus, difference=difference, low=difference - 0.1, high=difference + 0.1),
                detail(of_detail),
                kit_id=number,
                kit_name=f"Kit {number}",
            )
        )
    return first_screen(answers(kits, compared))


def test_the_largest_loss_is_told_first_and_nothing_settled_is_dropped() -> None:
    told = several(
        ("inconclusive", "no_detail_gain", 0.0),
        ("inconclusive", "gain", 0.0),
        ("no fall beyond 10 points", "gain", 0.0),
        ("fell", "gain", -0.15),
        ("fell", "inconclusive", -0.4),
        ("fell", "inconclusive", -0.3),
    )
    assert [sentence.count("fewer frames of 100") for sentence in told] == [1, 1, 1, 0, 0, 0]
    assert ["Kit 6" in told[0], "Kit 7" in told[1], "Kit 5" in told[2]] == [True, True, True]
    assert "seems worth its cost" in told[3]
    assert "Whether it costs focus is not settled" in told[4]
    assert "Kit 2 brought no finer detail" in told[5]


def test_an_open_question_is_told_like_for_like_and_never_by_the_rates_as_used() -> None:
    """The rates differ by 21 points, in other light; alike in light it is 4."""
    told = first_screen(
        answers(
            [kit_row(hit_rate=0.89), with_2x(hit_rate=0.68)],
            [
                comparison(
                    hits("inconclusive", difference=-0.04, low=-0.22, high=0.17), detail("inconclusive")
                )
            ],
        )
    )
    assert f"{WITH_2X}: -4 points in focus against bare in like light (95 % interval -22 to +17)" in told[1]
    assert not any("68 %" in sentence or "89 %" in sentence for sentence in told)


@pytest.mark.parametrize(
    "changed", [{"clusters_treated": 2}, {"difference": None, "low": None, "high": None}]
)
def test_with_too_little_to_compare_only_what_was_got_is_told(changed: dict[str, Any]) -> None:
    compared = comparison(hits("not enough evidence", **changed), detail("not enough evidence"))
    told = first_screen(answers([kit_row(), with_2x(**NO_RATE)], [compared]))
    assert "2 of 3 frames in focus (counts only: fewer than 3 encounters)." in told[1]
    assert "Too few encounters" in told[1]


def test_a_kit_that_was_never_used_bare_says_so() -> None:
    told = first_screen(answers([with_2x()], []))
    assert "There are no bare frames of this lens and body to compare it with." in told[0]


def test_kits_without_converters_are_told_by_their_rates() -> None:
    told = first_screen(answers([kit_row()], []))
    assert told == [f"{BARE}: 67 % of 90 frames in focus (95 % interval 55 to 77 %)."]


def test_the_cost_is_told_in_iso_that_cameras_have() -> None:
    told = first_screen(answers([with_2x(median_iso=1680.0, median_iso_without_converter=420.0)], []))
    assert (
        told[-1] == f"{WITH_2X} took 2 stops of light: median ISO 1600, where bare up to 400 would have done."
    )


def test_no_frames_at_all() -> None:
    assert first_screen([]) == []
