"""Luma arrays: regions of them, blurring and halving them. Arrays are (rows, columns), float32, 0 to 255."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

Luma = NDArray[np.float32]
Region = tuple[int, int, int, int]
"""First row, row after the last, first column, column after the last; px."""

HALVED_VARIANCE_PX2 = 0.25
"""Averaging two neighbours blurs by this variance, in px of the finer picture."""

BLUR_REACH = 3.0
"""A Gaussian is cut off at so many sigma: beyond lies 0.3 % of it."""


def cut(luma: NDArray[Any], region: Region | None) -> Luma:
    """A region as float32.

    Parameters
    ----------
    luma
        uint8 or float, shape (rows, columns).
    region
        In px; None for all of it.

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


def blurred(luma: Luma, sigma_px: float) -> Luma:
    """Convolved with a Gaussian; edges are continued by their last pixel."""
    import cv2

    side = 2 * math.ceil(BLUR_REACH * sigma_px) + 1
    return np.asarray(
        cv2.GaussianBlur(luma, (side, side), sigma_px, borderType=cv2.BORDER_REPLICATE), np.float32
    )


def slopes(luma: Luma) -> tuple[Luma, Luma]:
    """Central differences a px, downwards and across; same shape, 0 along borders that lack a neighbour."""
    import cv2

    down, across = np.zeros_like(luma), np.zeros_like(luma)
    cv2.addWeighted(luma[2:], 0.5, luma[:-2], -0.5, 0, dst=down[1:-1])
    cv2.addWeighted(luma[:, 2:], 0.5, luma[:, :-2], -0.5, 0, dst=across[:, 1:-1])
    return down, across


def halved(luma: Luma) -> Luma:
    """Averages of 2 x 2 px; an odd last row or column is left away."""
    import cv2

    rows, columns = luma.shape[0] // 2, luma.shape[1] // 2
    even = np.ascontiguousarray(luma[: rows * 2, : columns * 2])
    return np.asarray(cv2.resize(even, (columns, rows), interpolation=cv2.INTER_AREA), np.float32)
