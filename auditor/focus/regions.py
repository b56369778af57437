"""Where in a picture to look: at the focus area, else where the picture is sharpest."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Region, shrunk, slopes

LEAST_PX = 512
LARGEST_PX = 1024
"""A larger focus area is searched for its sharpest part: a small subject must not read as its background."""
OVERVIEW_SCALE = 4
SMALLEST_PX = 128


def side_px(shape: tuple[int, ...]) -> int:
    """The least side of a region: LEAST_PX, in a small picture a third of its longer side."""
    return min(LEAST_PX, max(SMALLEST_PX, max(shape) // 3))


def around(shape: tuple[int, int], x: float, y: float, width: float = 0.0, height: float = 0.0) -> Region:
    """A focus area grown to at least LEAST_PX, and moved inside the picture.

    Parameters
    ----------
    shape
        (rows, columns) of the upright picture.
    x, y, width, height
        Centre and size as fractions of the upright picture.
    """
    rows, columns = shape
    least = side_px(shape)
    top, bottom = _span(rows, y, height, least)
    left, right = _span(columns, x, width, least)
    return top, bottom, left, right


def sharpest_part(luma: NDArray[np.uint8], within: Region | None = None) -> Region:
    """The square with the strongest fine detail, in a region or in the whole picture."""
    return sharpest_parts(luma, within)[0]


def sharpest_parts(luma: NDArray[np.uint8], within: Region | None = None, *, count: int = 1) -> list[Region]:
    """The squares with the strongest detail, the strongest first; no two of them overlap."""
    top, bottom, left, right = within or (0, luma.shape[0], 0, luma.shape[1])
    side_full = side_px(luma.shape)
    scale = OVERVIEW_SCALE if side_full == LEAST_PX else 2
    picture = shrunk(luma[top:bottom, left:right], scale)
    down, across = slopes(picture)
    energy = down * down + across * across
    half = side_full // scale // 2
    high, wide = max(1, energy.shape[0] // half), max(1, energy.shape[1] // half)
    tiles = energy[: high * half, : wide * half]
    if not tiles.size or high < 2 or wide < 2:
        return [around(luma.shape, (left + right) / 2 / luma.shape[1], (top + bottom) / 2 / luma.shape[0])]
    # Strong edges count more than many weak ones: noise and grass are everywhere.
    cells = np.sqrt((tiles.reshape(high, half, wide, half) ** 2).mean(axis=(1, 3)))
    squares = cells[:-1, :-1] + cells[1:, :-1] + cells[:-1, 1:] + cells[1:, 1:]
    found: list[Region] = []
    for place in np.argsort(squares, axis=None)[::-1]:
        row, column = divmod(int(place), squares.shape[1])
        y = (top + (row + 1) * half * scale) / luma.shape[0]
        x = (left + (column + 1) * half * scale) / luma.shape[1]
        region = around((luma.shape[0], luma.shape[1]), x, y)
        if not any(overlap(region, other) for other in found):
            found.append(region)
        if len(found) == count:
            break
    return found


def overlap(one: Region, other: Region) -> bool:
    """Whether two regions share a pixel."""
    return one[0] < other[1] and other[0] < one[1] and one[2] < other[3] and other[2] < one[3]


def is_large(region: Region) -> bool:
    """Whether a region is so large that a small subject could be lost in it."""
    return max(region[1] - region[0], region[3] - region[2]) > LARGEST_PX


def _span(length: int, centre: float, share: float, least: int) -> tuple[int, int]:
    size = min(length, max(least, round(length * share)))
    first = round(length * centre - size / 2)
    first = min(max(first, 0), length - size)
    return first, first + size
