"""Simulated camera frames of known blur. Seeded.

A scene (focus_scenes.py) is blurred (by a Gaussian, a disc, a line, or two of them) and shot: light to
electrons, noise of an ISO, colour mosaic, demosaicking, noise reduction, tone curve, sharpening, perhaps
scaled down, JPEG. The true blur is the standard deviation of the blur's kernel in px of the finished picture
(averaged over both axes as variance), without the camera's own.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

from benchmarks.focus_scenes import Floats, Scene, to_encoded

KINDS = {"gaussian": 0.28, "disc": 0.32, "motion": 0.22, "mixed": 0.18}


@dataclass(frozen=True)
class Shot:
    jpeg: NDArray[np.uint8]
    """The file's bytes."""
    sigma_px: float


@dataclass(frozen=True)
class Camera:
    """How a picture is made of light."""

    name: str
    demosaic: str
    lowpass_px: float
    sharpen_amount: float
    sharpen_px: float
    coring: float
    """Smaller differences than this (of 1) are not sharpened."""
    clamp: bool
    """Sharpening does not go beyond the brightest and darkest neighbour."""
    denoise: str
    denoise_strength: float
    curve: float
    contrast: float
    """0 none to 1: an S in the tone curve."""
    quality: int
    subsampled: bool
    electrons: float
    """Full well at ISO 100."""
    scaled: float
    """Finished size over sensor size."""


def camera(chance: np.random.Generator) -> Camera:
    """A camera drawn by chance: training sees thousands of them."""
    return Camera(
        name="drawn",
        demosaic=str(chance.choice(("bilinear", "directed", "gradient"))),
        lowpass_px=float(chance.choice((0.0, chance.uniform(0.2, 0.5)))),
        sharpen_amount=float(chance.choice((0.0, chance.uniform(0.2, 1.6)), p=(0.2, 0.8))),
        sharpen_px=float(chance.uniform(0.5, 1.3)),
        coring=float(chance.choice((0.0, chance.uniform(0.005, 0.03)))),
        clamp=bool(chance.random() < 0.2),
        denoise=str(chance.choice(("adaptive", "median", "guided"))),
        denoise_strength=float(chance.choice((0.0, chance.uniform(0.2, 1.2)), p=(0.15, 0.85))),
        curve=float(chance.uniform(0.95, 1.25)),
        contrast=float(chance.uniform(0, 0.6)),
        quality=int(chance.integers(78, 98)),
        subsampled=bool(chance.random() < 0.5),
        electrons=float(chance.uniform(4000, 14000)),
        scaled=float(chance.choice((1.0, chance.uniform(0.6, 0.95)), p=(0.85, 0.15))),
    )


UNSEEN = (
    Camera(
        "unseen, crisp", "bilinear", 0.0, 1.4, 0.7, 0.0, False, "adaptive", 0.8, 1.1, 0.0, 90, True, 7000, 1.0
    ),
    Camera(
        "unseen, other", "edge_aware", 0.3, 0.9, 0.9, 0.01, True, "bilateral", 1.0, 1.1, 0.3, 86, True, 8000,
        1.0,
    ),
)  # fmt: skip
"""Held out: nothing is trained on them. The second one's demosaicking and noise reduction are OpenCV's, which
no camera above has; the first is a strong and fixed mixture of what they have."""


def kernel(kind: str, sigma_px: float, direction_deg: float) -> Floats:
    """A blur of unit sum whose variance, averaged over both axes, is sigma^2."""
    oversample = 5
    reach = int(np.ceil(3.6 * sigma_px)) + 2
    steps = (np.arange(-reach * oversample - 2, reach * oversample + 3)) / oversample
    across, down = np.meshgrid(steps, steps)
    if kind == "gaussian":
        weights = np.exp(-(across**2 + down**2) / (2 * sigma_px**2))
    elif kind == "disc":
        weights = (np.hypot(across, down) <= 2 * sigma_px).astype(float)
    else:  # a line with a little width; variance along it 2 sigma^2 less what its width has
        turn = np.radians(direction_deg)
        along = across * np.cos(turn) - down * np.sin(turn)
        beside = across * np.sin(turn) + down * np.cos(turn)
        width = 0.35 if kind == "motion" else 0.55 * sigma_px
        long = np.sqrt(max(2 * sigma_px**2 - width**2, 0.01)) * np.sqrt(12) / 2
        weights = np.clip((long - np.abs(along)) * oversample + 0.5, 0, 1) * np.exp(
            -(beside**2) / (2 * width**2)
        )
    size = 2 * reach + 1
    box = (
        weights[: size * oversample, : size * oversample]
        .reshape(size, oversample, size, oversample)
        .sum(axis=(1, 3))
    )
    return np.asarray(box / box.sum())


def shoot(
    scene: Scene,
    by: Camera,
    iso: float,
    sigma_px: float,
    kind: str,
    direction_deg: float,
    chance: np.random.Generator,
) -> Shot:
    """One frame of a scene; sigma_px on the sensor, before the picture is scaled down."""
    linear = _scaled(scene.linear, float(chance.uniform(*scene.scaled)))
    if sigma_px > 0.05:
        linear = cv2.filter2D(
            linear, -1, kernel(kind, sigma_px, direction_deg), borderType=cv2.BORDER_REFLECT
        )
    if by.lowpass_px:
        linear = cv2.GaussianBlur(linear, (0, 0), by.lowpass_px)
    rgb = developed(np.clip(linear * np.float32(chance.uniform(0.5, 1.0)), 0, 1), by, iso, chance)
    if by.scaled < 1:
        rgb = cv2.resize(rgb, None, fx=by.scaled, fy=by.scaled, interpolation=cv2.INTER_AREA)
    bgr = (rgb[..., ::-1] * 255 + 0.5).astype(np.uint8)
    factors = cv2.IMWRITE_JPEG_SAMPLING_FACTOR_420 if by.subsampled else cv2.IMWRITE_JPEG_SAMPLING_FACTOR_444
    written, jpeg = cv2.imencode(
        ".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, by.quality, cv2.IMWRITE_JPEG_SAMPLING_FACTOR, factors]
    )
    if not written:
        raise RuntimeError("OpenCV wrote no JPEG")
    return Shot(jpeg, sigma_px * by.scaled)


def _scaled(linear: Floats, factor: float) -> Floats:
    """Down by a factor, with a little blur against aliasing (0.35 px of the smaller picture)."""
    if factor >= 1:
        return linear
    smooth = cv2.GaussianBlur(linear, (0, 0), 0.35 / factor)
    rows, columns = (int(side * factor) // 2 * 2 for side in linear.shape[:2])
    return np.asarray(np.clip(cv2.resize(smooth, (columns, rows), interpolation=cv2.INTER_LINEAR), 0, 1))


def developed(linear: Floats, by: Camera, iso: float, chance: np.random.Generator) -> Floats:
    """What a camera makes of linear light: encoded RGB, 0 to 1."""
    full_well = by.electrons * 100 / iso
    gains = np.array([0.55, 1.0, 0.65], np.float32)
    rows, columns = (side // 2 * 2 for side in linear.shape[:2])
    light = linear[:rows, :columns] * gains
    mask = np.zeros((rows, columns, 3), np.bool_)
    mask[0::2, 0::2, 0] = mask[1::2, 1::2, 2] = True
    mask[0::2, 1::2, 1] = mask[1::2, 0::2, 1] = True
    one = np.where(mask, light, 0).sum(axis=2)
    raw = ((chance.poisson(one * full_well) + chance.normal(0, 2.5, one.shape)) / full_well).astype(
        np.float32
    )
    rgb = DEMOSAICS[by.demosaic](raw, mask) / gains
    strength = by.denoise_strength * np.log2(max(iso / 200, 1)) * 0.18
    if strength > 0.05:
        rgb = DENOISERS[by.denoise](rgb.astype(np.float32), strength, full_well)
    encoded = to_encoded(np.clip(rgb, 0, 1) ** np.float32(1 / by.curve))
    encoded = (1 - by.contrast) * encoded + by.contrast * encoded**2 * (3 - 2 * encoded)
    return np.asarray(np.clip(_sharpened(encoded, by), 0, 1))


def _sharpened(encoded: Floats, by: Camera) -> Floats:
    if not by.sharpen_amount:
        return encoded
    detail = encoded - cv2.GaussianBlur(encoded, (0, 0), by.sharpen_px)
    if by.coring:
        detail = np.sign(detail) * np.maximum(np.abs(detail) - np.float32(by.coring), 0)
    out = encoded + by.sharpen_amount * detail
    if by.clamp:
        around = np.ones((3, 3), np.uint8)
        out = np.clip(out, cv2.erode(encoded, around) - 0.02, cv2.dilate(encoded, around) + 0.02)
    return np.asarray(out)


_CROSS = np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]], np.float32) / 4
_SQUARE = np.array([[1, 2, 1], [2, 4, 2], [1, 2, 1]], np.float32) / 4


def _split(raw: Floats, mask: NDArray[np.bool_]) -> list[Floats]:
    return [np.where(mask[..., colour], raw, 0).astype(np.float32) for colour in range(3)]


def _bilinear(raw: Floats, mask: NDArray[np.bool_]) -> Floats:
    red, green, blue = _split(raw, mask)
    return np.dstack(
        [cv2.filter2D(red, -1, _SQUARE), cv2.filter2D(green, -1, _CROSS), cv2.filter2D(blue, -1, _SQUARE)]
    )


def _with_green(raw: Floats, mask: NDArray[np.bool_], green: Floats) -> Floats:
    """Red and blue from their differences from green, smoothed."""
    red, blue = (
        green + cv2.filter2D(np.where(mask[..., colour], raw - green, 0).astype(np.float32), -1, _SQUARE)
        for colour in (0, 2)
    )
    return np.dstack([red, green, blue])


def _directed(raw: Floats, mask: NDArray[np.bool_]) -> Floats:
    """Green along the smaller difference."""
    left, right = np.roll(raw, 1, 1), np.roll(raw, -1, 1)
    up, down = np.roll(raw, 1, 0), np.roll(raw, -1, 0)
    same_across = 2 * raw - np.roll(raw, 2, 1) - np.roll(raw, -2, 1)
    same_down = 2 * raw - np.roll(raw, 2, 0) - np.roll(raw, -2, 0)
    across_cost = np.abs(left - right) + np.abs(same_across)
    down_cost = np.abs(up - down) + np.abs(same_down)
    across = (left + right) / 2 + same_across / 4
    along = (up + down) / 2 + same_down / 4
    return _with_green(
        raw, mask, np.where(mask[..., 1], raw, np.where(across_cost < down_cost, across, along))
    )


def _gradient(raw: Floats, mask: NDArray[np.bool_]) -> Floats:
    """Green by averages corrected with the colour's own second difference.

    Malvar, He and Cutler, High-quality linear interpolation for demosaicing of Bayer-patterned color images,
    ICASSP 2004, figure 2, the filter for green (R: recalled).
    """
    filters = np.array(
        [[0, 0, -1, 0, 0], [0, 0, 2, 0, 0], [-1, 2, 4, 2, -1], [0, 0, 2, 0, 0], [0, 0, -1, 0, 0]], np.float32
    )
    return _with_green(raw, mask, np.where(mask[..., 1], raw, cv2.filter2D(raw, -1, filters / 8)))


def _edge_aware(raw: Floats, mask: NDArray[np.bool_]) -> Floats:
    """OpenCV's own; the mosaic here starts with red."""
    whole = (np.clip(raw, 0, 1) * 65535).astype(np.uint16)
    return np.asarray(cv2.cvtColor(whole, cv2.COLOR_BayerRGGB2RGB_EA), np.float32) / 65535


DEMOSAICS: dict[str, Any] = {
    "bilinear": _bilinear, "directed": _directed, "gradient": _gradient, "edge_aware": _edge_aware,
}  # fmt: skip


def _noise_sigma(rgb: Floats, full_well: float) -> Floats:
    return np.sqrt(np.clip(rgb, 1e-4, None) / full_well + (2.5 / full_well) ** 2)


def _adaptive(rgb: Floats, strength: float, full_well: float) -> Floats:
    """Smoothing where the picture differs from its surroundings by less than its noise."""
    sigma = _noise_sigma(rgb, full_well)
    smooth = cv2.GaussianBlur(rgb, (0, 0), 1.0)
    luma, base = rgb.mean(axis=2), smooth.mean(axis=2)
    busy = cv2.GaussianBlur(np.abs(luma - base), (0, 0), 1.2) / sigma.mean(axis=2)
    share = np.clip(strength, 0, 0.9) * np.exp(-((busy / 1.2) ** 2))
    return np.asarray(rgb + share[..., None] * (smooth - rgb))


def _median(rgb: Floats, strength: float, full_well: float) -> Floats:
    share = min(strength, 0.9)
    return np.asarray((1 - share) * rgb + share * cv2.medianBlur(rgb, 3))


def _guided(rgb: Floats, strength: float, full_well: float) -> Floats:
    """Smoothing that keeps what varies by more than noise.

    He, Sun and Tang, Guided image filtering, IEEE Transactions on Pattern Analysis and Machine Intelligence
    35 (2013), equations 5 and 6, guided by itself (R).
    """
    size = (5, 5)
    mean = cv2.blur(rgb, size)
    variance = cv2.blur(rgb * rgb, size) - mean * mean
    floor = (1.5 * strength) ** 2 * _noise_sigma(mean, full_well) ** 2
    share = variance / (variance + floor)
    return np.asarray(cv2.blur(share, size) * rgb + cv2.blur((1 - share) * mean, size))


def _bilateral(rgb: Floats, strength: float, full_well: float) -> Floats:
    reach = 4 * strength * float(_noise_sigma(np.array(0.25, np.float32), full_well))
    return np.asarray(cv2.bilateralFilter(rgb, 5, reach, 1.5))


DENOISERS: dict[str, Any] = {
    "adaptive": _adaptive, "median": _median, "guided": _guided, "bilateral": _bilateral,
}  # fmt: skip


def piece(luma: NDArray[np.uint8], chance: np.random.Generator) -> NDArray[np.uint8]:
    """A part from the middle: regions of real frames are of many sizes."""
    side = min(int(chance.choice((192, 256, 320, 384, 512))), *luma.shape)
    top, left = (luma.shape[0] - side) // 2, (luma.shape[1] - side) // 2
    return luma[top : top + side, left : left + side]


def draw(chance: np.random.Generator) -> tuple[float, str, float, float]:
    """Blur, kind, direction and ISO of one frame: more near the criterion, some as large as 12 px."""
    kind = str(chance.choice(tuple(KINDS), p=tuple(KINDS.values())))
    sigma = (
        float(np.exp(chance.uniform(np.log(0.3), np.log(3.0))))
        if chance.random() < 0.8
        else float(chance.uniform(3, 12))
    )
    return sigma, kind, float(chance.uniform(0, 180)), float(100 * 2 ** chance.uniform(0, 7))
