"""Movement and moving air: D derived and computed independently, C common practice, R recalled, S read."""

import math

import pytest

from auditor.optics import air, motion_blur


@pytest.mark.parametrize(("focal_length_mm", "moved_px"), [(400, 22.334), (560, 31.267)])  # D
def test_a_bird_that_crosses_the_view(focal_length_mm: float, moved_px: float) -> None:
    assert motion_blur.subject_motion_px(10, 1 / 1000, focal_length_mm, 30, 5.97) == pytest.approx(
        moved_px, abs=1e-3
    )


def test_the_shutter_that_holds_it_is_the_inverse() -> None:
    shutter_s = motion_blur.shutter_for_motion_s(10, 2, 400, 30, 5.97)
    assert motion_blur.subject_motion_px(10, shutter_s, 400, 30, 5.97) == pytest.approx(2)
    assert math.isinf(motion_blur.shutter_for_motion_s(0, 2, 400, 30, 5.97))


def test_the_reciprocal_rule_and_a_stabiliser() -> None:  # C; CIPA DC-X011, S second-hand
    assert motion_blur.hand_held_shutter_s(400) == pytest.approx(1 / 400)
    assert motion_blur.hand_held_shutter_s(400, 5) == pytest.approx(0.08)


@pytest.mark.parametrize(
    ("cn2", "path_m", "r0_cm", "width_urad"), [(5e-15, 500, 9.37, 5.75), (1e-13, 100, 4.08, 13.2)]
)  # R
def test_coherence_length_of_a_spherical_wave(
    cn2: float, path_m: float, r0_cm: float, width_urad: float
) -> None:
    assert 100 * air.coherence_length_m(cn2, path_m) == pytest.approx(r0_cm, abs=5e-3)
    assert air.seeing_urad(cn2, path_m) == pytest.approx(width_urad, abs=0.05)


def test_shimmer_grows_with_distance() -> None:  # D: angle L^0.6
    assert air.seeing_urad(5e-15, 800) / air.seeing_urad(5e-15, 100) == pytest.approx(8**0.6)


def test_how_much_the_air_near_the_ground_moves() -> None:
    """Over 8 km by day Cn2 is 3e-15 to 6e-15 m^-2/3, about 1e-15 near sunrise and sunset (JOSA 1967,
    abstract, S)."""
    assert 3e-15 <= air.USUAL_CN2 <= 6e-15
    assert air.CALM_CN2 == 1e-15


def test_a_narrow_pupil_hides_the_air() -> None:  # D: a 71 mm pupil resolves 7.93 urad
    assert air.pupil_width_urad(71.4) == pytest.approx(7.93, abs=5e-3)
    assert not air.air_sets_the_limit(5e-15, 500, 71.4)
    assert air.air_sets_the_limit(1e-13, 100, 71.4)


@pytest.mark.parametrize("factor", [1.4, 2.0])
def test_holding_iso_instead_of_shutter_smears_as_the_cube_of_the_factor(factor: float) -> None:
    """m from the reach, m^2 from the longer exposure (D)."""
    bare = motion_blur.subject_motion_px(10, 1 / 1000, 400, 30, 5.97)
    held = motion_blur.subject_motion_px(10, factor**2 / 1000, 400 * factor, 30, 5.97)
    assert held / bare == pytest.approx(factor**3)


def test_blur_on_the_subject_grows_faster_than_the_distance() -> None:
    """The angle grows as L^0.6, so the size on the subject as L^1.6 (D)."""
    near, far = (air.seeing_urad(5e-15, path_m) * path_m for path_m in (100, 800))
    assert far / near == pytest.approx(8**1.6)


def test_the_thin_lens_adds_one_percent_at_thirty_metres() -> None:
    """22.636 px at f / (d - f) instead of f / d (D)."""
    far = motion_blur.subject_motion_px(10, 1 / 1000, 400, 30, 5.97)
    assert far * 30 / (30 - 0.4) == pytest.approx(22.636, abs=1e-3)
    assert motion_blur.subject_motion_px(10, 1 / 1000, 400, 29.6, 5.97) == pytest.approx(22.636, abs=1e-3)
