"""Focus that went elsewhere, in pictures so small that what is sharp lies close to the focus area."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from auditor.focus.frame_measurement import measure_frame
from auditor.focus.misplacement import sharper_elsewhere
from auditor.focus.regions import around
from auditor.focus.sharpness import measure
from tests.focus.drawn import discs, gaussian_kernel


@cache
def drawn_discs(sigma_px: float) -> np.ndarray:
    return discs(gaussian_kernel(sigma_px), side_px=544)


def picture(sharp_from_row: int) -> np.ndarray:
    """1080 x 720 px, soft down to a row and sharp below it."""
    soft, sharp = (np.pad(drawn_discs(px), ((0, 200), (0, 540)), "symmetric") for px in (4.0, 0.5))
    drawn = soft[:720, :1080].copy()
    drawn[sharp_from_row:] = sharp[sharp_from_row:720, :1080]
    return drawn


def test_a_sharp_strip_below_a_soft_focus_area_is_elsewhere() -> None:
    """The region of 360 px leaves 180 rows below it: less than a square of its own size."""
    drawn = picture(560)
    region = around((720, 1080), 0.5, 0.5)
    assert region[1] < 560
    assert sharper_elsewhere(drawn, region, measure(drawn, region=region)) is not None
    assert measure_frame(drawn, [(0.5, 0.5, 0.08, 0.1)]).kind == "elsewhere"


@pytest.mark.parametrize("rows", [0, 720])
def test_a_picture_of_one_blur_has_no_elsewhere(rows: int) -> None:
    drawn = picture(rows)
    region = around((720, 1080), 0.5, 0.5)
    assert sharper_elsewhere(drawn, region, measure(drawn, region=region)) is None
