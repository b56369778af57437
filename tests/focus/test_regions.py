"""Where in a picture to look, on pictures drawn so that only one answer is right."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.focus import regions
from tests.focus.drawn import discs, gaussian_kernel


def plain(rows: int, columns: int) -> NDArray[np.uint8]:
    return np.full((rows, columns), 120, np.uint8)


def with_detail(
    picture: NDArray[np.uint8], row: int, column: int, side_px: int, contrast: float = 1.0
) -> NDArray[np.uint8]:
    drawn = 120 + contrast * (discs(gaussian_kernel(0.6), side_px=side_px).astype(float) - 120)
    picture[row : row + side_px, column : column + side_px] = np.clip(drawn, 0, 255)
    return picture


def test_the_search_moves_by_quarters_of_its_square() -> None:
    """Detail that fills a square a quarter off any whole one is found as it lies."""
    picture = with_detail(plain(1536, 2304), 128 * 3, 128 * 5, 512)
    assert regions.sharpest_part(picture, least_px=512) == (384, 896, 640, 1152)


def test_strong_edges_count_more_than_noise_everywhere() -> None:
    """Noise of 10 grey levels holds more power than one edge of 100 in 512 px does (D: 400 to 156)."""
    noise = np.random.default_rng(3).normal(120, 10, (512, 512))
    edge = np.full((512, 512), 80)
    edge[:, 256:] = 180
    picture = np.hstack([noise, edge]).astype(np.uint8)
    _top, _bottom, first, last = regions.sharpest_part(picture, least_px=512)
    assert first < 512 + 256 < last
    left, right = (0, 512, 0, 512), (0, 512, 512, 1024)
    assert regions.strongest(picture, [left, right]) == right


def test_parts_come_strongest_first_and_none_overlaps() -> None:
    picture = plain(1536, 2304)
    places = [(0, 0), (1024, 1536), (0, 1536)]
    for contrast, (row, column) in zip((0.3, 1.0, 0.6), places, strict=True):
        with_detail(picture, row, column, 512, contrast)
    found = regions.sharpest_parts(picture, count=3, least_px=512)
    assert [(part[0], part[2]) for part in found] == [(1024, 1536), (0, 1536), (0, 0)]
    many = regions.sharpest_parts(picture, count=6, least_px=512)
    assert not any(regions.overlap(one, other) for one, other in itertools.combinations(many, 2))


@pytest.mark.parametrize(("side", "large"), [(512, False), (640, False), (641, True)])
def test_from_a_quarter_more_than_a_region_on_an_area_is_searched(side: int, large: bool) -> None:
    assert regions.is_large((100, 100 + side, 0, 300)) == large
    assert regions.is_large((0, 300, 100, 100 + side)) == large
    assert regions.is_large((0, 717, 0, 300), 717) is False


def test_what_two_regions_share() -> None:
    one = (0, 100, 0, 200)
    assert regions.shared(one, (50, 150, 100, 400)) == 0.25
    assert regions.shared((50, 150, 100, 400), one) == pytest.approx(5000 / 30000)
    assert regions.overlap(one, (99, 150, 199, 250))
    assert not regions.overlap(one, (100, 150, 0, 200)), "they only touch"


@pytest.mark.parametrize(
    ("shape", "magnified", "side"),
    [
        ((200, 300), 1.0, 128),  # a third would show too little
        ((4000, 6000), 0.7, 512),  # what makes the angle wider makes no region smaller
        ((6000, 9000), 3.0, 1024),
    ],
)
def test_the_side_of_a_region_has_its_limits(shape: tuple[int, int], magnified: float, side: int) -> None:
    assert regions.side_px(shape, magnified) == side


def test_only_what_lies_within_is_searched() -> None:
    picture = with_detail(plain(2048, 2304), 0, 0, 512)
    with_detail(picture, 1024, 1280, 512, 0.5)
    found = regions.sharpest_part(picture, (640, 2048, 768, 2304), least_px=512)
    assert found == (1024, 1536, 1280, 1792)
