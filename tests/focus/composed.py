"""Frames composed of an animal, a background and what stands before it, each with its own blur."""

from __future__ import annotations

from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import gaussian_filter, uniform_filter1d, zoom

from tests.beside import PHOTOGRAPHS

ROWS, COLUMNS = 1024, 1536
MIDDLE = (512, 768)
NOISE = 1.5
"""Standard deviation, grey levels: that of a low ISO."""
Floats = NDArray[Any]


def scene(
    coat: Floats,
    sigma_px: float,
    behind: Floats,
    *,
    size_px: int = 420,
    twigs_px: float | None = None,
    seed: int = 1,
) -> NDArray[np.uint8]:
    """A frame with an animal in its middle.

    Parameters
    ----------
    coat
        Grey levels 0 to 255, at least as large as the animal.
    sigma_px
        The animal's blur, sigma.
    behind
        The background as the lens shows it: grey levels of a whole frame.
    twigs_px
        Blur of the twigs before it; None for no twigs.
    """
    chance = np.random.default_rng(seed)
    filled = np.roll(filling(coat), (37, 91), (0, 1))
    light = over(behind, filled, animal(size_px), sigma_px)
    if twigs_px is not None:
        light = over(light, np.full((ROWS, COLUMNS), 30.0), twigs(chance), twigs_px)
    light = light + chance.normal(0, NOISE, light.shape)
    return np.asarray(np.clip(np.rint(light), 0, 255).astype(np.uint8))


def background(behind: Floats | float, behind_px: float) -> Floats:
    """A background out of focus: grey levels of a whole frame, or one for a plain one."""
    if isinstance(behind, float):
        return np.full((ROWS, COLUMNS), behind)
    return np.asarray(gaussian_filter(behind, behind_px))


def filling(coat: Floats) -> Floats:
    """A coat mirrored until it fills a frame."""
    missing = [(0, max(0, side - have)) for side, have in zip((ROWS, COLUMNS), coat.shape, strict=True)]
    return np.pad(coat, missing, mode="symmetric")[:ROWS, :COLUMNS]


def over(light: Floats, near: Floats, mask: Floats, sigma_px: float) -> Floats:
    """Something before what is there, blurred with its own outline."""
    reach = int(4 * sigma_px) + 2  # where gaussian_filter() ends
    box = tuple(
        slice(max(0, int(held[0]) - reach), int(held[-1]) + reach + 1)
        for held in (np.flatnonzero(mask.any(axis=axis)) for axis in (1, 0))
    )
    seen = light.copy()
    cover = gaussian_filter(mask[box], sigma_px)
    seen[box] = light[box] * (1 - cover) + gaussian_filter(near[box] * mask[box], sigma_px)
    return seen


@lru_cache(maxsize=3)
def animal(size_px: int) -> Floats:
    """A body, a head and a tail: 1 inside."""
    down, across = np.mgrid[0:ROWS, 0:COLUMNS]
    y, x = (down - MIDDLE[0]) / size_px, (across - MIDDLE[1]) / size_px
    body = (x / 0.42) ** 2 + ((y + 0.12 * x) / 0.24) ** 2 < 1
    head = ((x - 0.4) / 0.14) ** 2 + ((y + 0.2) / 0.13) ** 2 < 1
    tail = (np.abs(y - 0.08 + 0.1 * x) < 0.05) & (x < -0.3) & (x > -0.62)
    return np.asarray((body | head | tail).astype(float))


def twigs(chance: np.random.Generator) -> Floats:
    """Two thin twigs across the middle: 1 inside."""
    down, across = np.mgrid[0:ROWS, 0:COLUMNS]
    layer = np.zeros((ROWS, COLUMNS))
    for slope, width_px in ((0.3, 4), (-0.2, 6)):
        y = MIDDLE[0] + float(chance.uniform(-30, 30)) + slope * (across - MIDDLE[1])
        layer[np.abs(down - y) < width_px / 2] = 1
    return layer


def fur(seed: int, side_px: int = 768) -> Floats:
    """Hair along a turning direction: noise drawn out in several directions, each where the field has it."""
    chance = np.random.default_rng(seed)
    field = zoom(chance.normal(size=(5, 5)), side_px / 5, order=3)[:side_px, :side_px]
    strands = [uniform_filter1d(chance.normal(size=(side_px, side_px)), 15, axis=axis) for axis in (0, 1)]
    mixed = np.where(field > 0, *strands)
    return np.asarray(np.clip(110 + 32 * mixed / mixed.std(), 5, 250))


def leaves(seed: int, rows: int = ROWS, columns: int = COLUMNS) -> Floats:
    """Ellipses of many greys over one another."""
    chance = np.random.default_rng(seed)
    light = np.full((rows, columns), 90.0)
    for _leaf in range(420):
        y, x = int(chance.integers(rows)), int(chance.integers(columns))
        long, turn = float(chance.uniform(18, 60)), float(chance.uniform(0, np.pi))
        reach = int(long)
        part = light[max(0, y - reach) : y + reach, max(0, x - reach) : x + reach]
        down = np.arange(part.shape[0])[:, None] + max(0, y - reach) - y
        across = np.arange(part.shape[1]) + max(0, x - reach) - x
        along = across * np.cos(turn) + down * np.sin(turn)
        beside = -across * np.sin(turn) + down * np.cos(turn)
        part[(along / long) ** 2 + (beside / (0.35 * long)) ** 2 < 1] = float(chance.uniform(30, 200))
    return light


def photograph(number: int) -> Floats:
    """A photograph that training never saw, made sharper by half its size."""
    names = sorted(PHOTOGRAPHS.glob("*.webp"))[::5]
    with Image.open(names[number]) as picture:
        grey = picture.convert("L")
        half = grey.resize((grey.width * 5 // 8, grey.height * 5 // 8), Image.Resampling.BOX)
    return np.asarray(half, float)
