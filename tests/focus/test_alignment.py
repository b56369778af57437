"""How far a subject has moved between two pictures: known shifts of textures, and two subjects."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.ndimage import gaussian_filter

from auditor.focus.alignment import Shift, shift_between


def texture(seed: int, side: int = 300) -> NDArray[np.float32]:
    """A picture with detail of many sizes, as fur has."""
    noise = np.random.default_rng(seed).normal(size=(side, side))
    layers = [gaussian_filter(noise, sigma) * sigma for sigma in (1.5, 3, 6, 12)]
    return np.asarray(sum(layers), np.float32)


@pytest.mark.parametrize(("down", "right"), [(0, 0), (7, -12), (-31, 18), (40, 40)])
@pytest.mark.parametrize("blur_px", [0, 2.5])
def test_a_known_shift_is_found_also_when_the_second_is_blurred(
    down: int, right: int, blur_px: float
) -> None:
    scene = texture(1)
    first = scene[60:240, 60:240]
    second = gaussian_filter(scene, blur_px)[60 - down : 240 - down, 60 - right : 240 - right]
    shift = shift_between(first, second)
    assert shift is not None
    assert abs(shift.right_px - right) <= 1
    assert abs(shift.down_px - down) <= 1


def test_two_subjects_are_not_lined_up() -> None:
    found = [shift_between(texture(seed)[:180, :180], texture(seed + 50)[:180, :180]) for seed in range(20)]
    assert found.count(None) >= 18


def test_an_empty_picture_has_no_shift() -> None:
    assert shift_between(np.zeros((64, 64), np.float32), np.ones((64, 64), np.float32)) is None


def test_pictures_of_two_shapes_are_refused() -> None:
    with pytest.raises(ValueError, match=r"\(64, 64\)"):
        shift_between(np.zeros((64, 64), np.float32), np.zeros((64, 60), np.float32))


def test_a_shift_is_a_pair_of_pixels() -> None:
    picture = texture(3)[:128, :128]
    assert shift_between(picture, picture) == Shift(0.0, 0.0)


@pytest.mark.parametrize("seed", range(6))
def test_what_little_two_subjects_share_does_not_line_them_up(seed: int) -> None:
    """A third of one in the other, as of a shadow over both: peaks of .21 to .26; chance reaches .29."""
    one, other = texture(seed)[:180, :180], texture(seed + 50)[:180, :180]
    assert shift_between(one, 0.3 * one + other) is None
    assert shift_between(one, 0.6 * one + other) == Shift(0.0, 0.0)


@pytest.mark.parametrize(
    ("down", "right", "believed"),
    [(0, 70, True), (0, -70, True), (0, 74, False), (28, 0, True), (34, 0, False), (-34, 0, False)],
)
def test_a_shift_of_more_than_three_tenths_of_either_side_is_not_believed(
    down: int, right: int, believed: bool
) -> None:
    """Though its peak is clear: of 100 rows 30 are that, of 240 columns 72."""
    scene = texture(2, 500)
    second = scene[100 - down : 200 - down, 100 - right : 340 - right]
    found = shift_between(scene[100:200, 100:340], second)
    assert found == (Shift(float(right), float(down)) if believed else None)
