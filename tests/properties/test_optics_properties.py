"""What must hold for any exposure and any converter."""

from __future__ import annotations

from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from auditor.optics.converter import forced_push, iso_without_converter, light_loss_stops
from auditor.optics.exposure import settings_ev, snap_f_number, stops_between

steady = settings(derandomize=True, deadline=None)
f_numbers = st.floats(1.0, 64.0)
factors = st.sampled_from([1.0, 1.25, 1.4, 1.7, 2.0])
times_s = st.floats(1 / 32_000, 60.0)
isos = st.floats(25, 204_800)


@steady
@given(f_numbers, times_s, isos)
def test_a_stop_is_a_stop_wherever_it_is_taken(f_number: float, exposure_time_s: float, iso: float) -> None:
    base = settings_ev(f_number, exposure_time_s, iso)
    assert_allclose(settings_ev(f_number * 2**0.5, exposure_time_s, iso), base + 1, atol=1e-9)
    assert_allclose(settings_ev(f_number, exposure_time_s / 2, iso), base + 1, atol=1e-9)
    assert_allclose(settings_ev(f_number, exposure_time_s, iso * 2), base - 1, atol=1e-9)


@steady
@given(f_numbers)
def test_snapping_moves_little_and_only_once(f_number: float) -> None:
    snapped = snap_f_number(f_number)
    assert_allclose(snapped, f_number, rtol=0.05)
    assert_allclose(snap_f_number(snapped), snapped, rtol=1e-12)


@steady
@given(f_numbers, f_numbers, factors)
def test_forced_and_chosen_make_the_whole(f_number: float, widest: float, factor: float) -> None:
    push = forced_push(f_number, widest, factor)
    assert 0 <= push.forced_ev <= light_loss_stops(factor) + 1e-8
    assert_allclose(push.forced_ev + push.chosen_ev, stops_between(widest, f_number), atol=1e-8)


@steady
@given(isos, st.floats(0, 3), st.sampled_from([50.0, 100.0, 200.0]))
def test_without_the_converter_iso_is_never_higher(iso: float, forced_ev: float, base_iso: float) -> None:
    without = iso_without_converter(iso, forced_ev, base_iso)
    assert without <= iso
    assert without >= min(iso, base_iso)
