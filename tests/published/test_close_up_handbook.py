"""Extension tubes and converters near the closest focus.

Sources: photographic handbook chapter on close-ups (S) for the exposure factor; the tube rows are derived
from the thin-lens equation and computed independently (D).
"""

from collections.abc import Callable

import pytest

from auditor.optics import close_up


def test_half_life_size_takes_two_and_a_quarter_times_the_light() -> None:  # S
    assert close_up.exposure_factor(0.5) == pytest.approx(2.25, abs=1e-9)


def test_a_tube_on_a_lens_at_infinity() -> None:  # D: f = 300, e = 36
    seen = close_up.with_tube(300, 36)
    assert seen.magnification == pytest.approx(0.12, abs=1e-9)
    assert seen.subject_to_sensor_mm == pytest.approx(3136, abs=1e-6)
    assert seen.light_loss_stops == pytest.approx(0.327, abs=5e-4)


def test_a_tube_at_close_focus() -> None:  # D: f = 400, total 3500, e = 25
    before = close_up.magnification_at(400, 3500)
    seen = close_up.with_tube(400, 25, 3500)
    assert before == pytest.approx(0.15155, abs=5e-6)
    assert seen.magnification == pytest.approx(0.21405, abs=5e-6)
    assert seen.subject_to_sensor_mm == pytest.approx(2754.3, abs=0.05)
    before_stops = close_up.with_tube(400, 1e-9, 3500).light_loss_stops
    assert seen.light_loss_stops - before_stops == pytest.approx(0.1525, abs=1e-4)


def test_a_2x_makes_a_half_life_size_lens_life_size() -> None:  # S: distance unchanged, 1:1
    assert close_up.with_converter(0.5, 2) == pytest.approx(1)


@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda: close_up.exposure_factor(-0.1), "magnification"),
        (lambda: close_up.magnification_at(400, 1599), "subject_to_sensor_mm"),
        (lambda: close_up.with_tube(400, 0), "tube_mm"),
    ],
)
def test_impossible_values_are_named(call: Callable[[], object], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        call()
