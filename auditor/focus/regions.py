"""Where in a picture to look: at the focus area, else where the picture is sharpest."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Region, cell_means

LEAST_PX = 512
LARGEST_PX = 1024
SEARCH_FROM = 1.25
"""An area larger than a region by this is searched for its sharpest part: a small subject must not read as
its background."""
SMALLEST_PX = 128
CORE_PX = 160
CELLS = 4
"""The search moves a square by a quarter of its side."""
ROWS_APART = 8
"""The search looks at every eighth row: enough for squares of hundreds of px, and quick."""


def side_px(shape: tuple[int, ...], magnified: float = 1.0) -> int:
    """The least side of a region: LEAST_PX, in a small picture a third of its longer side.

    Behind a converter it grows as the picture does, so that the kits that are compared look at one angle.

    Parameters
    ----------
    shape
        (rows, columns) of the upright picture.
    magnified
        Factor of the converter; 1 for none.

    Returns
    -------
    int
        Pixels, SMALLEST_PX to LARGEST_PX.
    """
    least = min(LARGEST_PX, round(LEAST_PX * max(1.0, magnified)))
    return min(least, max(SMALLEST_PX, max(shape) // 3))


def around(
    shape: tuple[int, int],
    x: float,
    y: float,
    width: float = 0.0,
    height: float = 0.0,
    *,
    least_px: int | None = None,
) -> Region:
    """A focus area grown to at least `least_px`, and moved inside the picture.

    Parameters
    ----------
    shape
        (rows, columns) of the upright picture.
    x, y, width, height
        Centre and size as fractions of the upright picture.
    least_px
        None for `side_px`.

    Returns
    -------
    Region
        Within the picture; smaller than `least_px` only where the picture is.
    """
    rows, columns = shape
    least = side_px(shape) if least_px is None else least_px
    top, bottom = _span(rows, y, height, least)
    left, right = _span(columns, x, width, least)
    return top, bottom, left, right


def sharpest_part(
    luma: NDArray[np.uint8], within: Region | None = None, *, least_px: int | None = None
) -> Region:
    """The square with the strongest fine detail, in a region or in the whole picture.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    within
        Where to look, px; None for everywhere.
    least_px
        Side of the square; None for `side_px`.

    Returns
    -------
    Region
        A square; the middle of what was searched where that holds no other.
    """
    return sharpest_parts(luma, within, least_px=least_px)[0]


def sharpest_parts(
    luma: NDArray[np.uint8], within: Region | None = None, *, count: int = 1, least_px: int | None = None
) -> list[Region]:
    """The squares with the strongest detail, the strongest first; no two of them overlap.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    within
        Where to look, px; None for everywhere.
    count
        At most so many.
    least_px
        Side of the squares; None for `side_px`.

    Returns
    -------
    list[Region]
        At least one.
    """
    top, bottom, left, right = within or (0, luma.shape[0], 0, luma.shape[1])
    shape = (luma.shape[0], luma.shape[1])
    side = side_px(luma.shape) if least_px is None else least_px
    cell = side // CELLS
    high, wide = (bottom - top) // cell, (right - left) // cell
    if high < CELLS or wide < CELLS:
        x, y = (left + right) / 2 / shape[1], (top + bottom) / 2 / shape[0]
        return [around(shape, x, y, least_px=side)]
    cells = _strength(luma[top : top + high * cell, left : left + wide * cell], (high, wide))
    squares = np.lib.stride_tricks.sliding_window_view(cells, (CELLS, CELLS)).sum(axis=(2, 3))
    parts: list[Region] = []
    for place in np.argsort(squares, axis=None)[::-1]:
        row, column = divmod(int(place), squares.shape[1])
        y = (top + (row + CELLS / 2) * cell) / shape[0]
        x = (left + (column + CELLS / 2) * cell) / shape[1]
        region = around(shape, x, y, least_px=side)
        if not any(overlap(region, other) for other in parts):
            parts.append(region)
        if len(parts) == count:
            break
    return parts


def strongest(luma: NDArray[np.uint8], among: list[Region]) -> Region:
    """The region with the strongest fine detail.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    among
        At least one region, px.

    Returns
    -------
    Region
        One of `among`.
    """
    return max(
        among,
        key=lambda region: float(_strength(luma[region[0] : region[1], region[2] : region[3]], (1, 1)).sum()),
    )


def _strength(luma: NDArray[np.uint8], grid: tuple[int, int]) -> NDArray[Any]:
    """Fine detail of each cell of a grid, from differences between pairs of px along some rows.

    Strong edges count more than many weak ones: noise and grass are everywhere.
    """
    rows = luma[:: min(ROWS_APART, max(1, luma.shape[0] // 8))]
    even = rows.shape[1] // 2 * 2
    pairs = rows[:, 0:even:2].astype(np.float32)
    pairs += rows[:, 1:even:2]
    squared = np.square(pairs[:, 1:] - pairs[:, :-1])
    return np.asarray(np.sqrt(cell_means(np.square(squared), grid)))


def overlap(one: Region, other: Region) -> bool:
    """Whether two regions share a pixel.

    Parameters
    ----------
    one, other
        Regions of one picture, px.

    Returns
    -------
    bool
        False where they only touch.
    """
    return shared(one, other) > 0


def shared(one: Region, other: Region) -> float:
    """The share of the first region that lies in the other.

    Parameters
    ----------
    one, other
        Regions of one picture, px.

    Returns
    -------
    float
        0 to 1.
    """
    high = min(one[1], other[1]) - max(one[0], other[0])
    wide = min(one[3], other[3]) - max(one[2], other[2])
    return max(0, high) * max(0, wide) / ((one[1] - one[0]) * (one[3] - one[2]))


def is_large(region: Region, least_px: int = LEAST_PX) -> bool:
    """Whether a region is so large that a small subject could be lost in it.

    Parameters
    ----------
    region
        The region, px.
    least_px
        What a region is grown to.

    Returns
    -------
    bool
        True from SEARCH_FROM times `least_px` to a side on.
    """
    return max(region[1] - region[0], region[3] - region[2]) > SEARCH_FROM * least_px


def _span(length: int, centre: float, share: float, least: int) -> tuple[int, int]:
    size = min(length, max(least, round(length * share)))
    start = round(length * centre - size / 2)
    start = min(max(start, 0), length - size)
    return start, start + size
