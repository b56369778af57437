"""The first screen: the answer first, like for like, no surer than what it rests on."""

from __future__ import annotations

import re
from dataclasses import replace
from types import SimpleNamespace
from typing import Any, cast

import pytest

from auditor.analysis.answers import KitAnswer, answers
from auditor.analysis.findings import Findings
from auditor.analysis.hint_kinds import ConverterHint, PhoneHint, Trip
from auditor.analysis.measuring import Measuring
from auditor.report.answer_lines import answer_lines, hint_lines
from auditor.report.text import values
from auditor.report.text.first_screen import first_screen
from auditor.report.text.hints import unsettled
from auditor.report.text.ledger import SHORT, ledger
from auditor.words import Advice
from tests.report.made_answers import BARE, NO_RATE, comparison, detail, hits, kit_row, trip, with_2x

CODES = ("None", "nan", "{", "}", "_", "Advice.", "FocusOutcome")


def several(*outcomes: tuple[str, str, float], name: str = "Kit {}") -> list[KitAnswer]:
    """Kits with a 2x, numbered from 2, with these outcomes and differences of shares in focus."""
    kits, compared = [kit_row()], []
    for number, (focus, of_detail, difference) in enumerate(outcomes, 2):
        called = name.format(number)
        kits.append(kit_row(number, called, converter_factor=2.0))
        compared.append(
            comparison(
                hits(focus, difference=difference, low=difference - 0.1, high=difference + 0.1),
                detail(of_detail),
                kit_id=number,
                kit_name=called,
            )
        )
    return answers(kits, compared)


TWELVE = several(
    *[("fell", "gain", -0.15 - number / 100) for number in range(4)],
    *[("inconclusive", "no_detail_gain", -0.02 * number) for number in range(4)],
    *[("inconclusive", "inconclusive", 0.01 * number) for number in range(3)],
    ("no fall beyond 10 points", "gain", 0.0),
    name="Longnamed Field Camera F2 #{} 150-600 mm f/5-6.3 Sports Edition x 2",
)
TRIPS = {
    "clear loss": (
        trip("fell", "inconclusive"),
        "Leave the 2x off for now: it lost 20 of 100 frames.",
    ),
    "clear loss, detail not measured": (
        trip("fell", "not enough evidence"),
        "The 2x lost 20 of 100 frames, and nothing says yet that it showed more.",
    ),
    "two losses of one kind": (
        several(("fell", "inconclusive", -0.2), ("fell", "inconclusive", -0.26)),
        "Leave Kit 3 and Kit 2 off for now: they lost 26 and 20 of 100 frames.",
    ),
    "clear loss, no detail": (
        trip("fell", "no_detail_gain"),
        "Leave the 2x off and crop: it lost 20 of 100 frames.",
    ),
    "clear gain": (
        trip("no fall beyond 10 points", "gain"),
        "The 2x paid: finer detail, and little focus lost.",
    ),
    "no evidence": (
        trip("not enough evidence", "not enough evidence", difference=None, low=None, high=None),
        "These frames cannot say yet what to mount.",
    ),
    "mixed": (
        several(("no fall beyond 10 points", "inconclusive", 0.0), ("fell", "gain", -0.2)),
        "Kit 3 showed more but lost 20 of 100 frames: for animals that hold still. Kit 2 cost little focus; "
        "whether it showed more than a crop is not settled.",
    ),
    "all no finer": (
        several(("inconclusive", "no_detail_gain", 0.0), ("inconclusive", "no_detail_gain", -0.04)),
        f"Leave the converters off {BARE} and crop.",
    ),
    "one kit": (
        answers([kit_row()], []),
        "One kit, and no file names a converter: there is nothing to compare.",
    ),
    "one kit, converter unknown": (
        answers([kit_row(converter_factor=None)], []),
        "One kit, and whether a converter was on is not known: there is nothing to compare.",
    ),
    "two kits, converter unknown": (
        answers([kit_row(), kit_row(3, "Kit 3", converter_factor=None)], []),
        "No converter is known to have been on: there is nothing to compare.",
    ),
    "never bare": (
        answers([with_2x()], []),
        "Nothing to compare with yet: no bare frames beside the 2x.",
    ),
    "no frames": ([], "No frames, so no answer."),
}


@pytest.mark.parametrize("name", TRIPS)
def test_the_heading_is_the_answer(name: str) -> None:
    found, heading = TRIPS[name]
    assert first_screen(found).heading == heading


@pytest.mark.parametrize("focus", ["inconclusive", "not enough evidence", "fewer hits"])
@pytest.mark.parametrize("of_detail", ["inconclusive", "not enough evidence", "gain"])
def test_nothing_is_firm_that_is_not_settled(focus: str, of_detail: str) -> None:
    told = first_screen(trip(focus, of_detail))
    assert not any(word in told.heading for word in ("lost", "paid", "Leave", "cost little"))
    assert told.lines[0].answer not in {SHORT[Advice.COSTS_FOCUS], SHORT[Advice.LEAVE_IT_OFF]}


def test_the_ledger_has_the_largest_loss_first_and_what_cannot_be_compared_last() -> None:
    lines = ledger(TWELVE)
    lost = [line.loss.loss for line in lines if line.loss is not None]
    assert len(lines) == 12
    assert lost == sorted(lost, reverse=True)
    assert lines[0].in_focus == "18 fewer"
    open_kits = several(("fell", "gain", -0.2))
    kits = [answer.kit for answer in open_kits]
    never_bare = answers([kit_row(9, "Other x 2", converter_factor=2.0, frames=900), *kits], [])
    assert [line.loss for line in ledger(never_bare)] == [None, None]
    mixed = ledger([never_bare[0], *open_kits])
    assert [line.name for line in mixed] == ["Kit 2", "Other x 2"]
    assert (mixed[1].in_focus, mixed[1].answer) == ("not compared", "never used bare")


def test_a_line_says_what_was_paid_and_what_was_got() -> None:
    kit = with_2x(median_iso=1680.0, median_iso_without_converter=420.0, iso_pushed_frames=12)
    (line,) = ledger(answers([kit_row(), kit], [comparison(hits("fell"), detail("gain"))]))
    assert (line.in_focus, line.between) == ("20 fewer", "between 10 and 30 fewer")
    assert (line.iso, line.over) == ("400 → 1600", "12 frames over your ceiling")
    assert (line.detail, line.detail_between) == ("12 % finer", "4 to 20 % finer")
    assert line.answer == "for animals that hold still"


def test_advice_in_short_has_at_most_six_words_and_none_is_missing() -> None:
    assert set(SHORT) == set(Advice)
    assert max(len(text.split()) for text in SHORT.values()) <= 6
    for found, _heading in TRIPS.values():
        assert all(len(line.answer.split()) <= 6 for line in ledger(found))


@pytest.mark.parametrize("found", [*(found for found, _heading in TRIPS.values()), TWELVE])
@pytest.mark.parametrize("width", [60, 80, 200])
def test_the_terminal_begins_with_the_heading_and_no_line_is_too_wide(
    found: list[KitAnswer], width: int
) -> None:
    done = Measuring(frames=100, waiting=0, kits=())
    text = answer_lines(Findings(kits=tuple(found), alternatives=(), changes=(), measuring=done), width=width)
    assert " ".join(text.split()).startswith(first_screen(found).heading)
    assert max(map(len, text.splitlines())) <= min(width, 80)
    assert not any(code in text for code in CODES)
    for line in ledger(found):  # in a narrow terminal an answer goes on below itself, beside the name's rest
        assert re.search(r".*?".join(map(re.escape, line.answer.split())), text, re.DOTALL)
        if width >= 80 and len(line.name) <= 30:
            (row,) = [row for row in text.splitlines() if row.startswith(f"{line.name}  ")]
            assert row.endswith(f"  {line.answer}")
            assert line.loss is None or re.search(r"  [+-]?\d+ \([+-]?\d+ to [+-]?\d+\)  ", row)


def test_twelve_kits_of_long_names_leave_a_heading_that_can_be_read() -> None:
    told = first_screen(TWELVE)
    assert len(told.heading) < 250
    assert len(told.to_settle) < 700


def test_kits_of_long_names_share_a_short_heading() -> None:
    heading = first_screen(TWELVE).heading
    assert heading == (
        "The 2x (4 of 12 kits) showed more but lost 18 to 15 of 100 frames: for animals that hold still. "
        "Leave the 2x (4 of 12 kits) off and crop."
    )


def test_an_open_question_is_told_like_for_like_and_never_by_the_rates_as_used() -> None:
    """The rates differ by 21 points, in other light; alike in light it is 4."""
    row = comparison(hits("inconclusive", difference=-0.04, low=-0.22, high=0.17), detail("inconclusive"))
    told = first_screen(answers([kit_row(hit_rate=0.89), with_2x(hit_rate=0.68)], [row]))
    assert (told.lines[0].in_focus, told.lines[0].between) == (
        "4 fewer",
        "between 17 more and 22 fewer",
    )
    assert "68 %" not in str(told)
    assert "89 %" not in str(told)


@pytest.mark.parametrize(
    "changed", [{"clusters_treated": 2}, {"difference": None, "low": None, "high": None}]
)
def test_with_too_little_to_compare_counts_alone_are_told(changed: dict[str, Any]) -> None:
    compared = comparison(hits("not enough evidence", **changed), detail("not enough evidence"))
    (line,) = first_screen(answers([kit_row(), with_2x(**NO_RATE)], [compared])).lines
    assert line.loss is None
    assert line.in_focus == "not compared"
    assert "against 19 bare" in line.between


def test_kits_without_converters_are_told_by_their_rates() -> None:
    told = first_screen(answers([kit_row()], []))
    assert told.below == f"{BARE}: 67 % of 90 frames in focus (95 % interval 55 to 77 %)."
    assert told.lines == []


def test_names_with_braces_are_names() -> None:
    found = trip("fell", "inconclusive")
    named = [replace(one, kit=replace(one.kit, kit_name="{0} {x}")) for one in found]
    named += [replace(named[1], kit=replace(named[1].kit, kit_id=3))]
    assert "Leave {0} {x} off for now: they lost 20 and 20 of 100 frames" in first_screen(
        named
    ).heading.replace("{0} {x} and ", "")


def test_a_bare_kit_that_may_hide_a_converter_is_warned_about_with_the_command() -> None:
    bursts = (SimpleNamespace(frames=7), SimpleNamespace(frames=5))
    named = Trip(trip_id=9, name="Marsh")
    hint = ConverterHint(trip=named, body="F2", factor=1.4, bursts=cast(Any, bursts))
    (told,) = unsettled([hint], 9)
    assert told["warning"].startswith("F2 bare may mix two kits: 12 frames read as if behind a 1.4x")
    assert told["command"] == "auditor declare hints --trip 9"
    assert unsettled([hint], None)[0]["command"] == "auditor declare hints"


def test_questions_about_other_things_than_converters_stand_on_the_page_too() -> None:
    """A phone among the kits, or a clock that may be off, is no less a doubt than a converter."""
    phone = PhoneHint(
        trip=Trip(trip_id=9, name="Estuary"), body="Pocket", frames=14,
        first_at="2026-04-18T07:30:00", last_at="2026-04-18T12:29:00",
    )  # fmt: skip
    (told,) = unsettled([phone], 9)
    assert told["warning"] == (
        "What no file says: Pocket, 18 April 2026: 14 frames of a phone, to be left out?"
    )
    many = [replace(phone, body=f"Pocket {number}") for number in range(5)]
    assert [told["warning"] for told in unsettled(many, 9)][3:] == ["What no file says: 2 more questions."]


def part(before: float | None, *, differs: bool = False) -> Any:
    return SimpleNamespace(
        most_likely_before=before,
        differs=differs,
        encounters=4,
        encounters_both=0,
        encounters_bare=3,
        loss=0.3,
    )


@pytest.mark.parametrize(
    ("before", "differs", "told"),
    [
        (0.2, False, "This trip changed little of that."),
        (0.195, False, "This trip changed little of that."),
        (0.15, False, "This trip moved the 2x from 15 fewer to 20 fewer of 100 in focus."),
        (-0.05, False, "This trip moved the 2x from 5 more to 20 fewer of 100 in focus."),
        (
            None,
            False,
            "This trip was the first with Body + Long 500mm + 2x.",
        ),  # another body may have had one
        (
            0.15,
            True,
            "This trip moved the 2x from 15 fewer to 20 fewer of 100 in focus; that differs from "
            "the rest beyond chance.",
        ),
    ],
)
def test_what_the_trip_did_to_the_answer_is_one_sentence(
    before: float | None, differs: bool, told: str
) -> None:
    likely = SimpleNamespace(loss=0.2, low=0.1, high=0.3)
    answer = SimpleNamespace(likely=likely, claims=(), encounters_to_settle=4)
    compared = comparison(hits("fell"), detail("inconclusive"))
    compared = replace(
        compared, hits=replace(compared.hits, answer=cast(Any, answer)), trip=part(before, differs=differs)
    )
    assert first_screen(answers([kit_row(), with_2x()], [compared])).below == told


def test_no_line_ends_before_a_unit_or_inside_the_name_of_a_kit() -> None:
    kept = values.unbroken("F2 500 mm x 2 lost 22 of 100 frames, 83 %, ISO 400").replace("\u00a0", "~")
    assert kept == "F2 500~mm~x~2 lost 22~of 100 frames, 83~%, ISO~400"
    assert values.plain(values.unbroken("83 %")) == "83\u00a0%"


def test_the_terminal_asks_what_no_file_says_with_the_one_command_that_settles_it() -> None:
    burst = SimpleNamespace(frames=6, first_at="2026-04-18T06:00:00", last_at="2026-04-18T06:01:00")
    hint = ConverterHint(
        trip=Trip(trip_id=9, name="Marsh"), body="S2", factor=1.4, bursts=cast(Any, (burst,))
    )
    told = hint_lines([hint] * 5, 9, width=80, option=" --logbook book.sqlite").splitlines()
    assert told[:2] == [
        "What no file says:",
        "  S2, 18 April 2026, 06:00 to 06:01: a 1.4x on 6 frames that do not say so?",
    ]
    assert told[-2:] == [
        "  and 2 more",
        "To settle it: auditor declare hints --trip 9 --logbook book.sqlite",
    ]
    assert hint_lines([], 9, width=80) == ""


def test_several_that_were_never_bare_are_told_what_to_photograph() -> None:
    never_bare = answers(
        [with_2x(), replace(with_2x(), kit_id=3, kit_name="Kit 3", converter_factor=1.4)], []
    )
    assert first_screen(never_bare).to_settle == (
        "For the 2x and the 1.4x, photograph the same animals in the same light with a converter and without."
    )
