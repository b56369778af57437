"""Edges found in a drawn target, and what is wrong with them said."""

import math

import cv2
import numpy as np
import pytest
from numpy.typing import NDArray

from auditor.focus.edge_finding import find_edges, measure_edge


def target(
    sigma_px: float = 1.0, *, dark: float = 0.05, bright: float = 0.5, noise: float = 0.0, side_px: int = 600
) -> NDArray[np.uint8]:
    """A square turned by five degrees, in linear light, blurred, written by the sRGB curve."""
    rows, columns = np.indices((side_px * 4, side_px * 4)) / 4 - side_px / 2
    turn = math.radians(5)
    one = columns * math.cos(turn) + rows * math.sin(turn)
    other = rows * math.cos(turn) - columns * math.sin(turn)
    inside = (np.abs(one) < side_px / 4) & (np.abs(other) < side_px / 4)
    fine = cv2.GaussianBlur(np.where(inside, dark, bright).astype(np.float32), (0, 0), 4 * sigma_px)
    light = fine.reshape(side_px, 4, side_px, 4).mean(axis=(1, 3))
    light = np.clip(light + np.random.default_rng(7).normal(0, noise, light.shape), 0, 1)
    coded = np.where(light <= 0.0031308, light * 12.92, 1.055 * light ** (1 / 2.4) - 0.055)
    return np.asarray(np.round(coded * 255), dtype=np.uint8)


def test_both_directions_of_a_target_are_found() -> None:
    picture = target()
    follows = {measure_edge(picture, region).response.follows for region in find_edges(picture)}
    assert follows == {"columns", "rows"}


@pytest.mark.parametrize("sigma_px", [0.8, 1.2, 2.0])
def test_their_contrast_is_that_of_the_blur_drawn(sigma_px: float) -> None:
    """A Gaussian and a pixel: half contrast where exp(-2 (pi s u)^2) sinc(u) is a half (D)."""
    picture = target(sigma_px)
    frequencies = np.linspace(0.01, 0.5, 5000)
    truth = np.exp(-2 * (np.pi * sigma_px * frequencies) ** 2) * np.sinc(frequencies)
    expected = frequencies[np.argmax(truth < 0.5)]
    for region in find_edges(picture):
        assert measure_edge(picture, region).response.mtf50 == pytest.approx(expected, rel=0.02)


def test_a_clean_edge_has_no_warning() -> None:
    picture = target(noise=0.004)
    assert [measure_edge(picture, region).warnings for region in find_edges(picture)] == [()] * len(
        find_edges(picture)
    )


def test_a_clipped_a_noisy_and_a_sharpened_edge_are_named() -> None:
    clipped, noisy = target(bright=1.0), target(noise=0.04)
    soft = target(1.0).astype(float)
    sharpened = np.clip(soft + 1.5 * (soft - cv2.GaussianBlur(soft, (0, 0), 1.5)), 0, 255).astype(np.uint8)
    for picture, word in ((clipped, "clipped"), (noisy, "noisy"), (sharpened, "sharpened")):
        regions = find_edges(picture)
        assert regions
        assert all(word in measure_edge(picture, region).warnings for region in regions), word


@pytest.mark.parametrize("kind", ["flat", "noise", "level"])
def test_a_picture_without_such_an_edge_gives_none(kind: str) -> None:
    picture = np.full((400, 400), 90, dtype=np.uint8)
    if kind == "noise":
        picture = np.random.default_rng(3).integers(0, 255, (400, 400)).astype(np.uint8)
    elif kind == "level":
        picture[200:] = 160  # no slant
    assert find_edges(picture) == []
