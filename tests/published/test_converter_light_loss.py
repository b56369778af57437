"""Converters against the trade's own rules (C: common practice) and derived values (D)."""

from __future__ import annotations

import math

import pytest
from numpy.testing import assert_allclose

from auditor.optics import converter, exposure
from auditor.optics.converter import (
    contradicts,
    darker_than,
    forced_push,
    iso_without_converter,
    light_loss_stops,
    marked_factor,
)
from auditor.optics.exposure import snap_f_number


@pytest.mark.parametrize(("factor", "stops"), [(1.0, 0), (1.4, 1), (2.0, 2)])
def test_light_loss_as_the_trade_counts_it(factor: float, stops: float) -> None:
    """1.4x: one stop less; 2x: two stops less (C)."""
    assert light_loss_stops(factor) == stops


@pytest.mark.parametrize(("factor", "stops"), [(1.5, 1.1699), (3.0, 3.1699)])
def test_light_loss_of_other_factors(factor: float, stops: float) -> None:
    """2 log2 m (D; the printed rows are 1.4 -> 0.9709, sqrt 2 -> 1, 2 -> 2, of which ours are marked)."""
    assert_allclose(light_loss_stops(factor), stops, atol=1e-4)


def test_the_exact_loss_and_the_marked_one() -> None:
    """2 log2 1.4 = 0.9709, 2 log2 sqrt 2 = 1, 2 log2 2 = 2 (D); marked they count one, one and two (C). The
    f-number in effect of an f/5.6 shows the same step: 7.84, marked 8, 0.058 stop (C)."""
    assert light_loss_stops(1.4) - 0.9709 == pytest.approx(0.0291, abs=1e-4)
    assert light_loss_stops(2**0.5) == 1
    assert light_loss_stops(2.0) == 2
    assert 2 * math.log2(exposure.marked_f_number(5.6 * 1.4) / (5.6 * 1.4)) == pytest.approx(0.058, abs=1e-3)


@pytest.mark.parametrize(("factor", "times"), [(1.4, 2), (2.0, 4)])
def test_noise_of_a_pixel_at_an_unchanged_shutter(factor: float, times: float) -> None:
    """ISO one stop up, two stops up; variance of shot noise over the signal squared x2, x4 (C): photons are
    counted, so it is one over their number."""
    light_left = 2 ** -light_loss_stops(factor)
    assert 1 / light_left == times
    assert exposure.iso_needed(10, 5.6 * light_left**-0.5, 1 / 500) == pytest.approx(
        times * exposure.iso_needed(10, 5.6, 1 / 500)
    )


@pytest.mark.parametrize(
    ("f_number", "factor", "in_effect"),
    [(4.0, 1.4, 5.6), (5.6, 1.4, 8.0), (4.0, 2.0, 8.0), (2.8, 2.0, 5.6)],
)
def test_marked_f_number_in_effect(f_number: float, factor: float, in_effect: float) -> None:
    """f/4 x 1.4 is marked 5.6; f/5.6 x 1.4 is marked 8; 300 mm f/4 with 2x works as f/8 (C)."""
    widest = snap_f_number(f_number) * 2 ** (light_loss_stops(factor) / 2)
    assert_allclose(widest, snap_f_number(in_effect), rtol=1e-9)
    assert not contradicts(in_effect, f_number, factor)
    push = forced_push(in_effect, f_number, factor)
    assert_allclose((push.forced_ev, push.chosen_ev), (light_loss_stops(factor), 0), atol=1e-9)


def test_the_worked_example_of_iso_cost() -> None:
    """f/5.6 on an f/4 lens with 1.4x at ISO 125, base 100: forced 1 stop, ISO 100 without, cost 0.32 (D)."""
    import math

    forced = forced_push(5.6, 4.0, 1.4).forced_ev
    without = iso_without_converter(125, forced, 100)
    assert (forced, without) == (1.0, 100)
    assert_allclose(math.log2(125 / without), 0.32, atol=5e-3)


def test_an_aperture_that_cannot_be() -> None:
    """f/4 on an f/4 lens with 1.4x is a contradiction (C); so is anything over a third of a stop too wide."""
    assert contradicts(4.0, 4.0, 1.4)
    assert contradicts(4.5, 4.0, 1.4)
    assert not contradicts(5.0, 4.0, 1.4)


@pytest.mark.parametrize(
    ("lens_widest", "factor", "darker"),
    [
        (5.6, 1.4, False),  # works as f/8
        (4.0, 2.0, False),
        (4.0, 1.7, False),  # f/6.7
        (6.3, 1.25, False),
        (6.3, 1.4, True),  # works as f/9
        (4.5, 2.0, True),
        (5.6, 1.7, True),
        (5.6, 2.0, True),  # f/11
        (6.3, 1.0, False),
        (9.0, 1.0, True),
    ],
)
def test_a_body_that_focuses_up_to_f_8_does_not_at_f_9(
    lens_widest: float, factor: float, darker: bool
) -> None:
    """A third of a stop is the step from f/8 to f/9 (ISO 517, R), and makers tell bodies and lenses that do
    not focus together by the marked f-number behind the converter (C)."""
    assert darker_than(8.0, lens_widest, factor) is darker


@pytest.mark.parametrize(
    ("measured", "marked"),
    [
        (1.41, 1.4),
        (1.4142, 1.4),
        (2.0, 2.0),
        (1.99, 2.0),
        (1.7, 1.7),
        (1.25, 1.25),
        (1.0, None),
        (1.55, None),
    ],
)
def test_factors_are_told_by_their_marks(measured: float, marked: float | None) -> None:
    assert marked_factor(measured) == marked


def test_a_factor_below_one_is_no_converter() -> None:
    with pytest.raises(ValueError, match="factor"):
        light_loss_stops(0.7)


def test_a_converter_leaves_the_entrance_pupil() -> None:
    """300 mm f/4: 75 mm, and 420 mm f/5.6 gives the same (D)."""
    assert converter.entrance_pupil_mm(300, 4) == pytest.approx(75, abs=1e-9)
    assert converter.entrance_pupil_mm(420, 5.6) == pytest.approx(75, abs=1e-9)
