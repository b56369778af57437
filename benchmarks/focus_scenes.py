"""Scenes for simulated frames: sharp photographs, and rendered fur, feathers, foliage, shapes. Seeded.

A scene is in linear light. Photographs are made sharper than the pixel by scaling them down when they are
shot (focus_simulator.py); rendered scenes are drawn at three times their size and averaged.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image, ImageDraw

Floats = NDArray[Any]
SIDE_PX = 448
DRAWN_AT = 3


@dataclass(frozen=True)
class Scene:
    name: str
    kind: str
    linear: Floats
    """(rows, columns, 3), 0 to 1, linear light, float32."""
    scaled: tuple[float, float]
    """It is scaled down by a factor between these, so that what is left of its own blur is small."""


def photographs(folder: Path) -> Iterator[Scene]:
    """Sharp photographs of a folder."""
    for path in sorted(folder.glob("*.webp")) + sorted(folder.glob("*.png")) + sorted(folder.glob("*.jpg")):
        with Image.open(path) as picture:
            rgb = picture.convert("RGB")
        yield Scene(path.stem, "photograph", to_linear(np.asarray(rgb) / 255.0), (0.6, 0.8))


PACKAGED = (
    "astronaut", "coffee", "chelsea", "rocket", "camera", "coins", "page", "text", "grass", "gravel", "brick",
)  # fmt: skip


def packaged() -> Iterator[Scene]:
    """Photographs that the libraries scikit-image and scikit-learn carry."""
    from skimage import data
    from sklearn.datasets import load_sample_images

    pictures = {name: getattr(data, name)() for name in PACKAGED}
    for number, picture in enumerate(load_sample_images().images):
        pictures[f"sklearn{number}"] = picture
    for name, picture in pictures.items():
        rgb = np.dstack([picture] * 3) if picture.ndim == 2 else picture[..., :3]
        yield Scene(name, "photograph", to_linear(rgb / 255.0), (0.45, 0.6))


def rendered(count: int, seed: int) -> Iterator[Scene]:
    """Textures at several sizes, plain shapes, a small subject before a blurred background."""
    kinds = tuple(RENDERERS)
    for number in range(count):
        kind = kinds[number % len(kinds)]
        chance = np.random.default_rng([seed, number])
        linear = RENDERERS[kind](chance).astype(np.float32)
        yield Scene(f"{kind}{seed}-{number}", kind, linear, (1.0, 1.0))


def to_linear(encoded: Floats) -> Floats:
    """IEC 61966-2-1 (sRGB)."""
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return np.asarray(linear, np.float32)


def to_encoded(linear: Floats) -> Floats:
    """IEC 61966-2-1 (sRGB)."""
    linear = np.clip(linear, 0, 1)
    encoded = np.where(linear <= 0.0031308, linear * 12.92, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.asarray(encoded, np.float32)


def _strokes(
    chance: np.random.Generator, length_px: float, width_px: float, *, turned_deg: float, spread_deg: float,
    cover: float = 3.0, contrast: float = 45.0,
) -> Floats:  # fmt: skip
    """Many thin strokes over one another, as often as covers the picture so many times."""
    big = SIDE_PX * DRAWN_AT
    count = int(min(cover * SIDE_PX**2 / (length_px * width_px), 16000))
    canvas = Image.new("L", (big, big), int(chance.integers(40, 110)))
    draw = ImageDraw.Draw(canvas)
    places = chance.uniform(0, big, (count, 2))
    flow, swing = chance.uniform(3, 9, 2), chance.uniform(5, 35)
    for x, y in places:
        turn = np.radians(
            turned_deg
            + chance.normal(0, spread_deg)
            + swing * np.sin(x / big * flow[0]) * np.cos(y / big * flow[1])
        )
        reach = length_px * chance.uniform(0.5, 1.5) * DRAWN_AT
        tone = int(np.clip(chance.normal(115, contrast), 5, 250))
        bend = chance.normal(0, 0.2)
        points = [
            (x + reach * t * np.cos(turn + bend * t), y + reach * t * np.sin(turn + bend * t))
            for t in (0, 0.33, 0.66, 1)
        ]
        draw.line(points, fill=tone, width=max(1, round(DRAWN_AT * width_px * chance.uniform(0.6, 1.4))))
    return averaged(canvas)


def averaged(canvas: Image.Image) -> Floats:
    return np.asarray(canvas.resize((SIDE_PX, SIDE_PX), Image.Resampling.BOX), np.float32) / 255


def _coloured(grey: Floats, chance: np.random.Generator) -> Floats:
    tint = chance.uniform(0.7, 1.1, 3)
    return np.clip(to_linear(np.clip(grey, 0, 1))[..., None] * tint, 0, 1)


def _uneven(chance: np.random.Generator, size_px: float, depth: float) -> Floats:
    """Light and shade over the animal: a smooth field around 1."""
    field = cv2.GaussianBlur(chance.normal(0, 1, (SIDE_PX, SIDE_PX)).astype(np.float32), (0, 0), size_px)
    return np.asarray(np.clip(1 + depth * field / max(float(field.std()), 1e-6), 0.15, 1.6), np.float32)


def _size(chance: np.random.Generator, low: float, high: float) -> float:
    return float(np.exp(chance.uniform(np.log(low), np.log(high))))


def fur(chance: np.random.Generator) -> Floats:
    width = _size(chance, 0.6, 4.0)
    grey = _strokes(
        chance, width * chance.uniform(6, 16), width, turned_deg=chance.uniform(0, 180),
        spread_deg=chance.uniform(5, 20), contrast=chance.uniform(15, 55),
    )  # fmt: skip
    return _coloured(grey * _uneven(chance, chance.uniform(15, 60), 0.3), chance)


def feathers(chance: np.random.Generator) -> Floats:
    """Barbs along a direction that changes from feather to feather, and the feathers' dark rims."""
    width = _size(chance, 0.6, 3.0)
    fine = _strokes(
        chance, width * chance.uniform(8, 20), width, turned_deg=chance.uniform(0, 180), spread_deg=5,
        contrast=chance.uniform(15, 50),
    )  # fmt: skip
    rows, columns = np.mgrid[0:SIDE_PX, 0:SIDE_PX]
    turn = chance.uniform(0, 2 * np.pi)
    along = rows * np.cos(turn) + columns * np.sin(turn)
    beside = columns * np.cos(turn) - rows * np.sin(turn)
    period = _size(chance, 18, 110)
    rim = np.abs(((beside / period + 0.5 * (along // period % 2)) % 1) - 0.5) + (along / period % 1)
    share = chance.uniform(0.1, 0.45)
    grey = (1 - share) * fine + share * np.where(rim > 0.75, 0.15, 0.7)
    return _coloured(grey * _uneven(chance, chance.uniform(20, 80), 0.2), chance)


def foliage(chance: np.random.Generator) -> Floats:
    size = _size(chance, 0.4, 2.0)
    coarse = _strokes(chance, 30 * size, chance.uniform(4, 9) * size, turned_deg=0, spread_deg=60, cover=1.5)
    fine = _strokes(chance, 18 * size, 2 * size, turned_deg=90, spread_deg=60, cover=0.7)
    return _coloured(0.7 * coarse + 0.3 * fine, chance)


def grass(chance: np.random.Generator) -> Floats:
    """Long blades, lit from one side, over dark ground."""
    width = _size(chance, 1.0, 8.0)
    blades = _strokes(
        chance, 25 * width, width, turned_deg=chance.uniform(60, 120), spread_deg=14,
        cover=chance.uniform(0.6, 2), contrast=chance.uniform(30, 70),
    )  # fmt: skip
    return _coloured(blades * _uneven(chance, 40, 0.3), chance)


def ground(chance: np.random.Generator) -> Floats:
    """Sand, gravel or ripples: grains of several sizes with hard rims, the finest as fine as a pixel."""
    big = SIDE_PX * DRAWN_AT
    total = np.zeros((SIDE_PX, SIDE_PX), np.float32)
    for size_px in (_size(chance, 0.5, 1.2), _size(chance, 1.0, 5.0), _size(chance, 3.0, 20.0)):
        field = cv2.GaussianBlur(
            chance.normal(0, 1, (big, big)).astype(np.float32), (0, 0), size_px * DRAWN_AT
        )
        grains = (field > chance.uniform(-1, 1) * field.std()).astype(np.float32)
        total += cv2.resize(grains, (SIDE_PX, SIDE_PX), interpolation=cv2.INTER_AREA) * chance.uniform(0.3, 1)
    return _coloured(0.45 + chance.uniform(0.05, 0.2) * (total - total.mean()) / total.std(), chance)


def low_contrast(chance: np.random.Generator) -> Floats:
    kinds = ("foliage", "feathers", "fur", "subject")
    base = RENDERERS[str(chance.choice(kinds))](chance)
    return np.asarray(np.clip(0.18 + chance.uniform(0.1, 0.3) * (base - base.mean()), 0, 1))


def _before_background(chance: np.random.Generator, share: float) -> Floats:
    subject = RENDERERS[str(chance.choice(("fur", "feathers", "ground")))](chance)
    background = cv2.GaussianBlur(foliage(chance), (0, 0), chance.uniform(12, 40))
    rows, columns = np.mgrid[0:SIDE_PX, 0:SIDE_PX] / SIDE_PX - 0.5
    wide = share * chance.uniform(0.7, 1.4)
    turn = np.arctan2(rows, columns)
    ragged = 1 + 0.08 * np.sin(turn * chance.integers(3, 12)) + 0.04 * np.sin(turn * chance.integers(20, 60))
    inside = (rows / share) ** 2 + (columns / wide) ** 2 < 0.25 * ragged
    soft = cv2.GaussianBlur(inside.astype(np.float32), (0, 0), 0.6)[..., None]
    return np.asarray(soft * subject + (1 - soft) * background)


def tiny(chance: np.random.Generator) -> Floats:
    return _before_background(chance, chance.uniform(0.18, 0.35))


def subject(chance: np.random.Generator) -> Floats:
    return _before_background(chance, chance.uniform(0.5, 1.1))


def shapes(chance: np.random.Generator) -> Floats:
    """Plain discs and bars: edges that stand alone, as of branches before the sky."""
    big = SIDE_PX * DRAWN_AT
    canvas = Image.new("L", (big, big), int(chance.integers(60, 200)))
    pen = ImageDraw.Draw(canvas)
    for _shape in range(int(chance.integers(8, 80))):
        x, y = chance.uniform(0, big, 2)
        reach = _size(chance, 20, 350)
        tone = int(chance.integers(10, 245))
        if chance.random() < 0.5:
            pen.ellipse((x - reach / 2, y - reach / 2, x + reach / 2, y + reach / 2), fill=tone)
        else:
            turn = chance.uniform(0, 2 * np.pi)
            end = (x + 2 * reach * np.cos(turn), y + 2 * reach * np.sin(turn))
            pen.line([(x, y), end], fill=tone, width=int(_size(chance, 3, 90)))
    grey = averaged(canvas)
    if chance.random() < 0.5:
        grey = 0.8 * grey + 0.2 * _strokes(chance, 12, 1.2, turned_deg=0, spread_deg=90, cover=1)
    return _coloured(grey, chance)


RENDERERS: dict[str, Callable[[np.random.Generator], Floats]] = {
    "fur": fur,
    "feathers": feathers,
    "foliage": foliage,
    "grass": grass,
    "ground": ground,
    "low_contrast": low_contrast,
    "tiny": tiny,
    "subject": subject,
    "shapes": shapes,
}
