"""Pictures of known blur, drawn by formula: edges are integrals of what blurs them."""

from __future__ import annotations

from math import radians
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.special import erf


def edge(
    sigma_px: float, angle_deg: float = 5.0, *, side_px: int = 384, low: float = 40, high: float = 200
) -> NDArray[np.uint8]:
    """A straight edge, blurred by a Gaussian, point-sampled."""
    rows, columns = np.mgrid[0:side_px, 0:side_px] - (side_px - 1) / 2
    turn = radians(angle_deg)
    across = columns * np.cos(turn) + rows * np.sin(turn)
    return to_bytes(40 + 160 * 0.5 * (1 + erf(across / (sigma_px * np.sqrt(2)))))


def bars(
    sigma_px: float, angle_deg: float = 8.0, *, side_px: int = 384, period_px: float = 48
) -> NDArray[np.uint8]:
    """Many edges, wide apart, blurred by a Gaussian."""
    rows, columns = np.mgrid[0:side_px, 0:side_px].astype(float)
    turn = radians(angle_deg)
    across = columns * np.cos(turn) + rows * np.sin(turn)
    total = np.zeros_like(across)
    for number in range(-40, 60):
        place = number * 24
        total += (1 if number % 2 == 0 else -1) * 0.5 * (1 + erf((across - place) / (sigma_px * np.sqrt(2))))
    return to_bytes(60 + 130 * (total - total.min()) / np.ptp(total))


def discs(kernel: NDArray[Any], *, side_px: int = 384, seed: int = 3) -> NDArray[np.uint8]:
    """Discs, drawn four times as large, blurred by a kernel of that size, averaged down, with noise."""
    from scipy.signal import oaconvolve

    chance = np.random.default_rng(seed)
    big = side_px * 4
    place = np.arange(big)
    picture = np.full((big, big), 110.0)
    for _disc in range(60):
        y, x, radius = chance.uniform(0, big), chance.uniform(0, big), chance.uniform(60, 180)
        rows, columns = place[np.abs(place - y) < radius], place[np.abs(place - x) < radius]
        inside = (rows[:, None] - y) ** 2 + (columns[None] - x) ** 2 < radius**2
        window = picture[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]
        window[inside] = chance.uniform(40, 215)
    profile = kernel.sum(axis=0) / kernel.sum()
    if np.abs(kernel - kernel.sum() * np.outer(profile, profile)).max() < 1e-12:
        down = _blurred_and_averaged(profile, side_px)  # line by line it takes half of the time
        return to_bytes(down @ picture @ down.T)
    blurred = oaconvolve(np.pad(picture, 100, mode="reflect"), kernel / kernel.sum(), "same")[
        100:-100, 100:-100
    ]
    return to_bytes(blurred.reshape(side_px, 4, side_px, 4).mean(axis=(1, 3)))


def lights(sigma_px: float, *, side_px: int = 448, count: int = 60, seed: int = 5) -> NDArray[np.uint8]:
    """The sun on drops before dark ripples, far brighter than white, out of focus by a disc; gamma-coded.

    A defocused point of light is a disc of even brightness (Born and Wolf, Principles of Optics, geometric
    limit, from memory), cut off where it is over white.
    """
    from scipy.signal import oaconvolve

    chance = np.random.default_rng(seed)
    ripples = np.cumsum(chance.normal(0, 0.01, (side_px, side_px)), axis=1)
    linear = 0.06 + np.clip(0.03 * (ripples - ripples.mean()) / ripples.std(), -0.04, 0.1)
    places = chance.integers(0, side_px, (2, count))
    linear[places[0], places[1]] += chance.uniform(30, 400, count)
    reach = int(2 * sigma_px) + 2  # of a disc sigma is half of the radius
    steps = (np.arange(-5 * reach - 2, 5 * reach + 3)) / 5
    inside = (steps[:, None] ** 2 + steps[None] ** 2 <= (2 * sigma_px) ** 2).astype(float)
    kernel = inside[: 5 * (2 * reach + 1), : 5 * (2 * reach + 1)]
    kernel = kernel.reshape(2 * reach + 1, 5, 2 * reach + 1, 5).mean(axis=(1, 3))
    pad = 3 * reach
    blurred = oaconvolve(np.pad(linear, pad, mode="reflect"), kernel / kernel.sum(), "same")[
        pad:-pad, pad:-pad
    ]
    noisy = blurred + chance.normal(0, 1, blurred.shape) * np.sqrt(np.clip(blurred, 0, 1) / 8000 + 1e-6)
    return to_bytes(255 * np.clip(noisy, 0, 1) ** (1 / 2.2))


def _blurred_and_averaged(profile: NDArray[Any], side_px: int) -> NDArray[Any]:
    """What each pixel takes from each of the four times as many: blurred, reflected at the ends, averaged."""
    reach, last = len(profile) // 2, 4 * side_px - 1
    pixels, parts, steps = np.ogrid[0:side_px, 0:4, -reach : reach + 1]
    places = last - np.abs(last - np.abs(4 * pixels + parts + steps))
    shares = np.zeros((side_px, 4 * side_px))
    np.add.at(shares, (pixels, places), profile / 4)
    return shares


def gaussian_kernel(sigma_px: float) -> NDArray[Any]:
    """At four times the size."""
    reach = int(16 * sigma_px) + 2
    steps = np.arange(-reach, reach + 1) / 4
    return np.exp(-(steps[:, None] ** 2 + steps[None] ** 2) / (2 * sigma_px**2))


def disc_kernel(diameter_px: float) -> NDArray[Any]:
    reach = int(2 * diameter_px) + 2
    steps = np.arange(-reach, reach + 1) / 4
    return (np.hypot(steps[:, None], steps[None]) <= diameter_px / 2).astype(float)


def line_kernel(length_px: float, direction_deg: float) -> NDArray[Any]:
    """Motion by so many px; 0 along a row, 90 upwards along a column."""
    reach = int(2 * length_px) + 4
    steps = np.arange(-reach, reach + 1) / 4
    turn = radians(direction_deg)
    along = steps[None] * np.cos(turn) - steps[:, None] * np.sin(turn)
    beside = steps[None] * np.sin(turn) + steps[:, None] * np.cos(turn)
    return np.asarray(((np.abs(along) <= length_px / 2) & (np.abs(beside) <= 0.3)).astype(float))


def to_bytes(values: NDArray[Any]) -> NDArray[np.uint8]:
    return np.asarray(np.clip(np.rint(values), 0, 255).astype(np.uint8))
