"""Kit inference: lens names, converters by every path, contradictions."""

from __future__ import annotations

from typing import Any

import pytest
from numpy.testing import assert_allclose

from auditor.frames import gear_database
from auditor.frames.kit import infer
from auditor.frames.lens import identify, split_name
from auditor.records import Recorded

PRIME: dict[str, Any] = {"lens_name": "Long 500mm f/5.6", "focal_length_mm": 500.0, "f_number": 5.6}
ZOOM: dict[str, Any] = {"lens_name": "Reach 100-400mm f/4.5-5.6", "focal_length_mm": 300.0, "f_number": 8.0}


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("500mm f/5.6 + 1.4x", ("500mm f/5.6", 1.4)),
        ("100-400mm f/4.5-5.6 IS II +2x III", ("100-400mm f/4.5-5.6 IS II", 2.0)),
        ("600mm F11 STM + EXTENDER RF1.4x", ("600mm F11 STM", 1.4)),
        ("300mm F4 + TC 2.0X", ("300mm F4", 2.0)),
        ("500mm f/5.6", ("500mm f/5.6", None)),
        ("70-200mm + 3x", ("70-200mm + 3x", None)),
        ("18-55mm + macro", ("18-55mm + macro", None)),
        ("", (None, None)),
        (None, (None, None)),
    ],
)
def test_the_suffix_of_a_lens_name(name: str | None, expected: tuple[str | None, float | None]) -> None:
    assert split_name(name) == expected


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("Long 500mm f/5.6", (500, 500, 5.6, 5.6)),
        ("RX100-500mm F4.5-7.1 L IS", (100, 500, 4.5, 7.1)),
        ("YF100-400mmF4.5-5.6 R", (100, 400, 4.5, 5.6)),
        ("300mm 1:4", (300, 300, 4, 4)),
        ("70-200mm f/2.8", (70, 200, 2.8, 2.8)),
        ("DG 100-400/F4.0-6.3", (100, 400, 4.0, 6.3)),
        ("DG 25/F1.4", (25, 25, 1.4, 1.4)),
        ("Planar 1.4/50", (None, None, None, None)),
        ("Mystery", (None, None, None, None)),
    ],
)
def test_range_and_widest_from_a_lens_name(name: str, expected: tuple[float | None, ...]) -> None:
    lens = identify(Recorded(lens_name=name))
    assert (lens.short_mm, lens.long_mm, lens.widest_at_short, lens.widest_at_long) == expected


def test_a_specification_multiplied_by_the_converter_is_seen_through() -> None:
    lens = identify(
        Recorded(
            lens_name="Long 500mm f/5.6 + 1.4x",
            lens_short_mm=700.0,
            lens_long_mm=700.0,
            lens_widest_at_short=8.0,
            lens_widest_at_long=8.0,
        )
    )
    assert (lens.long_mm, lens.widest_at_long) == (500.0, 5.6)


class TestConverter:
    def test_a_prime_at_its_own_focal_length_has_none(self) -> None:
        kit = infer(Recorded(**PRIME))
        assert (kit.converter_factor, kit.converter_source) == (1.0, "none")

    def test_by_suffix(self) -> None:
        kit = infer(Recorded(lens_name="Long 500mm f/5.6 + 1.4x", focal_length_mm=700.0, f_number=8.0))
        assert (kit.converter_factor, kit.converter_source) == (1.4, "lens_name")
        assert (kit.lens.name, kit.focal_length_mm) == ("Long 500mm f/5.6", 700.0)

    def test_by_note_before_suffix(self) -> None:
        kit = infer(
            Recorded(
                lens_name="Long 500mm f/5.6", focal_length_mm=1000.0, f_number=11.0, converter_factor=2.0
            )
        )
        assert (kit.converter_factor, kit.converter_source) == (2.0, "maker_note")

    @pytest.mark.parametrize(("focal_mm", "factor"), [(700, 1.4), (1000, 2.0), (850, 1.7), (625, 1.25)])
    def test_by_geometry(self, focal_mm: float, factor: float) -> None:
        kit = infer(Recorded(lens_name="Long 500mm f/5.6", focal_length_mm=focal_mm, f_number=16.0))
        assert (kit.converter_factor, kit.converter_source) == (factor, "geometry")

    def test_a_focal_length_that_no_converter_explains_is_unknown(self) -> None:
        kit = infer(Recorded(lens_name="Long 500mm f/5.6", focal_length_mm=560.0, f_number=8.0))
        assert (kit.converter_factor, kit.converter_source) == (None, "unknown")

    def test_stopping_down_alone_is_no_converter(self) -> None:
        kit = infer(Recorded(**(PRIME | {"f_number": 11.0})))
        assert kit.converter_source == "none"

    def test_a_zoom_inside_its_range_cannot_be_told(self) -> None:
        kit = infer(Recorded(**ZOOM))
        assert (kit.converter_factor, kit.converter_source) == (None, "unknown")
        assert kit.missing["converter_factor"] == "zoom_in_range"
        assert not kit.contradiction

    def test_a_zoom_too_wide_for_any_converter_has_none(self) -> None:
        kit = infer(Recorded(**(ZOOM | {"f_number": 5.0})))
        assert kit.converter_source == "none"

    def test_a_zoom_near_its_short_end_has_none(self) -> None:
        kit = infer(Recorded(**(ZOOM | {"focal_length_mm": 105.0})))
        assert kit.converter_source == "none"

    def test_a_zoom_beyond_its_long_end_is_told_by_its_widest_aperture(self) -> None:
        seen = ZOOM | {"focal_length_mm": 450.0, "f_number": 11.0}
        assert infer(Recorded(**seen, widest_f_number=8.0)).converter_factor == 1.4
        assert infer(Recorded(**seen, widest_f_number=11.0)).converter_factor == 2.0
        assert infer(Recorded(**seen)).converter_source == "unknown"

    def test_the_note_says_that_there_was_none(self) -> None:
        kit = infer(Recorded(**ZOOM, converter_factor=1.0))
        assert (kit.converter_factor, kit.converter_source) == (1.0, "maker_note")

    def test_no_lens_no_answer(self) -> None:
        kit = infer(Recorded(focal_length_mm=500.0, f_number=5.6))
        assert kit.converter_source == "unknown"
        assert kit.missing["converter_factor"] == "needs_lens"

    def test_an_aperture_wider_than_the_converter_allows_contradicts(self) -> None:
        kit = infer(Recorded(lens_name="Long 500mm f/5.6 + 1.4x", focal_length_mm=700.0, f_number=5.6))
        assert (kit.converter_factor, kit.converter_source) == (None, "unknown")
        assert kit.contradiction
        assert kit.missing["converter_factor"] == "contradiction"

    def test_a_third_of_a_stop_is_no_contradiction(self) -> None:
        kit = infer(Recorded(lens_name="Long 500mm f/5.6 + 1.4x", focal_length_mm=700.0, f_number=7.1))
        assert kit.converter_factor == 1.4

    def test_declared_where_the_camera_saw_nothing(self) -> None:
        """Focal length and f-number in effect are corrected: 500 mm f/5.6 behind a 1.4x is 700 mm f/8."""
        kit = infer(Recorded(**PRIME), declared_factor=1.4)
        assert kit.converter_source == "declared"
        assert (kit.focal_length_mm, round(kit.f_number or 0, 2)) == (700.0, 7.84)

    def test_declared_where_the_camera_saw_it_too(self) -> None:
        kit = infer(
            Recorded(lens_name="Long 500mm f/5.6", focal_length_mm=700.0, f_number=8.0), declared_factor=1.4
        )
        assert (kit.converter_source, kit.focal_length_mm, kit.f_number) == ("declared", 700.0, 8.0)


def test_widest_between_the_ends_of_a_zoom_is_a_range_unless_recorded() -> None:
    seen = ZOOM | {"f_number": 5.0}
    kit = infer(Recorded(**seen))
    assert (kit.widest_low, kit.widest_high) == (4.5, 5.6)
    assert infer(Recorded(**seen, widest_f_number=5.0)).widest_low == 5.0


def test_widest_of_a_zoom_behind_a_converter_is_what_was_recorded_without_it() -> None:
    """At 300 mm behind a 2x, f/10 wide open is f/5 of the lens (two stops, as the trade counts them)."""
    behind = ZOOM | {"lens_name": f"{ZOOM['lens_name']} + 2x", "focal_length_mm": 600.0, "f_number": 10.0}
    kit = infer(Recorded(**behind, widest_f_number=10.0))
    assert (kit.converter_factor, kit.widest_low, kit.widest_high) == (2.0, 5.0, 5.0)


def test_the_short_ends_f_number_of_the_database_is_not_taken_for_the_long_ends(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    entry = gear_database.KnownLens(short_mm=100.0, long_mm=400.0, widest=4.5)
    monkeypatch.setattr("auditor.frames.gear_database.lens", lambda _name: entry)
    lens = identify(Recorded(lens_name="A zoom that says nothing of itself"))
    assert (lens.short_mm, lens.long_mm) == (100.0, 400.0)
    assert (lens.widest_at_short, lens.widest_at_long) == (4.5, None)


def test_sensor_from_the_35_mm_equivalent() -> None:
    """23.5 x 15.6 mm: crop factor 1.534 by the diagonal (check value, derived)."""
    kit = infer(Recorded(**PRIME, focal_length_35mm_mm=767.0))
    assert_allclose(kit.crop_factor or 0, 1.534, atol=5e-4)
    assert_allclose(kit.sensor_diagonal_mm or 0, 28.21, atol=5e-3)


def test_nothing_recorded_is_nothing_known_with_reasons() -> None:
    kit = infer(Recorded())
    assert (kit.crop_factor, kit.sensor_diagonal_mm, kit.pixel_pitch_um) == (None, None, None)
    assert set(kit.missing) >= {"crop_factor", "sensor_diagonal_mm", "pixel_pitch_um", "converter_factor"}
