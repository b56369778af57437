"""Where a straight slanted edge crosses a picture, so that its contrast can be measured there."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.focus.luminance import Luma, Region
from auditor.focus.slanted_edge import EdgeResponse, edge_response

SIDE_PX = 128
STEP_PX = 32
SMOOTHED_PX = 2.0
"""For finding alone, so that noise does not hide the direction of an edge."""
BEST_SLANT_DEG = (2.0, 12.0)
"""Off the columns or rows: under it, too few rows fill the quarter-pixel bins."""
LEAST_STRAIGHT = 0.9
"""Share of the gradient energy that must lie along one direction: 1 for a straight edge alone."""
CENTRED_SHARE = 0.95
"""Of the gradient energy, in the middle half across the edge: so that both its sides are in the square."""
LEAST_STEP = 25.0
"""Grey levels of 255 from the dark to the bright side."""
CLIPPED_SHARE = 0.02
WHITE, BLACK = 250, 4
LIFTED_SHARE = 0.05
"""Contrast over that of the flat sides: neither a lens nor a pixel gives that, only sharpening."""
NOISY_SNR = 12.0
"""Step over noise under which the response spreads by 5 % and more from shot to shot (ISO 12233 trial, S)."""

EDGE_WARNINGS = {
    "clipped": "one side of the edge is pure white or black: expose it between them",
    "angled": "the edge is not 2 to 12 degrees off the sides of the frame: turn the target or the camera",
    "noisy": "the edge is noisy: use a lower ISO or more light",
    "sharpened": "the picture was sharpened: fine contrast stands over that of the flat sides",
}
"""Words in `MeasuredEdge.warnings`."""


@dataclass(frozen=True, slots=True)
class MeasuredEdge:
    """An edge and its response."""

    region: Region
    response: EdgeResponse
    step: float
    """From dark to bright, grey levels of 255."""
    noise: float
    """Standard deviation on its flat sides, grey levels of 255."""
    warnings: tuple[str, ...]


def linear(luma: NDArray[np.uint8]) -> NDArray[np.float64]:
    """Linear light of 8-bit luma by the sRGB curve (IEC 61966-2-1), 0 to 1.

    Parameters
    ----------
    luma
        uint8, any shape.

    Returns
    -------
    NDArray[np.float64]
        Shape of `luma`, 0 to 1.
    """
    share = np.asarray(luma, dtype=float) / 255
    return np.where(share <= 0.04045, share / 12.92, ((share + 0.055) / 1.055) ** 2.4)


def slant_of_strongest_deg(luma: NDArray[np.uint8]) -> float | None:
    """Degrees between the strongest straight edge, whatever its slant, and the side that it is nearer to.

    Parameters
    ----------
    luma
        uint8, shape (rows, columns).

    Returns
    -------
    0 to 45; None where no edge is straight.
    """
    if min(luma.shape) < SIDE_PX:
        return None
    across, down = _slopes(luma)
    xx, yy, xy = (_window_sums(_step_sums(product)) for product in (across**2, down**2, across * down))
    energy = xx + yy
    straight = np.hypot(xx - yy, 2 * xy) >= LEAST_STRAIGHT * np.maximum(energy, 1e-9)
    # A step of so many levels, smoothed, leaves about this much over the length of a square.
    straight &= energy > LEAST_STEP**2 * SIDE_PX / 8
    if not straight.any():
        return None
    place = np.unravel_index(int(np.where(straight, energy, 0.0).argmax()), energy.shape)
    normal_deg = abs(float(np.degrees(0.5 * np.arctan2(2 * xy[place], xx[place] - yy[place]))))
    return min(normal_deg, 90 - normal_deg)


def find_edges(luma: NDArray[np.uint8], *, most: int = 4) -> list[Region]:
    """Squares that hold one straight edge at a usable slant, the strongest first, none overlapping.

    Parameters
    ----------
    luma
        uint8, shape (rows, columns).
    most
        Of each direction (near upright, near level).

    Returns
    -------
    list[Region]
        Squares of SIDE_PX to a side; first those with an edge near upright, then near level. Empty where none
        is usable.
    """
    if min(luma.shape) < SIDE_PX:
        return []
    across, down = _slopes(luma)
    products = {"xx": across * across, "yy": down * down, "xy": across * down}
    cells = {name: _step_sums(product) for name, product in products.items()}
    sums = {name: _window_sums(within) for name, within in cells.items()}
    energy = sums["xx"] + sums["yy"]
    straight = np.hypot(sums["xx"] - sums["yy"], 2 * sums["xy"]) / np.maximum(energy, 1e-9)
    normal_deg = np.degrees(0.5 * np.arctan2(2 * sums["xy"], sums["xx"] - sums["yy"]))
    regions: list[Region] = []
    for upright in (True, False):
        off_deg = np.abs(normal_deg) if upright else 90 - np.abs(normal_deg)
        low, high = BEST_SLANT_DEG
        usable = (straight >= LEAST_STRAIGHT) & (off_deg >= low) & (off_deg <= high)
        middle = _window_sums(cells["xx"] + cells["yy"], *((0, 1) if upright else (1, 0)))
        usable &= middle >= CENTRED_SHARE * energy
        regions += _apart(np.where(usable, energy, 0.0), most)
    return regions


def measure_edge(luma: NDArray[np.uint8], region: Region) -> MeasuredEdge:
    """The response of the edge in a region, with what is wrong with it.

    Parameters
    ----------
    luma
        uint8, shape (rows, columns).
    region
        That holds one edge, as `find_edges` gives it.

    Returns
    -------
    MeasuredEdge
        The response, step and noise of the edge, and words for what spoils it.

    Raises
    ------
    ValueError
        where the region holds no edge that can be measured.
    """
    top, bottom, left, right = region
    piece = luma[top:bottom, left:right]
    response = edge_response(linear(piece))
    upright = piece if response.follows == "columns" else piece.T
    edge = max(4, upright.shape[1] // 8)
    dark, bright = sorted((upright[:, :edge], upright[:, -edge:]), key=lambda side: float(side.mean()))
    step = float(np.median(bright)) - float(np.median(dark))
    if step < LEAST_STEP:
        raise ValueError(f"region has an edge of only {step:.0f} grey levels; it must be {LEAST_STEP:.0f}")
    noise = max(_flat_noise(dark), _flat_noise(bright))
    return MeasuredEdge(region, response, step, noise, _warnings(response, dark, bright, step, noise))


def _slopes(luma: NDArray[np.uint8]) -> tuple[Luma, Luma]:
    """Across and down, grey levels a px, of the picture smoothed by SMOOTHED_PX."""
    from scipy.ndimage import gaussian_filter, sobel

    smooth = gaussian_filter(luma, SMOOTHED_PX, output=np.float32, truncate=3.0)
    across, down = (np.asarray(sobel(smooth, axis=axis) / 8, np.float32) for axis in (1, 0))
    return across, down


def _step_sums(values: Luma) -> NDArray[np.float64]:
    """Sums over cells of STEP_PX; what is left at the right and below is left away."""
    rows, columns = (length // STEP_PX for length in values.shape)
    whole = values[: rows * STEP_PX, : columns * STEP_PX].reshape(rows, STEP_PX, columns, STEP_PX)
    return np.asarray(whole.sum(axis=1, dtype=np.float64).sum(axis=2))


def _window_sums(cells: NDArray[np.float64], down: int = 0, across: int = 0) -> NDArray[np.float64]:
    """Sums over squares of SIDE_PX at each STEP_PX, without so many cells above and below, left and right."""
    side = SIDE_PX // STEP_PX
    windows = np.lib.stride_tricks.sliding_window_view(cells, (side, side))
    return np.asarray(windows[..., down : side - down, across : side - across].sum(axis=(2, 3)))


def _apart(strength: NDArray[np.float64], most: int) -> list[Region]:
    left = strength.copy()
    reach = math.ceil(SIDE_PX / STEP_PX)
    regions: list[Region] = []
    strongest = left.max(initial=0.0)
    while len(regions) < most and left.size and left.max() > max(0.2 * strongest, 1e-6):
        row, column = np.unravel_index(int(left.argmax()), left.shape)
        top, start = int(row) * STEP_PX, int(column) * STEP_PX
        regions.append((top, top + SIDE_PX, start, start + SIDE_PX))
        left[max(0, row - reach + 1) : row + reach, max(0, column - reach + 1) : column + reach] = 0
    return regions


def _flat_noise(side: NDArray[np.uint8]) -> float:
    """From differences down the columns, so that a slow shade along the edge does not count."""
    return float(np.diff(side.astype(float), axis=0).std() / math.sqrt(2))


def _warnings(
    response: EdgeResponse,
    dark: NDArray[np.uint8],
    bright: NDArray[np.uint8],
    step: float,
    noise: float,
) -> tuple[str, ...]:
    words = []
    if (bright >= WHITE).mean() > CLIPPED_SHARE or (dark <= BLACK).mean() > CLIPPED_SHARE:
        words.append("clipped")
    if not BEST_SLANT_DEG[0] <= response.angle_deg <= BEST_SLANT_DEG[1]:
        words.append("angled")
    if noise > 0 and step / noise < NOISY_SNR:
        words.append("noisy")
    below_half = response.cycles_per_px <= 0.5
    if response.contrast[below_half].max() > 1 + LIFTED_SHARE:
        words.append("sharpened")
    return tuple(words)
