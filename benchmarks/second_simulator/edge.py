"""The whole blur of a lens and a camera: an edge sent through both, and what is left of it."""

from __future__ import annotations

import math

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmarks.second_simulator import camera as cameras
from benchmarks.second_simulator.camera import Camera
from benchmarks.second_simulator.kernels import Kernel
from benchmarks.second_simulator.textures import Light

SIDE_PX = 256
SAMPLES = 2
SLANT_DEG = 5.7
DARK, BRIGHT = 0.1, 0.24
"""Light on both sides: a small step, on which a tone curve is nearly straight."""
BIN_PX = 0.25
MARGIN_PX = 24


def total_sigma_px(kernel: Kernel, camera: Camera, iso: float, random: np.random.Generator) -> float | None:
    """Sigma of the Gaussian that halves contrast where lens and camera do; px of the picture.

    The frequency of half the contrast (MTF50, ISO 12233) is not misled by the overshoot that sharpening
    leaves beside an edge. Averaged over an edge near the vertical and one near the level.
    """
    halves = [_half_at(luma) for luma in _edges(kernel, camera, iso, random)]
    known = [half for half in halves if half is not None]
    if len(known) < len(halves):
        return None
    return math.sqrt(math.log(2) / 2) / math.pi / (sum(known) / len(known))


def slanted(side: int) -> Light:
    """A step from dark to bright, nearly vertical, with antialiased borders; shape (side, side, 3)."""
    return np.repeat((DARK + (BRIGHT - DARK) * np.clip(_distance(side) + 0.5, 0, 1))[..., None], 3, axis=2)


def _edges(
    kernel: Kernel, camera: Camera, iso: float, random: np.random.Generator
) -> list[NDArray[np.float64]]:
    from benchmarks.second_simulator.pieces import blurred, on_sensor

    step = slanted(SIDE_PX * SAMPLES).astype(np.float32)
    found = []
    for light in (step, step.transpose(1, 0, 2)):
        seen = on_sensor(
            np.repeat(blurred(light[..., :1], kernel, camera, SAMPLES), 3, axis=2), camera, SAMPLES
        )
        luma = cameras.luma_of(cameras.shoot(seen, camera, iso, random)).astype(np.float64)
        found.append(luma if light is step else luma.T)
    return found


def _distance(side: int) -> NDArray[np.float64]:
    """Of each sample from the edge, in samples."""
    turn = math.radians(SLANT_DEG)
    rows, columns = np.mgrid[:side, :side] - (side - 1) / 2
    return np.asarray(columns * math.cos(turn) + rows * math.sin(turn))


def _half_at(luma: NDArray[np.float64]) -> float | None:
    """Frequency of half the contrast, cycles/px: the spectrum of an edge's slope (ISO 12233)."""
    side = luma.shape[0]
    inner = slice(MARGIN_PX, side - MARGIN_PX)
    distance = _distance(side)[inner, inner].ravel()
    keep = np.abs(distance) < side / 2 - 2 * MARGIN_PX
    bins = np.floor(distance[keep] / BIN_PX).astype(int)
    bins -= bins.min()
    count = np.maximum(np.bincount(bins), 1)
    profile = np.bincount(bins, luma[inner, inner].ravel()[keep]) / count
    slope = np.diff(profile)
    spread = np.hanning(slope.size)
    contrast = np.abs(np.fft.rfft(slope * spread))
    frequency = np.fft.rfftfreq(slope.size, BIN_PX)
    contrast = cv2.GaussianBlur(contrast[None], (3, 1), 0)[0] / contrast[0]
    below = np.flatnonzero(contrast < 0.5)
    if not below.size or below[0] == 0:
        return None
    last = int(below[0])
    share = (contrast[last - 1] - 0.5) / (contrast[last - 1] - contrast[last])
    return float(frequency[last - 1] + share * (frequency[last] - frequency[last - 1]))
