"""Focus that went elsewhere, in pictures so small that what is sharp lies close to the focus area."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from auditor.focus.frame_measurement import measure_frame
from auditor.focus.misplacement import sharper_elsewhere
from auditor.focus.regions import around
from auditor.focus.sharpness import look, measure, reading_of
from tests.focus.drawn import discs, gaussian_kernel


@cache
def drawn_discs(sigma_px: float) -> np.ndarray:
    return discs(gaussian_kernel(sigma_px), side_px=544)


def picture(sharp_from_row: int, times: int) -> np.ndarray:
    """540 x 360 px, or twice as large, soft down to a row and sharp below it."""
    soft, sharp = (np.pad(drawn_discs(px), ((0, 200), (0, 540)), "symmetric") for px in (4.0, 0.5))
    drawn = soft[: 360 * times, : 540 * times].copy()
    drawn[sharp_from_row:] = sharp[sharp_from_row : 360 * times, : 540 * times]
    return drawn


@pytest.mark.parametrize("times", [1, 2])
def test_a_sharp_strip_below_a_soft_focus_area_is_elsewhere(times: int) -> None:
    """The region of 180 px leaves 80 rows below it, or twice as much: less than a square of its own size.

    By itself it reads soft; from what lies around the smaller one, the strip reads through it.
    """
    drawn = picture(280 * times, times)
    region = around((360 * times, 540 * times), 0.5, 0.5)
    assert region[1] < 280 * times
    by_itself = reading_of(look(drawn, region, alone=True))
    assert sharper_elsewhere(drawn, region, by_itself) is not None
    assert measure_frame(drawn, [(0.5, 0.5, 0.08, 0.1)]).kind == "elsewhere"


@pytest.mark.parametrize("times", [1, 2])
@pytest.mark.parametrize("soft_share", [0, 1])
def test_a_picture_of_one_blur_has_no_elsewhere(soft_share: int, times: int) -> None:
    drawn = picture(soft_share * 360 * times, times)
    region = around((360 * times, 540 * times), 0.5, 0.5)
    assert sharper_elsewhere(drawn, region, measure(drawn, region=region)) is None
    assert measure_frame(drawn, [(0.5, 0.5, 0.08, 0.1)]).kind != "elsewhere"
