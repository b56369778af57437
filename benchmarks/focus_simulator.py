"""Simulated camera frames of known blur: scenes, blur, two camera pipelines. Seeded.

A scene is a sharp photograph or a rendered one. It is made sharper than the pixel by scaling down, blurred
(by a Gaussian, a disc, a line, or two of them) and shot: light to electrons, noise of an ISO, colour mosaic,
demosaicking, noise reduction, sharpening, gamma, JPEG. The true blur is the standard deviation of the blur's
kernel in px (averaged over both axes as variance), without the camera's own.
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from PIL import Image
from scipy import ndimage, signal

Floats = NDArray[Any]
SIDE_PX = 384


@dataclass(frozen=True)
class Scene:
    name: str
    kind: str
    linear: Floats
    """(rows, columns, 3), 0 to 1, linear light."""


@dataclass(frozen=True)
class Shot:
    luma: NDArray[np.uint8]
    sigma_px: float
    kind: str
    direction_deg: float | None
    iso: float
    pipeline: str
    scene: str
    content: str


def photographs(folder: Path) -> Iterator[Scene]:
    """Sharp photographs of a folder, scaled down so that what is left of their own blur is small."""
    for path in sorted(folder.glob("*.webp")) + sorted(folder.glob("*.png")) + sorted(folder.glob("*.jpg")):
        with Image.open(path) as picture:
            rgb = picture.convert("RGB")
        yield Scene(path.stem, "photograph", scaled_down(to_linear(np.asarray(rgb) / 255.0), 0.75))


def packaged() -> Iterator[Scene]:
    """Photographs that the libraries scikit-image and scikit-learn carry, scaled down to half."""
    from skimage import data
    from sklearn.datasets import load_sample_images

    pictures = {
        name: getattr(data, name)()
        for name in (
            "astronaut",
            "coffee",
            "chelsea",
            "rocket",
            "camera",
            "coins",
            "page",
            "text",
            "grass",
            "gravel",
            "brick",
        )
    }
    for number, picture in enumerate(load_sample_images().images):
        pictures[f"sklearn{number}"] = picture
    for name, picture in pictures.items():
        rgb = np.dstack([picture] * 3) if picture.ndim == 2 else picture[..., :3]
        yield Scene(name, "photograph", scaled_down(to_linear(rgb / 255.0), 0.5))


def rendered(count: int, seed: int) -> Iterator[Scene]:
    """Fur, feathers, foliage, low contrast, a small subject before a blurred background."""
    chance = np.random.default_rng(seed)
    kinds = ("fur", "feathers", "foliage", "low_contrast", "tiny", "subject", "shapes")
    for number in range(count):
        kind = kinds[number % len(kinds)]
        yield Scene(f"{kind}{seed}-{number}", kind, RENDERERS[kind](chance))


def scaled_down(linear: Floats, factor: float) -> Floats:
    side = np.asarray(linear)
    small = ndimage.zoom(
        ndimage.gaussian_filter(side, (0.35 / factor, 0.35 / factor, 0)), (factor, factor, 1), order=1
    )
    return np.clip(small, 0, 1)


def to_linear(encoded: Floats) -> Floats:
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def to_encoded(linear: Floats) -> Floats:
    linear = np.clip(linear, 0, 1)
    return np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)


def _strokes(
    chance: np.random.Generator,
    side: int,
    count: int,
    length: float,
    width: float,
    spread: float,
    base_deg: float,
) -> Floats:
    """Many thin strokes over one another, drawn at three times the size."""
    from PIL import ImageDraw

    big = side * 3
    canvas = Image.new("L", (big, big), int(chance.integers(40, 110)))
    draw = ImageDraw.Draw(canvas)
    for _stroke in range(count):
        x, y = chance.uniform(0, big, 2)
        turn = np.radians(
            base_deg + chance.normal(0, spread) + 25 * np.sin(x / big * 6) * np.cos(y / big * 5)
        )
        reach = length * chance.uniform(0.5, 1.5) * 3
        tone = int(np.clip(chance.normal(115, 45), 5, 250))
        bend = chance.normal(0, 0.2)
        points = [
            (x + reach * t * np.cos(turn + bend * t), y + reach * t * np.sin(turn + bend * t))
            for t in (0, 0.33, 0.66, 1)
        ]
        draw.line(points, fill=tone, width=max(1, round(3 * width * chance.uniform(0.6, 1.4))))
    return np.asarray(canvas.resize((side, side), Image.Resampling.BOX)) / 255.0


def _coloured(grey: Floats, chance: np.random.Generator) -> Floats:
    tint = chance.uniform(0.7, 1.1, 3)
    return np.clip(to_linear(grey)[..., None] * tint, 0, 1)


def fur(chance: np.random.Generator) -> Floats:
    return _coloured(
        _strokes(
            chance,
            SIDE_PX,
            16000,
            chance.uniform(8, 22),
            chance.uniform(0.8, 1.8),
            12,
            chance.uniform(0, 180),
        ),
        chance,
    )


def feathers(chance: np.random.Generator) -> Floats:
    fine = _strokes(chance, SIDE_PX, 9000, 14, chance.uniform(0.7, 1.3), 5, chance.uniform(0, 180))
    rows, columns = np.mgrid[0:SIDE_PX, 0:SIDE_PX]
    period = chance.uniform(25, 60)
    scale = np.abs(((columns / period + 0.5 * (rows // period % 2)) % 1) - 0.5) + (rows / period % 1)
    return _coloured(np.clip(0.65 * fine + 0.35 * np.where(scale > 0.75, 0.15, 0.7), 0, 1), chance)


def foliage(chance: np.random.Generator) -> Floats:
    coarse = _strokes(chance, SIDE_PX, 900, 30, chance.uniform(4, 9), 60, 0)
    fine = _strokes(chance, SIDE_PX, 2500, 18, 2, 60, 90)
    return _coloured(np.clip(0.7 * coarse + 0.3 * fine, 0, 1), chance)


def low_contrast(chance: np.random.Generator) -> Floats:
    base = RENDERERS["foliage" if chance.random() < 0.5 else "feathers"](chance)
    return np.asarray(np.clip(0.18 + chance.uniform(0.12, 0.3) * (base - base.mean()), 0, 1))


def _before_background(chance: np.random.Generator, share: float) -> Floats:
    subject = RENDERERS["fur" if chance.random() < 0.5 else "feathers"](chance)
    background = ndimage.gaussian_filter(foliage(chance), (25, 25, 0))
    rows, columns = np.mgrid[0:SIDE_PX, 0:SIDE_PX] / SIDE_PX - 0.5
    inside = (rows / share) ** 2 + (columns / (share * chance.uniform(0.7, 1.4))) ** 2 < 0.25
    soft = ndimage.gaussian_filter(inside.astype(float), 0.6)[..., None]
    return np.asarray(soft * subject + (1 - soft) * background)


def tiny(chance: np.random.Generator) -> Floats:
    return _before_background(chance, chance.uniform(0.18, 0.35))


def subject(chance: np.random.Generator) -> Floats:
    return _before_background(chance, chance.uniform(0.5, 1.1))


def shapes(chance: np.random.Generator) -> Floats:
    """Plain discs and bars: edges that stand alone, as of branches before the sky."""
    from PIL import ImageDraw

    big = SIDE_PX * 3
    canvas = Image.new("L", (big, big), int(chance.integers(60, 200)))
    pen = ImageDraw.Draw(canvas)
    for _shape in range(int(chance.integers(8, 60))):
        x, y = chance.uniform(0, big, 2)
        reach = chance.uniform(30, 300)
        tone = int(chance.integers(10, 245))
        if chance.random() < 0.5:
            pen.ellipse((x - reach / 2, y - reach / 2, x + reach / 2, y + reach / 2), fill=tone)
        else:
            turn = chance.uniform(0, 2 * np.pi)
            end = (x + 2 * reach * np.cos(turn), y + 2 * reach * np.sin(turn))
            pen.line([(x, y), end], fill=tone, width=int(chance.integers(6, 90)))
    return _coloured(np.asarray(canvas.resize((SIDE_PX, SIDE_PX), Image.Resampling.BOX)) / 255.0, chance)


RENDERERS = {
    "fur": fur,
    "feathers": feathers,
    "foliage": foliage,
    "low_contrast": low_contrast,
    "tiny": tiny,
    "subject": subject,
    "shapes": shapes,
}


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


@dataclass(frozen=True)
class Pipeline:
    name: str
    demosaic: str
    lowpass_px: float
    sharpen: tuple[float, float]
    denoise: float
    curve: float
    quality: tuple[int, int]
    electrons: float


PIPELINES = (
    Pipeline("linear", "bilinear", 0.35, (0.8, 0.8), 0.6, 1.0, (88, 97), 9000.0),
    Pipeline("edged", "directed", 0.0, (0.45, 1.0), 1.0, 1.15, (82, 95), 6000.0),
    Pipeline("plain", "directed", 0.45, (0.0, 1.0), 0.35, 1.0, (92, 98), 12000.0),
    Pipeline("crisp", "bilinear", 0.0, (1.4, 0.7), 0.8, 1.1, (85, 95), 7000.0),
)
"""The last one is held out: nothing is trained on it."""


def shoot(
    scene: Scene,
    pipeline: Pipeline,
    iso: float,
    sigma_px: float,
    kind: str,
    direction_deg: float,
    chance: np.random.Generator,
) -> Shot:
    """One frame of a scene."""
    linear = scene.linear
    if sigma_px > 0.05:
        linear = np.dstack(
            [
                signal.oaconvolve(
                    np.pad(linear[..., c], 40, mode="reflect"), kernel(kind, sigma_px, direction_deg), "same"
                )[40:-40, 40:-40]
                for c in range(3)
            ]
        )
    if pipeline.lowpass_px:
        linear = ndimage.gaussian_filter(linear, (pipeline.lowpass_px, pipeline.lowpass_px, 0))
    rgb = _develop(np.clip(linear * chance.uniform(0.7, 1.0), 0, 1), pipeline, iso, chance)
    jpeg = io.BytesIO()
    Image.fromarray((rgb * 255 + 0.5).astype(np.uint8)).save(
        jpeg, "JPEG", quality=int(chance.integers(*pipeline.quality)), subsampling=int(chance.choice((0, 2)))
    )
    luma = np.asarray(Image.open(jpeg).convert("L"))
    return Shot(
        luma,
        sigma_px,
        kind,
        direction_deg if kind in ("motion", "mixed") else None,
        iso,
        pipeline.name,
        scene.name,
        scene.kind,
    )


def _develop(linear: Floats, pipeline: Pipeline, iso: float, chance: np.random.Generator) -> Floats:
    full_well = pipeline.electrons * 100 / iso
    gains = np.array([0.55, 1.0, 0.65])
    electrons = chance.poisson(linear * gains * full_well) + chance.normal(0, 2.5, linear.shape)
    raw = electrons / full_well
    rows, columns = linear.shape[:2]
    mask = np.zeros((rows, columns, 3), bool)
    mask[0::2, 0::2, 0] = mask[1::2, 1::2, 2] = True
    mask[0::2, 1::2, 1] = mask[1::2, 0::2, 1] = True
    mosaic = np.where(mask, raw, 0)
    rgb = _bilinear(mosaic) if pipeline.demosaic == "bilinear" else _directed(mosaic, mask)
    rgb = rgb / gains
    strength = pipeline.denoise * np.log2(max(iso / 200, 1)) * 0.18
    if strength > 0.05:
        rgb = _denoise(rgb, strength, full_well)
    encoded = to_encoded(np.clip(rgb, 0, 1) ** (1 / pipeline.curve))
    amount, radius = pipeline.sharpen
    if amount:
        encoded = encoded + amount * (encoded - ndimage.gaussian_filter(encoded, (radius, radius, 0)))
    return np.clip(encoded, 0, 1)


_CROSS = np.array([[0, 1, 0], [1, 4, 1], [0, 1, 0]]) / 4
_SQUARE = np.array([[1, 2, 1], [2, 4, 2], [1, 2, 1]]) / 4


def _bilinear(mosaic: Floats) -> Floats:
    return np.dstack(
        [ndimage.convolve(mosaic[..., c], _CROSS if c == 1 else _SQUARE, mode="mirror") for c in range(3)]
    )


def _directed(mosaic: Floats, mask: NDArray[np.bool_]) -> Floats:
    """Green along the smaller difference, then the colours' differences from green, smoothed."""
    raw = mosaic.sum(axis=2)
    left, right = np.roll(raw, 1, 1), np.roll(raw, -1, 1)
    up, down = np.roll(raw, 1, 0), np.roll(raw, -1, 0)
    same_across = 2 * raw - np.roll(raw, 2, 1) - np.roll(raw, -2, 1)
    same_down = 2 * raw - np.roll(raw, 2, 0) - np.roll(raw, -2, 0)
    across_cost = np.abs(left - right) + np.abs(same_across)
    down_cost = np.abs(up - down) + np.abs(same_down)
    across = (left + right) / 2 + same_across / 4
    along = (up + down) / 2 + same_down / 4
    green = np.where(mask[..., 1], raw, np.where(across_cost < down_cost, across, along))
    out = [None, green, None]
    for c in (0, 2):
        difference = np.where(mask[..., c], raw - green, 0)
        out[c] = green + ndimage.convolve(difference, _SQUARE, mode="mirror")
    return np.dstack(out)


def _denoise(rgb: Floats, strength: float, full_well: float) -> Floats:
    """Smoothing where the picture differs from its surroundings by less than its noise."""
    sigma = np.sqrt(np.clip(rgb, 1e-4, None) / full_well + (2.5 / full_well) ** 2)
    smooth = ndimage.gaussian_filter(rgb, (1.0, 1.0, 0))
    luma, base = rgb.mean(axis=2), smooth.mean(axis=2)
    busy = ndimage.gaussian_filter(np.abs(luma - base), 1.2) / sigma.mean(axis=2)
    share = np.clip(strength, 0, 0.9) * np.exp(-((busy / 1.2) ** 2))
    return np.asarray(rgb + share[..., None] * (smooth - rgb))


def piece(luma: NDArray[np.uint8], chance: np.random.Generator) -> NDArray[np.uint8]:
    """A part from the middle: regions of real frames are of many sizes."""
    side = min(int(chance.choice((160, 224, 320, 384))), *luma.shape)
    top, left = (luma.shape[0] - side) // 2, (luma.shape[1] - side) // 2
    return luma[top : top + side, left : left + side]


def draw(chance: np.random.Generator) -> tuple[float, str, float, float]:
    """Blur, kind, direction and ISO of one frame: more near the criterion, some as large as 12 px."""
    kind = str(chance.choice(("gaussian", "disc", "motion", "mixed"), p=(0.3, 0.35, 0.2, 0.15)))
    sigma = (
        float(np.exp(chance.uniform(np.log(0.3), np.log(3.0))))
        if chance.random() < 0.8
        else float(chance.uniform(3, 12))
    )
    return sigma, kind, float(chance.uniform(0, 180)), float(100 * 2 ** chance.uniform(0, 7))
