"""From quantiles to a reading: chances, what decides, what is too wide, two readings as one."""

from __future__ import annotations

import math

import numpy as np
import pytest

from auditor.focus import network
from auditor.focus.network import LEVELS, Tiles, Told
from auditor.focus.sharpness import (
    CAMERA_BLUR_PX,
    MOTION_FROM_SHARE,
    Seen,
    SharpnessReading,
    either,
    over,
    part_read,
    probability_under,
    reading_of,
    without_camera,
)
from tests.focus.drawn import discs, gaussian_kernel

NORMAL = (-1.645, -1.282, -0.842, -0.385, 0.0, 0.385, 0.842, 1.282, 1.645)
"""Quantiles of the normal distribution at LEVELS (tables of it; R)."""


def spread_about(sigma_px: float, factor: float) -> tuple[float, ...]:
    """Quantiles whose logarithms are normal; a spread away is `factor` times as much."""
    return tuple(sigma_px * factor**place for place in NORMAL)


@pytest.mark.parametrize("level", range(len(LEVELS)))
def test_at_a_quantile_the_chance_is_its_level(level: int) -> None:
    quantiles = spread_about(1.2, 1.3)
    assert probability_under(quantiles, quantiles[level]) == pytest.approx(LEVELS[level])


def test_between_two_quantiles_the_logarithm_counts_and_beyond_them_half_for_each_step() -> None:
    quantiles = (0.5, 0.6, 0.7, 0.8, 1.0, 2.0, 2.5, 3.0, 3.6)
    assert probability_under(quantiles, math.sqrt(2.0)) == pytest.approx((0.5 + 0.65) / 2)
    assert probability_under(quantiles, 0.5 * 0.5 / 0.6) == pytest.approx(0.05 / 2)
    assert probability_under(quantiles, 3.6 * (3.6 / 3.0) ** 2) == pytest.approx(1 - 0.05 / 4)


@pytest.mark.parametrize(
    ("level", "said"), [(0, True), (1, True), (3, None), (4, None), (5, None), (7, False), (8, False)]
)
def test_a_verdict_must_be_four_in_five(level: int, said: bool | None) -> None:
    quantiles = spread_about(1.2, 1.3)
    assert over(quantiles, quantiles[level]) is said
    assert over(quantiles, quantiles[2] * 0.999) is True
    assert over(quantiles, quantiles[2] * 1.001) is None
    assert over(quantiles, quantiles[6] * 1.001) is False


def test_the_cameras_own_blur_is_taken_out_as_squares() -> None:
    """Blurs of Gaussians add as squares (D)."""
    assert without_camera(1.2, CAMERA_BLUR_PX) == pytest.approx(1.2)
    assert without_camera(1.2, 0.9) == pytest.approx(math.sqrt(1.44 + CAMERA_BLUR_PX**2 - 0.81))
    assert without_camera(0.3, 2.0) == pytest.approx(0.1), "never nothing"


def read(
    monkeypatch: pytest.MonkeyPatch,
    sigma_px: tuple[float, ...],
    *,
    motion: float = 0.0,
    off: float = 0.2,
    system_px: float = 1.0,
) -> SharpnessReading:
    """What a reading makes of what the network says; each tile may be off by so many doublings."""
    said = Told(sigma_px=sigma_px, system_px=(system_px,) * 9, motion_share=motion, direction_deg=30.0)
    monkeypatch.setattr(network, "read", lambda *_asked, **_more: said)
    blur, spread = np.zeros((2, 2), np.float32), np.full((2, 2), math.log(off), np.float32)
    return reading_of(Seen(Tiles(np.zeros((2, 2, 1), np.float32), blur, spread), 1.0))


@pytest.mark.parametrize(
    ("sigma_px", "motion", "kind"),
    [
        (3.0, 0.01, "smeared"),
        (3.0, -0.01, "soft"),
        (1.3, 0.01, "smeared"),  # near the limit, and rather over it
        (1.1, 0.01, "undetermined"),
        (0.6, 0.4, "sharp"),
    ],
)
def test_only_blur_over_the_limit_is_called_motion(
    monkeypatch: pytest.MonkeyPatch, sigma_px: float, motion: float, kind: str
) -> None:
    found = read(monkeypatch, spread_about(sigma_px, 1.25), motion=MOTION_FROM_SHARE + motion)
    assert found.kind == kind
    assert found.direction_deg == (30.0 if kind == "smeared" else None)


@pytest.mark.parametrize(
    ("ends", "told"),
    [
        ((0.8, 4.7), True),
        ((0.8, 4.9), False),  # over six times as much
        ((0.1, 2.0), True),  # whatever is under what the sharpest pieces read counts as that: .35
        ((0.1, 2.2), False),
    ],
)
def test_an_interval_of_more_than_six_times_tells_nothing(
    monkeypatch: pytest.MonkeyPatch, ends: tuple[float, float], told: bool
) -> None:
    """Of the 10 % and 90 % quantiles."""
    low, high = ends
    sigma_px = (low * 0.9, *np.geomspace(low, high, 7).tolist(), high * 1.1)
    found = read(monkeypatch, sigma_px)
    assert (found.sigma_px is not None) == told
    assert told or found.flags == ("too_little_texture",)


@pytest.mark.parametrize(("factor", "why"), [(1.45, "near_criterion"), (1.6, "too_little_texture")])
def test_near_the_limit_is_said_only_of_what_is_known_well(
    monkeypatch: pytest.MonkeyPatch, factor: float, why: str
) -> None:
    """A 90 % interval of 3.4 times, and one of 4.7: 1.6 to the power of 2 x 1.645."""
    found = read(monkeypatch, spread_about(1.2, factor))
    assert (found.kind, found.flags) == ("undetermined", (why,))


def test_system_blur_is_the_networks_own_and_never_under_blur(monkeypatch: pytest.MonkeyPatch) -> None:
    assert read(monkeypatch, spread_about(0.6, 1.2), system_px=0.9).system_sigma_px == 0.9
    assert read(monkeypatch, spread_about(1.5, 1.2), system_px=0.9).system_sigma_px == 1.5
    rounded = read(monkeypatch, spread_about(1.50006, 1.2), system_px=0.9)
    assert rounded.sigma_px is not None
    assert rounded.system_sigma_px is not None
    assert rounded.system_sigma_px >= rounded.sigma_px


@pytest.mark.parametrize(("off", "texture"), [(0.3, 1.0), (0.4, 0.0)])
def test_texture_is_what_tells_by_itself(monkeypatch: pytest.MonkeyPatch, off: float, texture: float) -> None:
    """Tiles that may be off by three tenths of a doubling do, by four tenths do not."""
    assert read(monkeypatch, spread_about(0.6, 1.2), off=off).texture == texture


def test_of_two_readings_each_is_as_likely(monkeypatch: pytest.MonkeyPatch) -> None:
    """D: the chance is the mean of both chances."""
    sharp, soft = (read(monkeypatch, spread_about(sigma_px, 1.1)) for sigma_px in (0.5, 4.0))
    both = either(sharp, soft, "area_mostly_background")
    assert both.quantiles_px is not None
    assert (both.kind, both.flags) == ("undetermined", ("area_mostly_background",))
    assert both.low == both.quantiles_px[0]
    assert both.high == both.quantiles_px[-1]
    for quantile, level in zip(both.quantiles_px, LEVELS, strict=True):
        chances = [probability_under(one.quantiles_px or (), quantile) for one in (sharp, soft)]
        assert np.mean(chances) == pytest.approx(level, abs=0.02)


def test_of_a_region_over_640_px_the_strongest_part_is_read() -> None:
    picture = np.full((1600, 2000), 120, np.uint8)
    picture[700:1100, 900:1300] = discs(gaussian_kernel(0.6), side_px=400)
    assert part_read(picture, (0, 640, 0, 640)) == (0, 640, 0, 640)
    top, bottom, left, right = part_read(picture, (100, 1500, 200, 1900))
    assert (bottom - top, right - left) == (640, 640)
    assert top <= 700 < 1100 <= bottom
    assert left <= 900 < 1300 <= right
