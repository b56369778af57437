"""Filters and noise, as transfer functions over the frequencies of a real two-dimensional FFT."""

from __future__ import annotations

from functools import lru_cache
from math import cos, pi, radians, sin

import numpy as np
from numpy.typing import NDArray

Plane = NDArray[np.float64]


def filtered(plane: Plane, transfer: Plane) -> Plane:
    """A plane with each of its frequencies weighed."""
    return np.asarray(np.fft.irfft2(np.fft.rfft2(plane) * transfer, s=plane.shape))


def gaussian(shape: tuple[int, int], sigma_px: float) -> Plane:
    """The transfer function of a Gaussian blur."""
    fy, fx = _frequencies(shape)
    return np.asarray(np.exp(-2 * pi**2 * sigma_px**2 * (fx**2 + fy**2)))


def line(shape: tuple[int, int], sigma_px: float, direction_deg: float) -> Plane:
    """Even motion: a line of standard deviation sigma is sigma * sqrt(12) long."""
    fy, fx = _frequencies(shape)
    along = fx * cos(radians(direction_deg)) + fy * sin(radians(direction_deg))
    return np.asarray(np.sinc(along * sigma_px * 12**0.5))


def disc(shape: tuple[int, int], radius_px: float) -> Plane:
    """Defocus: an even disc, drawn four times finer than a pixel so that small ones are true."""
    finer, reach = 4, int(np.ceil(radius_px)) + 1
    place = (np.arange((2 * reach + 1) * finer) + 0.5) / finer - reach - 0.5
    inside = (place[:, None] ** 2 + place[None, :] ** 2 <= radius_px**2).astype(float)
    side = 2 * reach + 1
    kernel = inside.reshape(side, finer, side, finer).sum(axis=(1, 3))
    if not kernel.sum():
        return np.ones((shape[0], shape[1] // 2 + 1))
    kernel /= kernel.sum()
    plane = np.zeros(shape)
    plane[:side, :side] = kernel
    plane = np.roll(plane, (-reach, -reach), axis=(0, 1))
    return np.asarray(np.fft.rfft2(plane).real)


def smooth_noise(seed: int, shape: tuple[int, int], sigma_px: float) -> Plane:
    """Noise without detail finer than sigma, of mean 0 and standard deviation 1."""
    return streaked_noise(seed, shape, sigma_px, sigma_px, 0.0)


@lru_cache(maxsize=64)
def streaked_noise(
    seed: int, shape: tuple[int, int], fine_px: float, long_px: float, angle_deg: float
) -> Plane:
    """Noise drawn out in one direction, as feathers and fur are; mean 0, standard deviation 1.

    Kept for the other frames of the encounter, which share its seeds.
    """
    fy, fx = _frequencies(shape)
    along = fx * cos(radians(angle_deg)) + fy * sin(radians(angle_deg))
    across = -fx * sin(radians(angle_deg)) + fy * cos(radians(angle_deg))
    kernel = np.exp(-2 * pi**2 * ((along * long_px) ** 2 + (across * fine_px) ** 2))
    noise = filtered(np.random.default_rng(seed).standard_normal(shape), kernel)
    return np.asarray((noise - noise.mean()) / (noise.std() + 1e-12))


def _frequencies(shape: tuple[int, int]) -> tuple[Plane, Plane]:
    """Cycles per pixel, down and across."""
    return np.asarray(np.fft.fftfreq(shape[0])[:, None]), np.asarray(np.fft.rfftfreq(shape[1])[None, :])
