"""Sensor geometry (D: derived and computed numerically; C: common practice)."""

from __future__ import annotations

import math

import pytest
from numpy.testing import assert_allclose

from auditor.frames.body_sensor import sensor_of
from auditor.optics import sensor
from auditor.optics.exposure import marked_f_number
from auditor.planning.gear import kits_to_mount
from auditor.records import Recorded
from tests.planning.kits import used


def test_crop_factor_of_a_smaller_sensor() -> None:
    """23.5 x 15.6 mm: 1.534 by the diagonal (D)."""
    assert_allclose(sensor.crop_factor(23.5, 15.6), 1.534, atol=5e-4)
    assert_allclose(sensor.diagonal_from_crop_mm(1.534), math.hypot(23.5, 15.6), atol=0.01)


@pytest.mark.parametrize(
    ("pixels_per_unit", "unit"), [(4254.6, 2), (1675.04, 3), (167.504, 4), (0.167504, 5)]
)
def test_pixel_pitch(pixels_per_unit: float, unit: int) -> None:
    """4254.6 px/inch is 5.970 um (D); the same in the other units of FocalPlaneResolutionUnit."""
    assert_allclose(sensor.pixel_pitch_um(pixels_per_unit, unit), 5.970, atol=1e-3)


@pytest.mark.parametrize(("focal_length_mm", "angle_deg"), [(400, 5.1531), (560, 3.6820)])
def test_angle_of_view(focal_length_mm: float, angle_deg: float) -> None:
    """36 mm wide (D)."""
    assert_allclose(sensor.angle_of_view_deg(36, focal_length_mm), angle_deg, atol=5e-5)


@pytest.mark.parametrize(("focal_length_mm", "scale_mm"), [(400, 0.44178), (560, 0.31385), (800, 0.21791)])
def test_mm_per_px_at_thirty_metres(focal_length_mm: float, scale_mm: float) -> None:
    """5.97 um (D)."""
    assert_allclose(sensor.mm_per_px(30_000, focal_length_mm, 5.97), scale_mm, atol=5e-6)


@pytest.mark.parametrize(("focal_length_mm", "pixels"), [(400, 565.9), (560, 796.6)])
def test_pixels_on_an_animal(focal_length_mm: float, pixels: float) -> None:
    """A quarter of a metre at 30 m (D)."""
    assert_allclose(250 / sensor.mm_per_px(30_000, focal_length_mm, 5.97), pixels, atol=0.1)


def test_the_criterion() -> None:
    """Diagonal 43.267 mm / 1500 = 0.02884 mm (C); a disc of diameter c has sigma c / 4 (D)."""
    assert_allclose(sensor.criterion_diameter_um(43.267), 28.84, atol=5e-3)
    assert_allclose(sensor.criterion_sigma_px(43.267, 5.97), 28.84 / 4 / 5.97, rtol=1e-3)
    assert_allclose(sensor.criterion_diameter_um(43.267, crop=2), 14.42, atol=5e-3)


def test_microradians() -> None:
    """One pixel of 5.97 um at 400 mm is 14.925 microradians: 5.97 / 0.4 (D)."""
    assert_allclose(sensor.microradians(5.97, 400), 14.925, atol=1e-9)


def test_a_unit_that_exif_does_not_have() -> None:
    with pytest.raises(ValueError, match="unit"):
        sensor.pixel_pitch_um(4000, 7)


@pytest.mark.parametrize(
    ("focal_length_mm", "widest", "in_effect"), [(300, 4.0, (420, 5.6)), (500, 5.6, (700, 8))]
)
def test_a_lens_behind_a_1_4x_as_it_is_marked(
    focal_length_mm: float, widest: float, in_effect: tuple[float, float]
) -> None:
    """300 mm f/4 works as 420 mm f/5.6, 500 mm f/5.6 as 700 mm f/8 (C)."""
    (kit,) = (
        kit
        for kit in kits_to_mount(
            [used(1, factor=1.4, lens_focal_length_mm=focal_length_mm, lens_widest_f_number=widest)]
        )
        if kit.converter_factor == 1.4
    )
    assert kit.focal_length_mm == pytest.approx(in_effect[0])
    assert marked_f_number(kit.widest_f_number) == in_effect[1]


def test_a_stricter_criterion() -> None:
    """Diagonal / 1730 = 0.02501 mm (C): as if the picture were cropped by 1730 / 1500."""
    assert_allclose(sensor.criterion_diameter_um(43.267, crop=1730 / 1500), 25.01, atol=5e-3)


@pytest.mark.parametrize(
    ("equivalent_mm", "crop", "tolerance"),
    [
        (767.0, 1.534, 1e-3),  # 500 mm x 1.534: by the diagonal of 23.5 x 15.6 mm (D)
        (766.0, 1.532, 1e-3),  # 500 mm x 1.532: by the width, 36 / 23.5 (D)
    ],
)
def test_a_35_mm_equivalent_by_diagonal_or_by_width(
    equivalent_mm: float, crop: float, tolerance: float
) -> None:
    """FocalLengthIn35mmFilm is whole mm and does not say which of the two it is (tag text, S): they lie
    0.14 % apart, here the last mm, so that either gives the same sensor to 0.2 %."""
    said = sensor_of(Recorded(focal_length_mm=500.0, focal_length_35mm_mm=equivalent_mm))
    assert said.crop_factor == pytest.approx(crop, abs=tolerance)
    assert said.diagonal_mm == pytest.approx(math.hypot(23.5, 15.6), rel=2e-3)


def test_a_35_mm_equivalent_is_good_to_a_millimetre() -> None:
    """Rounded to 1 mm (S): on a lens of 50 mm that is 1 % of the crop factor, on 500 mm 0.1 % (D)."""
    for focal_length_mm, share in ((50.0, 0.01), (500.0, 0.001)):
        exact = focal_length_mm * 1.532
        said = sensor_of(Recorded(focal_length_mm=focal_length_mm, focal_length_35mm_mm=float(round(exact))))
        assert said.crop_factor == pytest.approx(1.532, rel=share)


def test_full_frame_behind_a_1_4x_frames_like_a_smaller_sensor_without() -> None:
    """Common practice (C): 36 mm behind 1.4x and 23.5 mm bare see the same to a tenth."""
    behind = sensor.angle_of_view_deg(36, 400 * 1.4)
    assert sensor.angle_of_view_deg(23.5, 400) == pytest.approx(behind, rel=0.1)
