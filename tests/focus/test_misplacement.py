"""Focus that went elsewhere, in pictures so small that what is sharp lies close to the focus area."""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from auditor.focus import misplacement
from auditor.focus.frame_measurement import measure_frame
from auditor.focus.luminance import Region
from auditor.focus.misplacement import sharper_elsewhere
from auditor.focus.regions import around
from auditor.focus.sharpness import SharpnessReading, look, measure, reading_of
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


def reads(sigma_px: float) -> SharpnessReading:
    """A reading that is sure of itself."""
    return SharpnessReading(
        sigma_px=sigma_px,
        low=sigma_px * 0.9,
        high=sigma_px * 1.1,
        system_sigma_px=sigma_px,
        noise=1.0,
        texture=1.0,
        kind="sharp" if sigma_px < 1.2 else "soft",
        direction_deg=None,
        quantiles_px=tuple(sigma_px * (1 + 0.02 * step) for step in range(-4, 5)),
    )


AREA = (0, 256, 0, 256)
ON_IT, NEAR, SECOND, THIRD = (0, 256, 100, 356), (0, 256, 200, 456), (512, 768, 0, 256), (512, 768, 512, 768)


@pytest.mark.parametrize(
    ("blurs", "found"),
    [
        ({NEAR: 3.0, SECOND: 1.9, THIRD: 3.0}, SECOND),  # twice as sharp as 4 px
        ({NEAR: 3.0, SECOND: 2.1, THIRD: 3.0}, None),
        ({NEAR: 0.5, SECOND: 0.9, THIRD: 0.9}, NEAR),  # 56 of its 256 columns are the area's
        ({NEAR: 0.9, SECOND: 0.5, THIRD: 0.9}, SECOND),  # the sharper, not the later
        ({ON_IT: 0.5, NEAR: 3.0, SECOND: 3.0}, None),  # too much of it is the area itself
        ({ON_IT: 0.5, NEAR: 3.0, SECOND: 0.9}, SECOND),  # and takes no other's place
        ({NEAR: 3.0, SECOND: 3.0, THIRD: 0.5}, None),  # two are looked at: each takes time
    ],
)
def test_which_part_is_elsewhere(
    monkeypatch: pytest.MonkeyPatch, blurs: dict[Region, float], found: Region | None
) -> None:
    """Of the parts with the strongest detail, in their order, each with the blur that it would read."""
    asked = []

    def read(_luma: object, *, region: Region, **by: object) -> SharpnessReading:
        asked.append(by)
        return reads(blurs[region])

    monkeypatch.setattr(misplacement, "sharpest_parts", lambda *_luma, **_asked: list(blurs))
    monkeypatch.setattr(misplacement, "measure", read)
    luma = np.zeros((1024, 1024), np.uint8)
    there = sharper_elsewhere(luma, AREA, reads(4.0), camera_blur_px=0.8, iso=3200.0)
    assert (there and there[0]) == found
    assert asked == [{"camera_blur_px": 0.8, "iso": 3200.0}] * 2  # as the area itself was read


@pytest.mark.parametrize(("shape", "side"), [((4000, 6000), 256), ((360, 540), 180), ((200, 300), 128)])
def test_parts_that_are_looked_at_are_small(
    monkeypatch: pytest.MonkeyPatch, shape: tuple[int, int], side: int
) -> None:
    """Two more than are read: some may be the area itself."""
    asked = []

    def none_of_them(_luma: object, **how: object) -> list[Region]:
        asked.append(how)
        return []

    monkeypatch.setattr(misplacement, "sharpest_parts", none_of_them)
    assert sharper_elsewhere(np.zeros(shape, np.uint8), AREA, reads(4.0)) is None
    assert asked == [{"count": 4, "least_px": side}]


@pytest.mark.parametrize("sigma_px", [1.2, 1.22, 0.6])
def test_an_area_that_is_not_surely_soft_is_not_compared(
    monkeypatch: pytest.MonkeyPatch, sigma_px: float
) -> None:
    monkeypatch.setattr(misplacement, "sharpest_parts", lambda *_luma, **_how: [SECOND])
    monkeypatch.setattr(misplacement, "measure", lambda _luma, **_how: reads(0.2))
    assert sharper_elsewhere(np.zeros((1024, 1024), np.uint8), AREA, reads(sigma_px)) is None
