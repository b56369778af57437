"""Every number of docs/field-guide.md, worked out again."""

import re
from pathlib import Path

import pytest

from auditor.optics import air, close_up, converter, exposure, motion_blur, sensor
from auditor.optics import detail_and_noise as weighed
from auditor.optics.depth_of_field import depth_of_field
from auditor.optics.resolution import Chain, expected_gain, mtf50_per_um

GUIDE = " ".join(
    (Path(__file__).resolve().parents[1] / "docs" / "field-guide.md").read_text(encoding="utf-8").split()
)
PITCH_UM, CIRCLE_MM = 5.97, 0.02884


def gain_percent(lens_um: float, pitch_um: float, factor: float, own_um: float = 1.5) -> float:
    bare, with_it = (
        mtf50_per_um(
            Chain(
                f_number=5.6, lens_sigma_um=lens_um, pixel_pitch_um=pitch_um, converter_factor=m,
                converter_sigma_um=blur_um,
            )
        )
        for m, blur_um in ((1.0, 0.0), (factor, own_um))
    )  # fmt: skip
    return 100 * (with_it / bare - 1)


def test_light_and_working_f_numbers() -> None:
    assert [800 * 2 ** converter.light_loss_stops(m) for m in (1.4, 2)] == [1600, 3200]
    assert "ISO 800 becomes 1600 or 3200" in GUIDE
    marked = [exposure.marked_f_number(5.6 * 2 ** (converter.light_loss_stops(m) / 2)) for m in (1.4, 2)]
    assert marked == [8, 11]
    assert "700 mm f/8 or 1000 mm f/11" in GUIDE


def test_room_and_depth() -> None:
    widths_m = [36 / PITCH_UM * sensor.mm_per_px(30_000, focal, PITCH_UM) for focal in (500, 1000)]
    assert [f"{width:.1f}" for width in widths_m] == ["2.1", "1.0"]
    assert "the bare lens sees 2.1 m, the 2x 1 m" in GUIDE
    bare = depth_of_field(500, 5.6, 20_000, CIRCLE_MM).depth_mm
    # The same angle: the blur that counts on the bare lens, magnified.
    doubled = depth_of_field(1000, 11.2, 20_000, 2 * CIRCLE_MM).depth_mm
    assert round(bare / 100) == round(doubled / 100) == 5
    assert "50 cm count as sharp" in GUIDE


def test_the_table_of_detail() -> None:
    rows = re.findall(
        r"\| [a-z ]+\((?:blur )?([\d.]+) um\) \| [a-z -]+, ([\d.]+) um \| (-?[\d.]+) % \| (-?[\d.]+) %", GUIDE
    )
    assert len(rows) == 5
    for lens_um, pitch_um, small, large in rows:
        for factor, told in ((1.4, small), (2.0, large)):
            assert gain_percent(float(lens_um), float(pitch_um), factor) == pytest.approx(
                float(told), abs=0.05
            )
    assert gain_percent(1.5, PITCH_UM, 2.0, own_um=0.0) == pytest.approx(21.7, abs=0.05)
    assert "A perfect 2x would give 21.7 %" in GUIDE
    assert expected_gain(5.6, PITCH_UM, 2.0, 1.5, demosaicked=True) == pytest.approx(0.31, abs=0.005)
    assert "fills in between its pixels: 31 % for that row" in GUIDE


def test_read_noise_on_the_animal() -> None:
    told = [f"{weighed.read_noise_cost_stops(electrons, 2, 2):.2f}" for electrons in (100, 20, 5)]
    assert told == ["0.16", "0.58", "1.22"]
    assert "0.16 stops where a pixel catches 100 electrons, 0.58 at 20, 1.22 at 5" in GUIDE


def test_movement_and_air() -> None:
    moved = [motion_blur.subject_motion_px(10, 1 / 1000, focal, 30, PITCH_UM) for focal in (500, 1000)]
    assert [round(px) for px in moved] == [28, 56]
    assert "moves 28 pixels" in GUIDE
    assert "and 56 behind the 2x" in GUIDE
    assert round(air.seeing_urad(air.WARM_GROUND_CN2, 100)) == 13
    assert f"{air.pupil_width_urad(500 / 5.6):.1f}" == "6.3"
    assert "about 13 microradians; the lens alone would give 6.3" in GUIDE


def test_an_extension_tube() -> None:
    before = close_up.magnification_at(500, 3700)
    with_it = close_up.with_tube(500, 36, 3700)
    assert f"{before:.2f}" == "0.19"
    assert f"{with_it.magnification:.2f}" == "0.26"
    assert f"{with_it.subject_to_sensor_mm / 1000:.1f}" == "3.0"
    assert f"{with_it.light_loss_stops:.2f}" == "0.68"
    lens_alone = close_up.with_tube(500, 1e-9, 3700).light_loss_stops
    assert f"{lens_alone:.2f}" == "0.51"
    assert "brings it to 3.0 m, and the bird grows from 0.19 to 0.26" in GUIDE
    assert "It takes 0.68 stops at that distance (0.51 of them the lens takes there anyway)" in GUIDE
