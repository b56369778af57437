"""Numbers as people say them, and only what the page at hand is about."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.analysis.answers import answers
from auditor.analysis.kit_table import _hit_rate
from auditor.report.text import advice, values
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
    assert values.finer_interval(-0.08, difference) == "8 % coarser to the same"


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
    encounters = np.repeat([10.0, 2.0, 9.0, 1.0], 10), np.full(40, 10.0)
    hours = np.array([100.0, 20.0, 90.0, 10.0]), np.full(4, 100.0)
    by_encounter = _hit_rate(encounters, encounters, (0.3, 0.3), 400)
    by_hour = _hit_rate(encounters, hours, (0.3, 0.6), 400)
    assert by_hour["hit_rate"] == by_encounter["hit_rate"]
    width = by_encounter["hit_rate_high"] - by_encounter["hit_rate_low"]
    assert by_hour["hit_rate_high"] - by_hour["hit_rate_low"] > 1.3 * width
    # Where hours are all alike, encounters give the wider interval, and it counts.
    alike = np.full(4, 55.0), np.full(4, 100.0)
    assert _hit_rate(encounters, alike, (0.3, 0.0), 400) == by_encounter
