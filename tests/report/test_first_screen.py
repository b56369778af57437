"""The first screen: three to five sentences, no surer than what they rest on."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.report.text.first_screen import first_screen


def kit(name: str = "Body + Long 500mm", **values: Any) -> dict[str, Any]:
    usual = {
        "kit_id": 1, "kit_name": name, "converter_factor": 1.0, "frames": 100, "encounters": 12, "judged": 90,
        "hit_rate_frames": 90,
        "hits": 60, "hit_rate": 0.67, "hit_rate_low": 0.55, "hit_rate_high": 0.77, "median_iso": 800.0,
        "median_iso_without_converter": 800.0, "median_forced_push_ev": 0.0, "median_light_value_ev": 12.0,
        "iso_pushed_frames": 0,
    }  # fmt: skip
    return usual | values


def with_2x(**values: Any) -> dict[str, Any]:
    usual = {"converter_factor": 2.0, "median_forced_push_ev": 2.0, "median_iso": 3200.0}
    return kit("Body + Long 500mm + 2x", **(usual | values))


def compared(outcome: str, detail: str, **hits: Any) -> dict[str, Any]:
    return {
        "kit_name": "Body + Long 500mm + 2x",
        "bare_kit_name": "Body + Long 500mm",
        "hits": {"outcome": outcome, "difference": -0.2, "low": -0.3, "high": -0.1, "clusters_treated": 14,
                 "clusters_bare": 19} | hits,
        "detail": {"outcome": detail, "gain": 0.12, "low": 0.04, "high": 0.2, "scenes": 14,
                   "scenes_bare": 19},
    }  # fmt: skip


@pytest.mark.parametrize(
    ("outcome", "detail", "lead"),
    [
        (
            "fell",
            "inconclusive",
            "Where focus matters most, mount Body + Long 500mm bare: with Body + Long 500mm + 2x 20 points "
            "fewer frames were in focus in like light (95 % interval 10 to 30; 14 and 19 encounters).",
        ),
        (
            "no fall beyond 10 points",
            "gain",
            "Body + Long 500mm + 2x seems worth its cost: detail on the animal was 12 % finer (95 % "
            "interval 4 % "
            "finer to 20 % finer; 14 and 19 scenes), and less than 10 points of hits were lost in "
            "like light.",
        ),
        (
            "inconclusive",
            "no_detail_gain",
            "As it was used, Body + Long 500mm + 2x brought no finer detail worth having (12 % "
            "finer, 95 % interval "
            "4 % finer to 20 % finer; 14 and 19 scenes): unless you need it to aim, leave the "
            "converter off and crop.",
        ),
    ],
)
def test_what_is_settled_comes_first(outcome: str, detail: str, lead: str) -> None:
    told = first_screen([kit(), with_2x()], [compared(outcome, detail)])
    assert told[0] == lead
    assert 3 <= len(told) <= 5


@pytest.mark.parametrize("outcome", ["inconclusive", "not enough evidence", "no fall beyond 10 points"])
def test_what_is_not_settled_is_called_so(outcome: str) -> None:
    told = first_screen([kit(), with_2x()], [compared(outcome, "inconclusive")])
    assert told[0].startswith("This trip does not settle what to mount: at most 14 encounters")
    assert not any("worth its cost" in sentence or "leave" in sentence for sentence in told)


def test_a_loss_of_frames_is_told_before_what_was_gained() -> None:
    rows = [
        compared("inconclusive", "no_detail_gain"),
        compared("inconclusive", "gain"),
        compared("no fall beyond 10 points", "gain"),
        compared("fell", "gain"),
    ]
    told = first_screen([kit(), with_2x()], rows)
    assert told[0].startswith("Where focus matters most")
    assert "seems worth its cost" in told[1]
    assert "whether it costs focus is not settled" in told[2]
    assert 3 <= len(told) <= 5


@pytest.mark.parametrize(
    ("bare_light_ev", "said"),
    [(10.4, ", in less light (1.6 EV)."), (13.6, ", in more light (1.6 EV)."), (12.5, ").")],
)
def test_a_difference_in_light_is_told_of_the_bare_lens(bare_light_ev: float, said: str) -> None:
    told = first_screen([kit(median_light_value_ev=bare_light_ev), with_2x(median_light_value_ev=12.0)])
    sentence = next(one for one in told if one.startswith("With Body + Long 500mm + 2x"))
    assert sentence.split("bare, ")[1].split(" The ")[0].endswith(said)


def test_counts_settle_nothing() -> None:
    few = {"hit_rate": None, "hit_rate_low": None, "hit_rate_high": None, "judged": 3, "hits": 2}
    told = first_screen([kit(), with_2x(**few)])
    assert "2 of 3 frames were in focus (counts only)" in told[0]
    assert "That is too little to settle anything." in told[0]


@pytest.mark.parametrize(("low", "said"), [(0.8, "Not in like light, nor by one angle: that stands below"),
                                           (0.7, "The intervals overlap")])  # fmt: skip
def test_intervals_decide_what_is_said(low: float, said: str) -> None:
    told = first_screen([kit(), with_2x(hit_rate=0.9, hit_rate_low=low, hit_rate_high=0.95)])
    assert said in told[0]


def test_no_frames_at_all() -> None:
    assert first_screen([])[-1].startswith("These rates are of the kits as they were used")
