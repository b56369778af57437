"""How a picture's contrast falls from coarse to fine, and how much faster along one direction.

The mean power spectrum of the richest squares of 64 px, in rings and directions: at the full size and at a
quarter of it. A disc's and a line's blur leave gaps in it that no gradient shows.
"""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma, halved

SIDE_PX = 64
MOST_SQUARES = 16
SMALL_PX = 160
"""In smaller regions the squares overlap by half, so that there are enough."""
RINGS = (0.02, 0.045, 0.07, 0.1, 0.14, 0.19, 0.25, 0.33, 0.5)
"""Cycles a pixel."""
DIRECTIONS = 8
FALLING = slice(2, 6)
"""Rings by which the direction of the fastest fall is told."""
SCALES = (1, 4)
_PARTS = ("mean", "fastest", "slowest")
NAMES = tuple(
    f"spectrum_{scale}_{part}_{ring}" for scale in SCALES for part in _PARTS for ring in range(len(RINGS) - 1)
)


def numbers(luma: Luma) -> list[float]:
    """Logarithms of power in the order of NAMES, each less the coarsest ring's; NaN where it is too small."""
    return [*_of_size(luma), *_of_size(halved(halved(luma)))]


def _of_size(luma: Luma) -> list[float]:
    rings = len(RINGS) - 1
    if min(luma.shape) < SIDE_PX:
        return [float("nan")] * (rings * len(_PARTS))
    apart = SIDE_PX // 2 if min(luma.shape) < SMALL_PX else SIDE_PX
    windows = np.lib.stride_tricks.sliding_window_view(luma, (SIDE_PX, SIDE_PX))[::apart, ::apart]
    squares = windows.reshape(-1, SIDE_PX, SIDE_PX)
    contrast = squares[:, ::4, ::4].var(axis=(1, 2))
    richest = np.argsort(contrast)[::-1][: min(MOST_SQUARES, max(1, len(contrast) // 2))]
    chosen = squares[richest]
    chosen = (chosen - chosen.mean(axis=(1, 2), keepdims=True)) * _WINDOW
    power = np.square(np.abs(np.fft.rfft2(chosen))).mean(axis=0)
    cells = np.bincount(_CELL, power[_INSIDE], minlength=rings * DIRECTIONS) / _COUNT
    fall = np.log(cells + 1).reshape(rings, DIRECTIONS)
    fall -= fall[0].mean()
    turns = (fall[FALLING].mean(axis=0) * np.exp(2j * np.pi * np.arange(DIRECTIONS) / DIRECTIONS)).sum()
    slowest = round(float(np.angle(turns)) / (2 * np.pi) * DIRECTIONS) % DIRECTIONS
    fastest = (slowest + DIRECTIONS // 2) % DIRECTIONS
    return [*fall.mean(axis=1).tolist(), *fall[:, fastest].tolist(), *fall[:, slowest].tolist()]


def _cells() -> tuple[NDArray[np.bool_], NDArray[np.int64], NDArray[Any]]:
    """Which frequencies count, the ring and direction of each, and how many are in each cell."""
    down, across = np.fft.fftfreq(SIDE_PX)[:, None], np.fft.rfftfreq(SIDE_PX)[None]
    ring = np.digitize(np.hypot(down, across), RINGS) - 1
    turn = np.mod(np.arctan2(down, across), np.pi) / np.pi
    direction = np.rint(turn * DIRECTIONS).astype(np.int64) % DIRECTIONS
    inside = (ring >= 0) & (ring < len(RINGS) - 1)
    cell = (ring * DIRECTIONS + direction)[inside]
    return inside, cell, np.maximum(np.bincount(cell, minlength=(len(RINGS) - 1) * DIRECTIONS), 1)


_INSIDE, _CELL, _COUNT = _cells()
_HANN = np.hanning(SIDE_PX + 2)[1:-1].astype(np.float32)
_WINDOW = np.outer(_HANN, _HANN)
