"""The sensor behind a frame. Sizes of real bodies: their data sheets, recalled from memory (R)."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from auditor.frames import gear_database
from auditor.frames.body_sensor import sensor_of
from auditor.frames.facts import frame_facts
from auditor.records import Recorded

FULL_FRAME = Recorded(
    body_make="NIKON CORPORATION",
    body_model="NIKON D850",
    width_px=8256,
    height_px=5504,
    recorded_width_px=8256,
    recorded_height_px=5504,
    focal_length_mm=500.0,
    focal_length_35mm_mm=500.0,
)


def test_the_database_knows_a_body_by_what_its_files_call_it() -> None:
    """R: 23.5 x 15.7 mm on a D500 (crop factor 1.53), 36 mm wide on a D850, 17.3 x 13 mm on an E-M1 (2.0)."""
    assert_allclose(gear_database.crop_factor("NIKON CORPORATION", "NIKON D500") or 0, 1.53, atol=0.03)
    assert_allclose(gear_database.crop_factor("NIKON CORPORATION", "NIKON D850") or 0, 1.0, atol=0.01)
    assert_allclose(gear_database.crop_factor("OLYMPUS IMAGING CORP.", "E-M1") or 0, 2.0, atol=0.01)
    assert gear_database.crop_factor("Saltmark", "F2") is None


def test_the_database_gives_a_lens_its_range_and_widest_f_number() -> None:
    """R: a lens's name says its range and its widest f-number."""
    lens = gear_database.lens("Canon EF 100-400mm f/4.5-5.6L IS USM")
    assert lens is not None
    assert (lens.short_mm, lens.long_mm, lens.widest) == (100.0, 400.0, 4.5)


def test_pitch_of_a_whole_picture() -> None:
    """R: 4.35 um on a 45-megapixel full-frame sensor (also in the table of check values)."""
    behind = sensor_of(FULL_FRAME)
    assert_allclose(behind.pixel_pitch_um or 0, 4.35, atol=0.03)
    assert (behind.cropped, behind.resized) == (False, False)


def test_a_crop_in_the_camera_keeps_the_pitch_and_the_sensor_and_is_told() -> None:
    """A body in its smaller format writes fewer pixels and the longer 35 mm-equivalent."""
    cropped = Recorded(
        body_make="NIKON CORPORATION",
        body_model="NIKON D850",
        width_px=5408,
        height_px=3600,
        recorded_width_px=5408,
        recorded_height_px=3600,
        focal_length_mm=500.0,
        focal_length_35mm_mm=750.0,
    )
    behind = sensor_of(cropped)
    whole = sensor_of(FULL_FRAME)
    assert behind.cropped
    assert behind.diagonal_mm == whole.diagonal_mm
    assert_allclose(behind.pixel_pitch_um or 0, whole.pixel_pitch_um or 0, rtol=0.03)
    _kit, facts = frame_facts(cropped)
    assert facts.flags == ("cropped_in_camera",)


def test_a_crop_is_told_by_the_pixels_where_the_35_mm_equivalent_is_silent() -> None:
    behind = sensor_of(
        Recorded(
            body_make="NIKON CORPORATION",
            body_model="NIKON D850",
            width_px=5408,
            height_px=3600,
            recorded_width_px=5408,
            recorded_height_px=3600,
            pixel_pitch_um=4.35,
        )
    )
    assert behind.cropped
    assert behind.pixel_pitch_um == 4.35


@pytest.mark.parametrize("shrunk_px", [(2048, 1365), (4128, 2752)])
def test_a_resized_picture_loses_its_pitch_with_the_reason(shrunk_px: tuple[int, int]) -> None:
    behind = sensor_of(
        Recorded(
            body_make="NIKON CORPORATION",
            body_model="NIKON D850",
            width_px=shrunk_px[0],
            height_px=shrunk_px[1],
            recorded_width_px=8256,
            recorded_height_px=5504,
            pixel_pitch_um=4.35,
        )
    )
    assert behind.resized
    assert behind.pixel_pitch_um is None
    assert behind.missing["pixel_pitch_um"] == "resized"


def test_a_declared_sensor_comes_before_the_database() -> None:
    assert sensor_of(FULL_FRAME, declared_diagonal_mm=28.3).diagonal_mm == pytest.approx(28.3)
