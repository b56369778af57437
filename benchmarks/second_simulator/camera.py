"""From light on the sensor to a JPEG: noise, demosaicking, noise reduction, tone, sharpening, scaling."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
import simplejpeg
from numpy.typing import NDArray
from scipy import ndimage

from benchmarks.second_simulator.textures import Light

DEMOSAICKING = ("bilinear", "edge aware", "colour differences", "half")
NOISE_REDUCTION = ("none", "wavelet", "non-local means", "colour only")
TONES = ("plain", "curve", "shoulder")
FULL_WELL = 32_000.0
"""Electrons that fill a pixel at ISO 100: a full-frame sensor of 24 megapixels, roughly."""
REDUCED_SHARE = 0.8
"""What is taken away of a detail that noise reduction holds for noise: some grain stays, as in cameras."""
_LUMA = np.array([0.299, 0.587, 0.114], np.float32)


@dataclass(frozen=True, slots=True, kw_only=True)
class Camera:
    """How one camera makes a picture."""

    demosaicking: str = "bilinear"
    white_balance: tuple[float, float, float] = (1.9, 1.0, 1.6)
    read_noise: float = 2.5
    """Electrons."""
    low_pass_px: float = 0.0
    """Half the distance of the four points that a low-pass filter makes of one; in sensor px."""
    reduction: str = "none"
    reduction_strength: float = 1.0
    tone: str = "curve"
    gamma: float = 2.2
    sharpening: float = 0.5
    sharpening_px: float = 1.0
    halo: float = 1.0
    """What part of the overshoot beside an edge is left standing."""
    scale: float = 1.0
    quality: int = 92
    sampling: str = "422"

    @property
    def sensor_px_a_pixel(self) -> int:
        """Sensor px across one of the demosaicked picture."""
        return 2 if self.demosaicking == "half" else 1


def drawn(random: np.random.Generator) -> Camera:
    """A camera drawn by chance."""
    return Camera(
        demosaicking=str(random.choice(DEMOSAICKING, p=[0.25, 0.3, 0.3, 0.15])),
        white_balance=(float(random.uniform(1.4, 2.4)), 1.0, float(random.uniform(1.3, 2.4))),
        read_noise=float(random.uniform(1.5, 5)),
        low_pass_px=float(random.choice([0.0, 0.0, random.uniform(0.2, 0.35)])),
        reduction=str(random.choice(NOISE_REDUCTION, p=[0.2, 0.35, 0.2, 0.25])),
        reduction_strength=float(random.uniform(0.5, 1.5)),
        tone=str(random.choice(TONES)),
        gamma=float(random.uniform(1.9, 2.5)),
        sharpening=float(random.choice([0.0, random.uniform(0.2, 1.4)], p=[0.15, 0.85])),
        sharpening_px=float(random.uniform(0.6, 1.8)),
        halo=float(random.uniform(0.3, 1)),
        scale=float(random.choice([1.0, random.uniform(0.7, 0.92)], p=[0.85, 0.15])),
        quality=int(random.integers(72, 99)),
        sampling=str(random.choice(["420", "422", "444"])),
    )


def shoot(light: Light, camera: Camera, iso: float, random: np.random.Generator) -> bytes:
    """The JPEG that a camera makes of light on its sensor.

    Parameters
    ----------
    light
        Linear, shape (rows, columns, 3), a sample a sensor px; 1 fills the scale at this ISO.
    """
    seen = _mosaic(light, camera, iso, random)
    picture = _demosaicked(seen, camera)
    picture *= np.array(camera.white_balance, np.float32)
    if camera.reduction in ("wavelet", "colour only"):
        picture = _reduced(picture, camera, iso)
    coded = np.asarray(_toned(picture, camera), np.float32)
    if camera.reduction == "non-local means":
        coded = _alike_patches(coded, camera, iso)
    coded = _sharpened(coded, camera)
    if camera.scale < 1:
        rows, columns = (round(side * camera.scale) for side in coded.shape[:2])
        coded = np.asarray(cv2.resize(coded, (columns, rows), interpolation=cv2.INTER_AREA))
    eight = np.clip(np.round(coded * 255), 0, 255).astype(np.uint8)
    return bytes(
        simplejpeg.encode_jpeg(
            np.ascontiguousarray(eight),
            quality=camera.quality,
            colorspace="RGB",
            colorsubsampling=camera.sampling,
        )
    )


def luma_of(jpeg: bytes) -> NDArray[np.uint8]:
    """What the auditor sees of it."""
    return np.ascontiguousarray(simplejpeg.decode_jpeg(jpeg, colorspace="GRAY")[..., 0])


def _mosaic(light: Light, camera: Camera, iso: float, random: np.random.Generator) -> Light:
    """One colour a px (RGGB), in shares of what the scale holds, with the noise of photons and reading."""
    rows, columns = (side // 2 * 2 for side in light.shape[:2])
    gains = camera.white_balance
    seen = np.empty((rows, columns), np.float32)
    for row, column, colour in ((0, 0, 0), (0, 1, 1), (1, 0, 1), (1, 1, 2)):
        seen[row::2, column::2] = light[row:rows:2, column:columns:2, colour] / gains[colour]
    electrons = FULL_WELL * 100 / iso
    spread = np.sqrt(np.maximum(seen, 0) * electrons + camera.read_noise**2)
    found = seen * electrons + spread * random.standard_normal(seen.shape, np.float32)
    return np.asarray(np.clip(found / electrons, -0.02, 1), np.float32)


def _demosaicked(seen: Light, camera: Camera) -> Light:
    if camera.demosaicking == "half":
        green = (seen[0::2, 1::2] + seen[1::2, 0::2]) / 2
        return np.asarray(np.dstack([seen[0::2, 0::2], green, seen[1::2, 1::2]]), np.float32)
    if camera.demosaicking == "colour differences":
        return _from_differences(seen)
    # OpenCV names the pattern by its second row: this is RGGB, its output red first.
    code = cv2.COLOR_BayerBG2RGB if camera.demosaicking == "bilinear" else cv2.COLOR_BayerBG2RGB_EA
    whole = np.round((seen + 0.02) / 1.02 * 65535).astype(np.uint16)
    return np.asarray(cv2.demosaicing(whole, code), np.float32) / 65535 * 1.02 - 0.02


def _from_differences(seen: Light) -> Light:
    """Green along the way it changes least; red and blue as smoothed differences from it (Freeman's way)."""
    across = cv2.filter2D(seen, -1, np.array([[0.5, 0, 0.5]], np.float32), borderType=cv2.BORDER_REFLECT_101)
    down = cv2.filter2D(
        seen, -1, np.array([[0.5], [0], [0.5]], np.float32), borderType=cv2.BORDER_REFLECT_101
    )
    step = np.array([-1, 0, 1], np.float32)
    wide = np.abs(cv2.filter2D(seen, -1, step[None], borderType=cv2.BORDER_REFLECT_101))
    high = np.abs(cv2.filter2D(seen, -1, step[:, None], borderType=cv2.BORDER_REFLECT_101))
    green = np.where(wide < high, across, down)
    green[0::2, 1::2], green[1::2, 0::2] = seen[0::2, 1::2], seen[1::2, 0::2]
    planes = []
    for row, column in ((0, 0), (1, 1)):
        there = np.zeros_like(seen)
        there[row::2, column::2] = 1
        spread = np.outer([0.5, 1, 0.5], [0.5, 1, 0.5]).astype(np.float32)
        difference = cv2.filter2D((seen - green) * there, -1, spread, borderType=cv2.BORDER_REFLECT_101)
        planes.append(green + cv2.medianBlur(difference, 3))
    return np.asarray(np.dstack([planes[0], green, planes[1]]), np.float32)


def _reduced(picture: Light, camera: Camera, iso: float) -> Light:
    """Soft thresholds on an undecimated wavelet (B3 spline), in luma and, more strongly, in colour."""
    root = np.sqrt(np.maximum(picture, 0) + 0.002)
    luma: NDArray[Any] = root @ _LUMA
    colour = root - luma[..., None]
    noise = 0.5 * math.sqrt(iso / 100 / FULL_WELL)
    strength = camera.reduction_strength * noise
    if camera.reduction == "wavelet":
        luma = _thresholded(luma, 0.8 * strength)
    colour = np.dstack([_thresholded(colour[..., plane], 6 * strength) for plane in range(3)])
    return np.asarray((luma[..., None] + colour) ** 2 - 0.002, np.float32)


def _thresholded(plane: Light, threshold: float) -> Light:
    rest: NDArray[Any] = plane
    kept = np.zeros_like(plane)
    for level in range(3):
        taps = np.zeros(4 * 2**level + 1, np.float32)
        taps[:: 2**level] = np.array([1, 4, 6, 4, 1]) / 16
        smooth = cv2.sepFilter2D(rest, -1, taps, taps, borderType=cv2.BORDER_REFLECT_101)
        detail = rest - smooth
        limit = threshold / 1.8**level
        kept += detail - REDUCED_SHARE * np.clip(detail, -limit, limit)
        rest = smooth
    return np.asarray(rest + kept, np.float32)


def _alike_patches(coded: Light, camera: Camera, iso: float) -> Light:
    """Non-local means, as OpenCV has it, on luma; colour is only smoothed."""
    strength = camera.reduction_strength * 3 * math.sqrt(iso / 1600)
    ycc = cv2.cvtColor((np.clip(coded, 0, 1) * 255).astype(np.uint8), cv2.COLOR_RGB2YCrCb)
    planes = list(cv2.split(ycc))
    if strength > 0.8:
        planes[0] = cv2.fastNlMeansDenoising(planes[0], None, strength, 5, 11)
    planes[1:] = [cv2.GaussianBlur(plane, (0, 0), 0.6 + strength / 4) for plane in planes[1:]]
    return np.asarray(cv2.cvtColor(cv2.merge(planes), cv2.COLOR_YCrCb2RGB), np.float32) / 255


def _toned(picture: Light, camera: Camera) -> Any:
    light = np.clip(picture, 0, None)
    if camera.tone == "shoulder":
        light = light * (1 + light / 1.6) / (1 + light)
    coded = np.clip(light, 0, 1) ** np.float32(1 / camera.gamma)
    if camera.tone == "curve":
        coded = coded + 0.22 * coded * (1 - coded) * (2 * coded - 1) * 2
    return coded


def _sharpened(coded: Light, camera: Camera) -> Light:
    """Unsharp mask on luma; overshoot beyond what stands beside a px is held back."""
    if not camera.sharpening:
        return coded
    luma = coded @ _LUMA
    more = luma + camera.sharpening * (luma - cv2.GaussianBlur(luma, (0, 0), camera.sharpening_px))
    low, high = ndimage.minimum_filter(luma, 3), ndimage.maximum_filter(luma, 3)
    held = np.clip(more, low, high)
    return np.asarray(coded + (held + camera.halo * (more - held) - luma)[..., None], np.float32)
