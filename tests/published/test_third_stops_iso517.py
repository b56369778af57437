"""Marked f-numbers and what they stand for (ISO 517, R: recalled; the marks themselves, S)."""

from __future__ import annotations

from itertools import pairwise
from math import log2

import pytest
from numpy.testing import assert_allclose

from auditor.optics import exposure
from auditor.optics.exposure import snap_f_number, stops_between
from auditor.report.text import values
from auditor.report.text.plan import iso, shutter


@pytest.mark.parametrize(
    ("marked", "exact"),
    [
        (5.6, 5.657),  # k = 15 of 2^(k/6); ISO 517, R
        (6.3, 6.350),  # k = 16
        (7.1, 7.127),  # k = 17
        (4, 4.0),
        (8, 8.0),
        (11, 11.314),
        (22, 22.627),
        (3.5, 3.564),  # further marks of the same series, from memory
        (13, 12.699),
        (29, 28.509),
    ],
)
def test_a_mark_is_its_exact_step(marked: float, exact: float) -> None:
    assert_allclose(snap_f_number(marked), exact, atol=1e-3)


def test_marks_are_a_third_of_a_stop_apart() -> None:
    """The marks of one stop from f/4 to f/8 (the trade's third-stop scale, C)."""
    marks = [4, 4.5, 5, 5.6, 6.3, 7.1, 8]
    steps = [stops_between(one, other) for one, other in pairwise(marks)]
    assert_allclose(steps, [1 / 3] * 6, atol=1e-9)


def test_half_stops_of_the_older_scale() -> None:
    """f/6.7 lies half a stop between f/5.6 and f/8 (half-stop marks, C)."""
    assert_allclose([stops_between(5.6, 6.7), stops_between(6.7, 8)], [0.5, 0.5], atol=1e-9)


@pytest.mark.parametrize(("near", "half_stops"), [(9.6, 13), (2.33, 5), (6.75, 11), (19.2, 17)])
def test_near_a_half_stop_it_is_meant(near: float, half_stops: int) -> None:
    """A half-stop is 2^(k/4) for odd k (ISO 517 counts in powers of 2, R): no third-stop is as near (D)."""
    assert snap_f_number(near) == pytest.approx(2 ** (half_stops / 4), rel=1e-9)


def test_a_5_6_behind_a_1_4x_is_f_8() -> None:
    """5.6 x 1.4 = 7.84, marked 8 (C)."""
    assert snap_f_number(5.6 * 1.4) == 8.0


def test_an_f_number_between_all_marks_is_left_as_it_is() -> None:
    """Half-way from f/8 to the next third, a sixth of a stop from both: no mark was meant."""
    off = 2 ** (18.5 / 6)
    assert snap_f_number(off) == off


@pytest.mark.parametrize(
    ("f_number", "mark"), [(7.84, 8), (5.657, 5.6), (6.350, 6.3), (7.127, 7.1), (1.0, 1)]
)
def test_an_f_number_is_shown_as_it_is_marked(f_number: float, mark: float) -> None:
    """f/5.6 behind a 1.4x works as f/8 (C); third stops 2^(k/6) (marks S)."""
    assert exposure.marked_f_number(f_number) == mark


@pytest.mark.parametrize(("step", "exact", "mark"), [(1, 125.99, "125"), (2, 158.74, "160")])
def test_third_stops_of_iso(step: int, exact: float, mark: str) -> None:
    """100 x 2^(k/3) is marked 125 and 160 (R)."""
    needed = exposure.iso_needed(12 - step / 3, 1, 2**-12)
    assert needed == pytest.approx(exact, abs=0.01)
    assert iso(needed) == mark


@pytest.mark.parametrize(("value", "mark"), [(893, "800"), (896, "1000"), (1117, "1000"), (1119, "1250")])
def test_a_median_iso_is_told_by_the_mark_that_is_nearest_in_stops(value: float, mark: str) -> None:
    """Half-way in stops from 800 to 1000 is 894.4, their geometric mean, and from 1000 to 1250 1118 (D)."""
    assert values.typical_iso(value) == mark


@pytest.mark.parametrize(
    ("seconds", "shown"),
    [
        (1 / 8000, "1/8000 s"),
        (1 / 4, "1/4 s"),
        (0.3, "0.3 s"),
        (0.4, "0.4 s"),
        (0.5, "0.5 s"),
        (1.3, "1.3 s"),
    ],
)
def test_a_shutter_speed_is_shown_as_cameras_mark_it(seconds: float, shown: str) -> None:
    """Fractions down to a quarter of a second, then tenths (marks of the trade, C)."""
    assert values.exposure_time(seconds) == shown


@pytest.mark.parametrize(
    "mark",
    [30, 40, 50, 60, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 4000],
)
def test_a_speed_on_a_third_of_a_stop_is_planned_as_that(mark: int) -> None:
    """The marks of shutter dials (C); exactly they are powers of 2^(1/3), and 1/60 is 1/64 (D)."""
    exact = 2 ** (round(3 * log2(mark)) / 3)
    assert shutter(1 / mark) == shutter(1 / exact) == f"1/{mark} s"
