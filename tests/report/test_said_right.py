"""Numbers as people say them, and only what the page at hand is about."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.analysis.answers import answers
from auditor.analysis.changes import Change
from auditor.analysis.rates import hit_rate
from auditor.report.text import advice, comparisons, values
from auditor.report.text.first_screen import first_screen
from auditor.report.text.ledger import ledger
from tests.report.made_answers import comparison, detail, hits, kit_row, with_2x


def paragraph(**changed: object) -> str:
    (_bare, twice) = answers([kit_row(), with_2x(**changed)], [comparison(hits(), detail())])
    return advice.paragraph(twice)


def test_frames_are_whole_though_they_are_weighed() -> None:
    text = paragraph(hit_rate_frames=135.0, hit_rate=0.49)
    assert "49 % of 135 frames in focus" in text
    assert "135.0" not in text


@pytest.mark.parametrize("difference", [-0.004, 0.0, 0.004, -0.0])
def test_nothing_has_no_sign(difference: float) -> None:
    assert values.points(difference) == "0 points"
    assert values.points_interval(difference, difference) == "0 to 0"
    assert values.finer(difference) == "the same"
    assert values.finer_interval(-0.08, difference) == "0 to 8 % coarser"
    assert values.finer_interval(difference, 0.12) == "0 to 12 % finer"


def test_the_page_of_all_trips_speaks_of_no_trip() -> None:
    row = comparison(hits(), detail())
    assert row.trip is None
    found = answers([kit_row(), with_2x()], [row])
    told = first_screen(found)
    text = " ".join([told.heading, told.below, told.to_settle, *(one.answer for one in told.lines)])
    assert "this trip" not in (text + paragraph()).lower()


def test_where_iso_was_set_by_hand_the_shutter_gave_way() -> None:
    """Two stops at one ISO are four times the exposure time."""
    changed = {"shutter_gave_way": True, "median_exposure_time_s": 1 / 500}
    text = paragraph(**changed)
    assert "the shutter gave way: 1/500 s, where the bare lens would have allowed up to 1/2000 s" in text
    assert "ISO 3200, where" not in text
    (line,) = ledger(answers([kit_row(), with_2x(**changed)], [comparison(hits(), detail())]))
    assert line.iso == "1/2000 s → 1/500 s"


def test_hours_in_a_hide_are_no_new_evidence_every_ten_minutes() -> None:
    """Two good hours and two bad ones, ten encounters each: the interval is that of the hours."""
    hits, frames = np.repeat([10.0, 2.0, 9.0, 1.0], 10), np.full(40, 10.0)
    hours, apart = np.repeat(np.arange(4), 10), np.arange(40)
    by_hour, by_encounter = (
        hit_rate(hits, frames, sitting, np.zeros(40), frames, icc=0.3) for sitting in (hours, apart)
    )
    assert by_hour is not None
    assert by_encounter is not None
    assert by_hour.estimate == by_encounter.estimate
    assert by_hour.high - by_hour.low > 1.3 * (by_encounter.high - by_encounter.low)
    # Where sittings are alike and encounters are not, encounters give the wider interval, and it counts.
    hits, pairs = np.tile([10.0, 1.0], 20), np.repeat(np.arange(20), 2)
    paired, unpaired = (
        hit_rate(hits, frames, sitting, np.zeros(40), frames, icc=0.3) for sitting in (pairs, apart)
    )
    assert paired == unpaired


def test_what_was_adjusted_for_is_called_by_its_name() -> None:
    """What a metre measures in the picture is distance, not the size of the animal."""
    with_distance = hits(adjusted_for=("light", "subject size"), not_adjusted_for=("the animal's own size",))
    assert comparisons.adjusted_for(with_distance) == (
        "adjusted for light and distance, not for the animal's size"
    )
    without = hits(
        adjusted_for=("light",), not_adjusted_for=("the animal's own size", "distance to the subject")
    )
    assert comparisons.adjusted_for(without) == (
        "adjusted for light, not for the animal's size or its distance"
    )


def test_bounds_that_are_alike_are_said_once() -> None:
    few = paragraph(unclear=1, hit_rate_if_unclear_missed=0.731, hit_rate_if_unclear_hit=0.733)
    assert "1 unclear frame: counted as misses or as hits, 73 % either way." in few
    many = paragraph(unclear=9, hit_rate_if_unclear_missed=0.70, hit_rate_if_unclear_hit=0.76)
    assert "counted as misses or as hits, 70 to 76 %." in many


@pytest.mark.parametrize(
    ("inside", "fell", "told"),
    [
        (
            0.4,
            False,
            "S2 300 mm: no fall beyond chance (lowest from 2026-04-19 14:47: 40 % against 53 % in the rest",
        ),
        (0.67, False, "S2 300 mm: no fall beyond chance (p = 0.96; 10 encounters)."),
        (0.4, True, "S2 300 mm: fewer in focus (lowest from"),
    ],
)
def test_a_stretch_is_told_as_the_lowest_only_where_it_is_lower(inside: float, fell: bool, told: str) -> None:
    """For its light a stretch may be the lowest though more of its frames hit than of the others."""
    change = Change(
        kit_id=1, kit_name="S2 300 mm", fell=fell, from_at="2026-04-19T14:47:00", until_at=None,
        rate_inside=inside, rate_outside=0.53, p_value=0.96, bursts=20, encounters=10, encounters_inside=4,
        last_before=None, first_inside=None,
    )  # fmt: skip
    (line,) = comparisons.changes([change])
    assert line.startswith(told)
