"""Contrast by spatial frequency from a photograph of a slanted edge (e-SFR).

The steps are those of ISO 12233 (2014 copy, S): find the edge in every row, fit a line, project all pixels
along it into bins of a quarter pixel, differentiate, centre, window, transform, correct for the derivative.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BINS_PER_PX = 4
SMALLEST_SIDE_PX = 20
STEEPEST_DEG, FLATTEST_DEG = 1.0, 40.0
"""Angle of the edge to the column or row that it follows: nearer to it, the rows repeat each other and the
bins stay empty; flatter, the projection along rows no longer holds."""
LEAST_CONTRAST_SHARE = 0.3
"""From one side of the region to the other, as a share of all the values that it holds: noise has none."""


@dataclass(frozen=True, slots=True)
class EdgeResponse:
    """What an edge shows of the whole chain of lens, converter, sensor and development."""

    cycles_per_px: NDArray[np.float64]
    """Frequencies across the edge (along its normal), rising from 0."""
    contrast: NDArray[np.float64]
    """Share of contrast left at each, 1 at frequency 0."""
    angle_deg: float
    """Of the edge to the column (or row) that it follows."""
    follows: str
    """`columns` for an edge near upright, else `rows`."""

    def frequency_at(self, contrast: float) -> float | None:
        """First frequency at which so much contrast is left; None where it never falls that low.

        Parameters
        ----------
        contrast
            Share of contrast, below 1.

        Returns
        -------
        float or None
            Cycles per px, between two entries by a straight line.
        """
        below = np.flatnonzero(self.contrast < contrast)
        if not len(below) or below[0] == 0:
            return None
        last = int(below[0])
        high, low = self.contrast[last - 1], self.contrast[last]
        share = (high - contrast) / (high - low)
        return float(
            self.cycles_per_px[last - 1] + share * (self.cycles_per_px[last] - self.cycles_per_px[last - 1])
        )

    @property
    def mtf50(self) -> float | None:
        """Frequency at half contrast, cycles per px."""
        return self.frequency_at(0.5)

    @property
    def mtf10(self) -> float | None:
        """Frequency at a tenth of the contrast, cycles per px."""
        return self.frequency_at(0.1)


def edge_response(region: NDArray[np.float64]) -> EdgeResponse:
    """Measure the slanted edge that crosses a region.

    Parameters
    ----------
    region
        Linear light, shape (rows, columns), any unit; one straight edge from side to side.

    Returns
    -------
    EdgeResponse
        Contrast by frequency, from 0 to 1 cycle per px along the rows.

    Raises
    ------
    ValueError
        naming what is wrong: too small a region, no edge, an edge at an angle that cannot be used.
    """
    values = np.asarray(region, dtype=float)
    if values.ndim != 2 or min(values.shape) < SMALLEST_SIDE_PX:
        raise ValueError(f"region must be at least {SMALLEST_SIDE_PX} px to a side, not {values.shape}")
    across, along = (abs(float(np.diff(values, axis=axis).sum(axis=axis).mean())) for axis in (1, 0))
    follows = "columns" if across >= along else "rows"
    if follows == "rows":
        values = values.T
    spread = float(np.ptp(values))
    if spread == 0 or max(across, along) < LEAST_CONTRAST_SHARE * spread:
        raise ValueError("region has no edge from side to side")
    slope, offset = _line(values)
    angle_deg = abs(math.degrees(math.atan(slope)))
    if not STEEPEST_DEG <= angle_deg <= FLATTEST_DEG:
        raise ValueError(
            f"region has an edge {angle_deg:.1f} degrees off its {follows}; it must be "
            f"{STEEPEST_DEG:g} to {FLATTEST_DEG:g}"
        )
    spread_function = _line_spread(values, slope, offset)
    frequencies, contrast = _transformed(spread_function)
    # Bins run along the rows; across the edge the same distance is shorter by the cosine.
    return EdgeResponse(frequencies / math.cos(math.atan(slope)), contrast, angle_deg, follows)


def _line(values: NDArray[np.float64]) -> tuple[float, float]:
    """Slope and offset of the edge's column by row: centroids of each row's derivative, found twice.

    The second time under a window round the first line, so that noise far from the edge has no say.
    """
    rows = np.arange(values.shape[0], dtype=float)
    columns = np.arange(values.shape[1] - 1, dtype=float) + 0.5
    steps = np.diff(values, axis=1)
    steps *= np.sign(steps.sum())
    centres = np.full(len(rows), values.shape[1] / 2)
    slope, offset = 0.0, values.shape[1] / 2
    for width in (values.shape[1], values.shape[1] / 2, values.shape[1] / 4):
        window = _hamming(columns[None, :] - centres[:, None], width)
        weights = steps * window
        sums = weights.sum(axis=1)
        sums[np.abs(sums) < 1e-12] = np.nan
        crossings = (weights * columns).sum(axis=1) / sums
        usable = np.isfinite(crossings) & (crossings > 0) & (crossings < values.shape[1])
        if usable.sum() < len(rows) / 2:
            raise ValueError("region has no edge that can be followed from row to row")
        slope, offset = np.polyfit(rows[usable], crossings[usable], 1)
        centres = slope * rows + offset
    return float(slope), float(offset)


def _hamming(distance: NDArray[np.floating], width: float) -> NDArray[np.float64]:
    inside = np.abs(distance) <= width / 2
    return np.where(inside, 0.54 + 0.46 * np.cos(2 * np.pi * distance / width), 0.0)


def _line_spread(values: NDArray[np.float64], slope: float, offset: float) -> NDArray[np.float64]:
    rows, columns = np.indices(values.shape)
    distance = columns - (slope * rows + offset)
    reach = math.floor(min(values.shape[1] / 2, -distance.min(), distance.max()))
    bins = np.floor((distance + reach) * BINS_PER_PX).astype(int)
    length = 2 * reach * BINS_PER_PX
    inside = (bins >= 0) & (bins < length)
    counts = np.bincount(bins[inside], minlength=length)
    sums = np.bincount(bins[inside], weights=values[inside], minlength=length)
    filled = counts > 0
    if filled.mean() < 0.9:
        raise ValueError("region has too few rows for the slope of its edge: most bins stay empty")
    places = np.arange(length)
    edge = np.interp(places, places[filled], sums[filled] / counts[filled])
    spread = np.convolve(edge, [0.5, 0.0, -0.5], mode="valid")
    return spread if spread.sum() >= 0 else -spread


def _transformed(spread: NDArray[np.float64]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    places = np.arange(len(spread))
    weights = np.clip(spread, 0, None)
    centre = float((places * weights).sum() / weights.sum())
    windowed = spread * _hamming(places - centre, len(spread))
    contrast = np.abs(np.fft.rfft(windowed))
    frequencies = np.fft.rfftfreq(len(spread), 1 / BINS_PER_PX).astype(np.float64)
    # Central difference over two bins, and bins a quarter of a pixel wide, each lower contrast by a sinc.
    lost = np.sinc(2 * frequencies / BINS_PER_PX) * np.sinc(frequencies / BINS_PER_PX)
    kept = frequencies <= 1.0
    return frequencies[kept], contrast[kept] / contrast[0] / lost[kept]
