"""What one frame keeps so that frames of its scene can be compared: its power spectrum, in rings.

The ratio of two frames' spectra tells how much more blurred one is than the other, whatever the subject looks
like, as long as it is the same subject, about as large, under the same settings (`scene_blur`).
"""

from __future__ import annotations

import zlib
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Region

LARGEST_LOG2 = 100.0
"""No power that was measured comes near 2 to this."""
RINGS = 28
LOWEST = 0.008
"""Cycles/px where the rings begin: two periods in a part of 256 px, below which its window decides."""
HIGHEST = 0.5
SECTORS = 4
"""Directions of change: along rows, falling, down columns, rising; motion blurs them unlike."""
PARTS = 5
"""The middle of the square, then its quarters: from above left, by rows."""
ROWS = SECTORS + PARTS
STEP = 1 / 64
"""Of logarithms to the base 2, as stored."""
_BEFORE_BYTES = 2 * ROWS * RINGS
"""Of numbers of half precision; as many before zlib packs them."""
SIDE_PX = 512
SMALLEST_PX = 256
GAMMA = 2.2
_EDGES = LOWEST + (HIGHEST - LOWEST) * (np.arange(RINGS + 1) / RINGS) ** 1.3
"""Rings of a fine width where large blur shows, wider ones beyond."""


def frequencies() -> NDArray[np.float64]:
    """The middle of each ring, cycles/px (root of the mean of the squares of both edges)."""
    return np.asarray(np.sqrt((_EDGES[1:] ** 2 + _EDGES[:-1] ** 2) / 2))


def ring_spectrum(luma: NDArray[np.uint8], region: Region) -> NDArray[np.float32] | None:
    """Mean power in each ring, of a square around a region's centre by direction, and of five parts of it.

    Parameters
    ----------
    luma
        The upright picture, shape (rows, columns).
    region
        What was read. Its centre counts, and its size only beyond SIDE_PX, so that frames of a scene whose
        regions differ can be compared.

    Returns
    -------
    Shape (ROWS, RINGS): the square's SECTORS, then its PARTS. Power of linear light, which does not depend on
    the side; None where the picture is too small.
    """
    square = _square((luma.shape[0], luma.shape[1]), region)
    if square is None:
        return None
    top, left, side = square
    linear = _linear()[luma[top : top + side, left : left + side]]
    half, quarter = side // 2, side // 4
    corners = ((quarter, quarter), (0, 0), (0, half), (half, 0), (half, half))
    cells = np.stack([_power(linear[row : row + half, column : column + half]) for row, column in corners])
    count = _tables(half)[2]
    sectors = (cells / np.maximum(count, 1)).mean(axis=0)
    parts = cells.sum(axis=1) / count.sum(axis=0)
    return np.concatenate([sectors, parts]).astype(np.float32)


def packed(rings: NDArray[Any] | None) -> bytes | None:
    """As stored: logarithms to the base 2, in steps, as what each ring adds to the last one; packed by zlib.

    Some 330 bytes a frame; numbers of half precision, as they were stored before, take 504.

    Parameters
    ----------
    rings
        Power, shape (ROWS, RINGS); None where there is none.

    Returns
    -------
    bytes or None
        With a checksum.
    """
    if rings is None:
        return None
    steps = np.round(np.log2(np.maximum(rings, 1e-12)) / STEP).astype("<i2")
    added = np.diff(steps, axis=1, prepend=np.int16(0)).astype("<i2")
    # The low bytes of all, then the high ones, which are nearly all alike.
    stored = zlib.compress(added.view(np.uint8).reshape(-1, 2).T.tobytes(), 9)
    return stored if len(stored) != _BEFORE_BYTES else stored + b"\0"


def unpacked(stored: bytes | None) -> NDArray[np.float64] | None:
    """Power as it was packed, shape (ROWS, RINGS); None for what is not there, or was changed since.

    Parameters
    ----------
    stored
        As `packed` gave it.

    Returns
    -------
    NDArray[np.float64] or None
        To within 1 %.
    """
    if stored is None:
        return None
    if len(stored) == _BEFORE_BYTES:
        logs = np.frombuffer(stored, "<f2").astype(np.float64).reshape(ROWS, RINGS)
    else:
        try:
            unpacking = zlib.decompressobj()
            data = unpacking.decompress(stored, _BEFORE_BYTES + 1)
        except zlib.error:
            return None
        if not unpacking.eof or len(data) != _BEFORE_BYTES:
            return None
        added = np.frombuffer(data, np.uint8).reshape(2, -1).T.copy().view("<i2").reshape(ROWS, RINGS)
        logs = STEP * np.cumsum(added, axis=1)
    return np.asarray(2.0**logs) if (logs < LARGEST_LOG2).all() else None


def _square(shape: tuple[int, int], region: Region) -> tuple[int, int, int] | None:
    """First row, first column and side: at the region's centre, moved inside the picture."""
    top, bottom, left, right = region
    side = min(SIDE_PX, *shape) // 4 * 4
    if side < SMALLEST_PX:
        return None
    row = min(max((top + bottom - side) // 2, 0), shape[0] - side)
    column = min(max((left + right - side) // 2, 0), shape[1] - side)
    return row, column, side


def _power(square: NDArray[np.float32]) -> NDArray[Any]:
    from scipy import fft

    side = square.shape[0]
    window, cell, _count, scale = _tables(side)
    spectrum = fft.rfft2((square - (square * window).sum() / window.sum()) * window)
    power = np.square(spectrum.real) + np.square(spectrum.imag)
    summed = np.bincount(cell, power.ravel(), SECTORS * RINGS + 1)[: SECTORS * RINGS]
    return np.asarray(summed.reshape(SECTORS, RINGS) * scale)


@lru_cache(maxsize=8)
def _tables(side: int) -> tuple[NDArray[np.float32], NDArray[np.intp], NDArray[np.intp], float]:
    """Window, each frequency's sector and ring, how many these have, and what frees power from the side."""
    line = np.hanning(side + 1)[:side]
    window = np.outer(line, line).astype(np.float32)
    down, across = np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None]
    ring = np.searchsorted(_EDGES, np.hypot(down, across), side="right") - 1
    sector = np.round(np.arctan2(down, across) / (np.pi / SECTORS)).astype(int) % SECTORS
    outside = (ring < 0) | (ring >= RINGS)
    cell = np.where(outside, SECTORS * RINGS, sector * RINGS + ring).ravel()
    count = np.bincount(cell, minlength=SECTORS * RINGS + 1)[: SECTORS * RINGS].reshape(SECTORS, RINGS)
    return window, cell, count, float(1 / np.square(window).sum())


@lru_cache(maxsize=1)
def _linear() -> NDArray[np.float32]:
    """Linear light, 0 to 255, of each grey level."""
    return np.asarray(255 * (np.arange(256) / 255) ** GAMMA, np.float32)
