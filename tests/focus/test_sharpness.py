"""The reading: ordered by blur, refusing what it cannot tell, the same twice."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.focus import regions
from auditor.focus.misplacement import sharper_elsewhere
from auditor.focus.sharpness import READING_FLAGS, SOFT_FROM_PX, decided, measure, over
from tests.focus.drawn import discs, gaussian_kernel, lights, line_kernel


def test_more_blur_reads_as_more() -> None:
    readings = [measure(discs(gaussian_kernel(sigma))) for sigma in (0.5, 0.9, 1.4, 2.2, 3.5)]
    sigmas = [one.sigma_px or 0.0 for one in readings]
    assert sigmas == sorted(sigmas)
    assert readings[0].kind == "sharp"
    assert readings[-1].kind == "soft"


def test_low_and_high_enclose_the_blur() -> None:
    for sigma in (0.7, 1.5, 3.0):
        reading = measure(discs(gaussian_kernel(sigma)))
        assert reading.low is not None
        assert reading.high is not None
        assert reading.low <= sigma <= reading.high


@pytest.mark.parametrize("picture", [np.full((300, 300), 90), np.zeros((300, 300)), np.full((300, 300), 255)])
def test_a_flat_picture_tells_nothing_and_says_why(picture: np.ndarray) -> None:
    reading = measure(picture.astype(np.uint8))
    assert (reading.kind, reading.sigma_px, reading.low, reading.high) == ("undetermined", None, None, None)
    assert reading.flags == ("too_little_texture",)


def test_noise_alone_is_not_sharpness() -> None:
    chance = np.random.default_rng(1)
    noise = np.clip(110 + chance.normal(0, 12, (400, 400)), 0, 255).astype(np.uint8)
    assert measure(noise).kind != "sharp"


def test_a_region_too_small_is_refused_with_its_reason() -> None:
    assert measure(np.zeros((40, 400), np.uint8)).flags == ("region_too_small",)
    assert set(READING_FLAGS) >= {"region_too_small", "too_little_texture"}


def test_the_same_picture_reads_the_same_and_is_not_changed() -> None:
    picture = discs(gaussian_kernel(1.0))
    before = picture.copy()
    assert measure(picture) == measure(picture)
    np.testing.assert_array_equal(picture, before)


def test_a_turned_or_mirrored_picture_reads_nearly_the_same() -> None:
    picture = discs(gaussian_kernel(1.6))
    upright = measure(picture).sigma_px or 0.0
    for other in (picture.T, picture[::-1], picture[:, ::-1]):
        assert measure(other).sigma_px == pytest.approx(upright, rel=0.1)


@pytest.mark.parametrize("sigma_px", [0.5, 0.8, 2.5])
@pytest.mark.parametrize("side_px", [64, 112, 160, 224])
def test_a_small_region_reads_as_the_picture_that_it_is_a_part_of(sigma_px: float, side_px: int) -> None:
    picture = discs(gaussian_kernel(sigma_px))
    whole = measure(picture)
    for top, left in ((64, 80), (150, 120), (0, 160), (96, 16), (384 - side_px, 384 - side_px)):
        part = measure(picture, region=(top, top + side_px, left, left + side_px))
        assert part.kind == whole.kind
        assert part.sigma_px == pytest.approx(whole.sigma_px, rel=0.2)


@pytest.mark.parametrize("direction_deg", [0, 30, 90, 150])
def test_motion_is_told_with_its_direction(direction_deg: float) -> None:
    reading = measure(discs(line_kernel(12, direction_deg)))
    assert reading.kind == "smeared"
    assert reading.direction_deg is not None
    apart = abs(reading.direction_deg - direction_deg) % 180
    assert min(apart, 180 - apart) < 12


@pytest.mark.parametrize("seed", [7, 11])
def test_motion_is_told_near_the_limit_too_and_the_limit_stays_the_reason(seed: int) -> None:
    near = measure(discs(line_kernel(6, 30), seed=seed))
    assert near.quantiles_px is not None
    assert over(near.quantiles_px, SOFT_FROM_PX) is None
    assert (near.kind, near.flags) == ("smeared", ("near_criterion",))
    assert near.direction_deg == pytest.approx(30, abs=12)
    assert measure(discs(line_kernel(4, 30), seed=seed)).kind == "sharp"


@pytest.mark.parametrize("count", [12, 60])
@pytest.mark.parametrize("sigma_px", [1.6, 2.5, 4.0, 6.0, 8.0])
def test_glints_out_of_focus_are_not_sharp_though_their_discs_have_clear_rims(
    sigma_px: float, count: int
) -> None:
    reading = measure(lights(sigma_px, count=count))
    assert reading.kind == "soft"
    assert reading.sigma_px == pytest.approx(sigma_px, rel=0.25)


@pytest.mark.parametrize("count", [12, 60])
def test_glints_in_focus_stay_sharp(count: int) -> None:
    assert measure(lights(0.4, count=count)).kind == "sharp"


def test_a_region_is_measured_by_itself() -> None:
    left, right = discs(gaussian_kernel(0.5)), discs(gaussian_kernel(4.0))
    picture = np.hstack([left, right])
    assert measure(picture, region=(0, 384, 0, 384)) == measure(left)
    with pytest.raises(ValueError, match="region"):
        measure(picture, region=(0, 385, 0, 384))
    with pytest.raises(ValueError, match="shape"):
        measure(np.zeros((10, 10, 3), np.uint8))


def test_a_camera_that_blurs_more_itself_leaves_less_for_focus() -> None:
    picture = discs(gaussian_kernel(1.5))
    plain, soft_camera = measure(picture), measure(picture, camera_blur_px=0.9)
    assert (soft_camera.sigma_px or 9) < (plain.sigma_px or 0)
    assert soft_camera.system_sigma_px == plain.system_sigma_px


def test_half_of_the_interval_decides() -> None:
    assert decided(2.0, 1.5, 3.0, 1.2) is True
    assert decided(0.6, 0.4, 0.9, 1.2) is False
    assert decided(1.2, 0.8, 1.8, 1.2) is None


def test_focus_that_went_elsewhere_is_found_and_focus_in_place_is_not() -> None:
    sharp, soft = discs(gaussian_kernel(0.5), side_px=512), discs(gaussian_kernel(4.0), side_px=512)
    picture = np.hstack([soft, soft, sharp])
    area = regions.around((512, 1536), 0.17, 0.5)
    found = sharper_elsewhere(picture, area, measure(picture, region=area))
    assert found is not None
    (_top, _bottom, left, _right), reading = found
    assert left >= 900
    assert reading.kind == "sharp"
    on_sharp = regions.around((512, 1536), 0.83, 0.5)
    assert sharper_elsewhere(picture, on_sharp, measure(picture, region=on_sharp)) is None
    all_soft = np.hstack([soft, soft[::-1], soft])
    assert sharper_elsewhere(all_soft, area, measure(all_soft, region=area)) is None


class TestRegions:
    def test_a_small_area_is_grown_and_kept_inside(self) -> None:
        assert regions.around((4000, 6000), 0.5, 0.5, 0.01, 0.01) == (1744, 2256, 2744, 3256)
        assert regions.around((4000, 6000), 0.0, 1.0) == (3488, 4000, 0, 512)

    def test_a_picture_smaller_than_the_region_is_taken_whole(self) -> None:
        assert regions.around((100, 90), 0.5, 0.5) == (0, 100, 0, 90)

    def test_a_large_area_keeps_its_size(self) -> None:
        top, bottom, left, right = regions.around((4000, 6000), 0.5, 0.5, 0.5, 0.5)
        assert (bottom - top, right - left) == (2000, 3000)
        assert regions.is_large((top, bottom, left, right))

    def test_a_small_subject_before_a_plain_background_is_found(self) -> None:
        picture = np.full((2000, 3000), 120, np.uint8)
        picture[1300:1500, 2100:2300] = discs(gaussian_kernel(0.6), side_px=200)
        top, bottom, left, right = regions.sharpest_part(picture)
        assert top <= 1350
        assert bottom >= 1450
        assert left <= 2150
        assert right >= 2250
