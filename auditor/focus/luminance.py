"""Luma arrays: regions of them, and means over cells. Arrays are (rows, columns), float32, 0 to 255."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

Luma = NDArray[np.float32]
Region = tuple[int, int, int, int]
"""First row, row after the last, first column, column after the last; px."""


def cut(luma: NDArray[Any], region: Region | None) -> Luma:
    """A region as float32.

    Parameters
    ----------
    luma
        uint8 or float, shape (rows, columns).
    region
        In px; None for all of it.

    Returns
    -------
    Luma
        A copy, float32, shape of the region.

    Raises
    ------
    ValueError
        for an array that is no picture, or a region that is not inside it.
    """
    if luma.ndim != 2:
        raise ValueError(f"luma must have shape (rows, columns), not {luma.shape}")
    if region is None:
        return luma.astype(np.float32)
    top, bottom, left, right = region
    rows, columns = luma.shape
    if not (0 <= top < bottom <= rows and 0 <= left < right <= columns):
        raise ValueError(f"region {region} is not inside a picture of {rows} x {columns} px")
    return luma[top:bottom, left:right].astype(np.float32)


def cell_means(values: Luma, grid: tuple[int, int]) -> Luma:
    """Means over the cells of an even grid; a pixel on a border counts in both cells by its share.

    Parameters
    ----------
    values
        Shape (rows, columns).
    grid
        Cells down and across, at most one to a pixel.

    Returns
    -------
    Luma
        Shape `grid`.

    Raises
    ------
    ValueError
        for more cells than pixels.
    """
    if not (0 < grid[0] <= values.shape[0] and 0 < grid[1] <= values.shape[1]):
        raise ValueError(f"grid of {grid[0]} x {grid[1]} cells is too fine for {values.shape} pixels")
    sums = _cell_sums(_cell_sums(values, grid[0]).T, grid[1]).T
    return sums * np.float32(grid[0] * grid[1] / values.size)


def _cell_sums(values: Luma, count: int) -> Luma:
    """Sums over `count` equal spans of rows."""
    starts, rest = np.divmod(np.arange(count + 1) * len(values), count)
    if not rest.any():
        return np.asarray(values.reshape(count, -1, values.shape[1]).sum(axis=1))
    # A span that ends within a row takes that row's share, and leaves the other share to the next span.
    shares = (rest / count).astype(np.float32)[:, None] * values[np.minimum(starts, len(values) - 1)]
    return np.asarray(np.add.reduceat(values, starts[:-1], axis=0) + np.diff(shares, axis=0))
