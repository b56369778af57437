"""Depth of field against a military correspondence course and a magazine article.

US Army course SS0507 (S): hyperfocal distance of a 2-inch lens. Harrison article (S): 50 mm, f/4 at 10 feet.
The third case is derived and computed independently (D).
"""

import math

import pytest

from auditor.optics.depth_of_field import depth_of_field, hyperfocal_mm

INCH_MM, FOOT_MM = 25.4, 304.8


def test_hyperfocal_distance_of_the_course() -> None:
    feet = hyperfocal_mm(2 * INCH_MM, 8, 0.002 * INCH_MM) / FOOT_MM
    assert feet == pytest.approx(20.8, abs=0.05)


def test_a_normal_lens_at_ten_feet() -> None:
    sharp = depth_of_field(50, 4, 10 * FOOT_MM, 0.03)
    half_inch = 0.5 * INCH_MM
    assert sharp.near_mm == pytest.approx(8 * FOOT_MM + 9 * INCH_MM, abs=half_inch)
    assert sharp.far_mm == pytest.approx(11 * FOOT_MM + 8 * INCH_MM, abs=half_inch)
    assert sharp.depth_mm == pytest.approx(2 * FOOT_MM + 11 * INCH_MM, abs=half_inch)


def test_a_long_lens_at_twenty_metres() -> None:
    sharp = depth_of_field(400, 5.6, 20_000, 0.03)
    assert sharp.near_mm == pytest.approx(19_596.7, abs=0.1)
    assert sharp.far_mm == pytest.approx(20_420.2, abs=0.1)


def test_beyond_the_hyperfocal_distance_all_is_sharp() -> None:
    hyperfocal = hyperfocal_mm(50, 8, 0.03)
    sharp = depth_of_field(50, 8, hyperfocal + 50, 0.03)
    assert math.isinf(sharp.far_mm)
    assert sharp.near_mm == pytest.approx((hyperfocal + 50) / 2)


@pytest.mark.parametrize(
    ("values", "name"),
    [
        ((400, 0, 20_000, 0.03), "f_number"),
        ((400, 5.6, 20_000, -1), "circle_mm"),
        ((400, 5.6, 400, 0.03), "distance_mm"),
        ((math.nan, 5.6, 20_000, 0.03), "distance_mm|focal_length_mm"),
    ],
)
def test_impossible_values_are_named(values: tuple[float, float, float, float], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        depth_of_field(*values)
