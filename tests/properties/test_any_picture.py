"""The reading of blur for any picture: never NaN, a reason for what is not told, the same from every side."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from auditor.focus.sharpness import READING_FLAGS, SharpnessReading, measure
from tests.focus.drawn import discs, gaussian_kernel


def sound(reading: SharpnessReading) -> None:
    numbers = (reading.sigma_px, reading.low, reading.high, reading.system_sigma_px)
    for number in (*numbers, reading.noise, reading.texture, reading.direction_deg):
        assert number is None or math.isfinite(number)
    assert set(reading.flags) <= set(READING_FLAGS)
    if reading.kind == "undetermined":
        assert reading.flags
    if reading.sigma_px is None:
        assert numbers == (None,) * 4
        assert reading.kind == "undetermined"
    else:
        assert reading.low is not None
        assert reading.high is not None
        assert 0 < reading.low <= reading.sigma_px <= reading.high


@settings(max_examples=60, deadline=None, derandomize=True)
@given(
    arrays.arrays(
        np.uint8,
        st.tuples(st.integers(0, 40), st.integers(0, 40)),
        elements=st.integers(0, 255),
    )
)
def test_tiny_pictures_are_refused_with_their_reason(luma: NDArray[np.uint8]) -> None:
    reading = measure(luma)
    sound(reading)
    assert reading.flags == ("region_too_small",)


@settings(max_examples=40, deadline=None, derandomize=True)
@given(
    rows=st.integers(60, 330),
    columns=st.integers(60, 330),
    level=st.integers(0, 255),
    spread=st.sampled_from([0, 0.4, 2, 10, 40, 200]),
    seed=st.integers(0, 1000),
)
def test_constant_noisy_and_clipped_pictures_give_sound_readings(
    rows: int, columns: int, level: int, spread: float, seed: int
) -> None:
    noise = np.random.default_rng(seed).normal(0, spread, (rows, columns))
    reading = measure(np.clip(level + noise, 0, 255).astype(np.uint8))
    sound(reading)
    if spread == 0:
        assert reading.kind == "undetermined"


@settings(max_examples=20, deadline=None, derandomize=True)
@given(seed=st.integers(0, 1000), share=st.floats(0.02, 0.98), side=st.integers(64, 300))
def test_pictures_of_nothing_but_black_and_white_give_sound_readings(
    seed: int, share: float, side: int
) -> None:
    chance = np.random.default_rng(seed)
    sound(measure(np.where(chance.random((side, side)) < share, 0, 255).astype(np.uint8)))


@settings(max_examples=12, deadline=None, derandomize=True)
@given(sigma_px=st.floats(0.5, 4.0), seed=st.integers(0, 50))
def test_turning_and_mirroring_change_little(sigma_px: float, seed: int) -> None:
    """By up to a fifth was seen: tiles and the rows that are looked at fall elsewhere."""
    picture = discs(gaussian_kernel(sigma_px), side_px=288, seed=seed)
    upright = measure(picture)
    sound(upright)
    assert upright.sigma_px is not None
    for other in (np.rot90(picture), np.rot90(picture, 2), picture[:, ::-1], picture.T):
        reading = measure(np.ascontiguousarray(other))
        assert reading.sigma_px == pytest.approx(upright.sigma_px, rel=0.3, abs=0.15)
        assert reading.system_sigma_px == pytest.approx(upright.system_sigma_px, rel=0.3)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(sigma_px=st.floats(0.6, 3.0), gain=st.floats(0.5, 1.0), seed=st.integers(0, 50))
def test_brightness_changes_little(sigma_px: float, gain: float, seed: int) -> None:
    picture = discs(gaussian_kernel(sigma_px), side_px=288, seed=seed)
    darker = (picture * gain).astype(np.uint8)
    plain, dark = measure(picture), measure(darker)
    assert dark.sigma_px == pytest.approx(plain.sigma_px, rel=0.25)
    # Of 220 pictures drawn so, those with .6 or more of the brightness stayed within .13, all within .16.
    bound = 0.15 if gain >= 0.6 else 0.2
    assert dark.system_sigma_px == pytest.approx(plain.system_sigma_px, rel=bound)


@settings(max_examples=10, deadline=None, derandomize=True)
@given(sigma_px=st.floats(0.8, 3.0), factor=st.floats(1.3, 2.5), seed=st.integers(0, 50))
def test_more_blur_of_the_same_scene_reads_as_more(sigma_px: float, factor: float, seed: int) -> None:
    less = measure(discs(gaussian_kernel(sigma_px), side_px=288, seed=seed))
    more = measure(discs(gaussian_kernel(sigma_px * factor), side_px=288, seed=seed))
    assert less.sigma_px is not None
    assert more.sigma_px is not None
    assert less.sigma_px < more.sigma_px
    assert (less.system_sigma_px or 0) < (more.system_sigma_px or 0)
