"""Drawn content, in linear light: what grows, what an animal wears, and what lies between it and the lens.

Every function takes a side in samples and a seeded generator and returns float32 of shape (side, side, 3),
about 0 to 1. Lengths are in samples; two samples are a pixel: what is drawn is sharper than any pixel.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

Light = NDArray[Any]
"""Linear light, float32."""
Texture = Callable[[int, np.random.Generator], Light]
_SHIFT = 4
"""OpenCV draws to a sixteenth of a sample."""


def clouds(side: int, random: np.random.Generator, *, slope: float = 2.0, stretch: float = 1.0) -> Light:
    """Noise whose spectrum falls with a slope, mean 0 and spread 1; `stretch` draws it out along rows."""
    down, across = np.fft.fftfreq(side)[:, None], np.fft.rfftfreq(side)[None] * stretch
    shape = (side, across.shape[1])
    noise = random.standard_normal(shape) + 1j * random.standard_normal(shape)
    noise /= np.maximum(np.hypot(down, across), 1 / side) ** (slope / 2)
    noise[0, 0] = 0
    found = np.fft.irfft2(noise, (side, side))
    return np.asarray(found / found.std(), np.float32)


def coloured(grey: Light, random: np.random.Generator, strength: float = 0.25) -> Light:
    """A colour cast over all of it."""
    cast = 1 + strength * random.uniform(-1, 1, 3)
    return np.asarray(np.clip(grey, 0, None)[..., None] * cast, np.float32)


def fur(side: int, random: np.random.Generator) -> Light:
    """Hairs that follow a bent field of directions, dark at the root, in tufts of a common shade."""
    bend = clouds(side, random, slope=4) * 0.35 + random.uniform(0, math.tau)
    tuft = np.exp(0.25 * clouds(side, random, slope=2.5))
    canvas = np.full((side, side), 0.05, np.float32)
    length, width = random.uniform(25, 90), int(random.choice([1, 2, 2, 3]))
    for x, y in random.uniform(-30, side + 30, (int(side * side / (length * width * 2.2)), 2)):
        row, column = int(np.clip(y, 0, side - 1)), int(np.clip(x, 0, side - 1))
        turn = float(bend[row, column] + random.normal(0, 0.12))
        shade = float(tuft[row, column] * random.uniform(0.12, 0.5))
        middle = (x + math.cos(turn) * length / 2, y + math.sin(turn) * length / 2)
        turn += random.normal(0, 0.15)
        end = (middle[0] + math.cos(turn) * length / 2, middle[1] + math.sin(turn) * length / 2)
        _line(canvas, (x, y), middle, shade * 0.6, width)
        _line(canvas, middle, end, shade, width)
    return coloured(canvas, random, 0.2)


def barbs(side: int, random: np.random.Generator) -> Light:
    """Feathers over each other: a shaft, fine barbs to either side, bands of dark and pale."""
    canvas = np.full((side, side), 0.2, np.float32)
    size = float(random.uniform(120, 380))
    direction = random.uniform(0, math.tau)
    spacing = float(random.uniform(2.5, 6))
    rows = np.arange(-size, side + size, size * 0.38)
    for y in rows:
        for x in np.arange(-size, side + size, size * 0.45) + random.uniform(0, size * 0.4):
            _feather(canvas, (float(x), float(y)), size, direction + random.normal(0, 0.12), spacing, random)
    return coloured(canvas, random, 0.15)


def foliage(side: int, random: np.random.Generator) -> Light:
    """Leaves with a vein, each in its own light, heaped from far to near."""
    canvas = np.full((side, side, 3), 0.02, np.float32)
    size = float(random.uniform(30, 130))
    green = np.array([random.uniform(0.1, 0.35), random.uniform(0.25, 0.45), random.uniform(0.04, 0.15)])
    for _ in range(int(6 * (side / size) ** 2)):
        x, y = random.uniform(0, side, 2)
        turn, long = random.uniform(0, math.tau), size * random.uniform(0.6, 1.3)
        shade = green * random.uniform(0.3, 1.6) * (1 + random.normal(0, 0.08, 3))
        leaf = _leaf((x, y), long, random.uniform(0.25, 0.5), turn)
        cv2.fillPoly(canvas, [leaf], shade.tolist(), cv2.LINE_AA, _SHIFT)
        tip = (x + math.cos(turn) * long, y + math.sin(turn) * long)
        _line(canvas, (x, y), tip, (shade * 1.4).tolist(), 2)
    return canvas


def bark(side: int, random: np.random.Generator) -> Light:
    """Ridges that run one way with dark cracks between them, lit from the side."""
    height = np.abs(clouds(side, random, slope=2.6, stretch=random.uniform(0.15, 0.5)))
    height += 0.25 * clouds(side, random, slope=1.9)
    height = cv2.rotate(height, cv2.ROTATE_90_CLOCKWISE) if random.random() < 0.7 else height
    slope = cv2.Sobel(height, cv2.CV_32F, 1, 1, ksize=3)
    light = 0.22 + 0.12 * np.tanh(slope / slope.std()) + 0.05 * height
    crack = height < np.quantile(height, random.uniform(0.05, 0.15))
    return coloured(np.where(crack, 0.02, light).astype(np.float32), random)


def grass(side: int, random: np.random.Generator) -> Light:
    """Blades that bend over, pale tips, more of them lying than one can count."""
    canvas = np.full((side, side, 3), 0.04, np.float32)
    base = np.array([random.uniform(0.15, 0.4), random.uniform(0.25, 0.4), random.uniform(0.05, 0.15)])
    lean, width = random.normal(0, 0.25), random.uniform(2, 9)
    for _ in range(int(side * 220 / width / 8)):
        x, y = random.uniform(0, side), random.uniform(0, side * 1.3)
        long, bend = random.uniform(60, 260), random.normal(lean, 0.35)
        steps = np.linspace(0, 1, 8)
        spine_x = x + bend * long * steps**2
        spine_y = y - long * steps
        half = width / 2 * (1 - steps**2) + 0.4
        points = np.concatenate(
            [np.stack([spine_x - half, spine_y], 1), np.stack([spine_x + half, spine_y], 1)[::-1]]
        )
        shade = base * random.uniform(0.35, 1.5)
        cv2.fillPoly(canvas, [_fixed(points)], shade.tolist(), cv2.LINE_AA, _SHIFT)
    return canvas


def water(side: int, random: np.random.Generator) -> Light:
    """Ripples that mirror a sky brighter towards one side; glints where they tilt right."""
    height = clouds(side, random, slope=random.uniform(2.6, 3.4), stretch=random.uniform(0.2, 0.5))
    tilt = np.asarray(cv2.Sobel(height, cv2.CV_32F, 0, 1, ksize=3), np.float32)
    tilt /= tilt.std()
    light = 0.2 + 0.08 * np.tanh(tilt) + 0.04 * height
    glint = np.clip(tilt - random.uniform(1.8, 2.8), 0, 1)
    return coloured(np.asarray(light + glint * random.uniform(0.2, 1.2), np.float32), random, 0.15)


def fog(side: int, random: np.random.Generator) -> Light:
    """Trunks and boughs that pale with distance: little contrast, and what there is truly soft."""
    canvas = np.full((side, side), 0.5, np.float32)
    for depth in np.linspace(1, 0.15, 5):
        layer = np.full((side, side), 0.0, np.float32)
        for x in random.uniform(0, side, random.integers(2, 6)):
            _branch(
                layer,
                (x, side),
                -math.pi / 2 + random.normal(0, 0.05),
                side * 0.5,
                26 * (1.2 - depth),
                random,
                4,
            )
        layer = np.asarray(cv2.GaussianBlur(layer, (0, 0), 0.8 + 5 * depth), np.float32)
        canvas += layer * (1 - depth) * (0.15 - canvas)
    return coloured(canvas, random, 0.05)


def twigs(side: int, random: np.random.Generator) -> Light:
    """Bare twigs before a smooth sky."""
    sky = 0.45 + 0.1 * clouds(side, random, slope=4)
    layer = np.zeros((side, side), np.float32)
    for x in random.uniform(0, side, random.integers(3, 8)):
        _branch(
            layer,
            (x, side),
            -math.pi / 2 + random.normal(0, 0.4),
            side * 0.35,
            random.uniform(6, 20),
            random,
            6,
        )
    rough = 0.08 + 0.05 * clouds(side, random, slope=1.6)
    return coloured(np.asarray(sky * (1 - layer) + rough * layer, np.float32), random, 0.1)


def backlight(side: int, random: np.random.Generator) -> Light:
    """A coat seen against the light: dark, but for a seam of lit hair along its outline."""
    coat = fur(side, random) * random.uniform(0.1, 0.3)
    inside = outline(side, random, random.uniform(0.3, 0.42))
    edge = np.clip(1 - np.abs(inside * 2 - 1), 0, 1)
    glow = cv2.GaussianBlur(inside, (0, 0), 18)
    seam = np.clip((0.6 - glow) * 2, 0, 1) * inside
    light = coat * inside[..., None] + (1 - inside[..., None]) * random.uniform(0.5, 0.9)
    return np.asarray(light + (seam * fur(side, random)[..., 0] * 1.5 + edge * 0.2)[..., None], np.float32)


def dark_on_sky(side: int, random: np.random.Generator) -> Light:
    """A dark bird before an even sky: what detail there is lies in a tenth of the light."""
    inside = outline(side, random, random.uniform(0.25, 0.4))[..., None]
    sky = 0.55 + 0.03 * clouds(side, random, slope=4)[..., None]
    return np.asarray(
        barbs(side, random) * random.uniform(0.05, 0.2) * inside + sky * (1 - inside), np.float32
    )


def outline(side: int, random: np.random.Generator, radius: float) -> Light:
    """An animal's outline, roughly: 1 inside and 0 outside, shape (side, side)."""
    around = np.linspace(0, math.tau, 240, endpoint=False)
    wave = sum(random.normal(0, 0.22 / n) * np.cos(n * around + random.uniform(0, 6)) for n in range(2, 9))
    reach = side * radius * np.clip(1 + np.asarray(wave), 0.35, 1.6)
    reach *= 1 + 0.012 * random.standard_normal(around.size)
    points = np.stack([side / 2 + reach * np.cos(around), side / 2 + 0.8 * reach * np.sin(around)], 1)
    mask = np.zeros((side, side), np.float32)
    cv2.fillPoly(mask, [_fixed(points)], 1.0, cv2.LINE_AA, _SHIFT)
    return mask


KINDS: dict[str, Texture] = {
    "fur": fur,
    "barbs": barbs,
    "foliage": foliage,
    "bark": bark,
    "grass": grass,
    "water": water,
    "fog": fog,
    "twigs": twigs,
    "backlight": backlight,
    "dark on sky": dark_on_sky,
}


def _fixed(points: NDArray[Any]) -> NDArray[np.int32]:
    return np.asarray(np.round(points * 2**_SHIFT), np.int32)


def _line(
    canvas: Light, start: tuple[float, float], end: tuple[float, float], shade: Any, width: int
) -> None:
    first, last = (tuple(round(value * 2**_SHIFT) for value in point) for point in (start, end))
    cv2.line(canvas, first, last, shade, width, cv2.LINE_AA, _SHIFT)


def _leaf(foot: tuple[float, float], long: float, wide: float, turn: float) -> NDArray[np.int32]:
    along = np.linspace(0, 1, 12)
    half = wide * np.sin(math.pi * along) * (1 - 0.35 * along)
    x = np.concatenate([along, along[::-1]]) * long
    y = np.concatenate([half, -half[::-1]]) * long / 2
    turned = np.stack([x * math.cos(turn) - y * math.sin(turn), x * math.sin(turn) + y * math.cos(turn)], 1)
    return _fixed(turned + np.array(foot))


def _feather(
    canvas: Light,
    foot: tuple[float, float],
    size: float,
    turn: float,
    spacing: float,
    random: np.random.Generator,
) -> None:
    tone = float(random.uniform(0.1, 0.5))
    cv2.fillPoly(canvas, [_leaf(foot, size, 0.5, turn)], tone * 0.7, cv2.LINE_AA, _SHIFT)
    band = size / random.uniform(2, 5)
    for along in np.arange(0.03 * size, 0.97 * size, spacing):
        half = 0.25 * size * math.sin(math.pi * along / size)
        shade = tone * (1.35 if int(along / band) % 2 else 0.85) * random.uniform(0.8, 1.2)
        root = (foot[0] + math.cos(turn) * along, foot[1] + math.sin(turn) * along)
        for hand in (-1, 1):
            lean = turn + hand * 0.9
            tip = (root[0] + math.cos(lean) * half, root[1] + math.sin(lean) * half)
            _line(canvas, root, tip, shade, 1)
    _line(canvas, foot, (foot[0] + math.cos(turn) * size, foot[1] + math.sin(turn) * size), tone * 1.6, 2)


def _branch(
    canvas: Light,
    foot: tuple[float, float],
    turn: float,
    long: float,
    width: float,
    random: np.random.Generator,
    forks: int,
) -> None:
    if forks == 0 or width < 1 or long < 4:
        return
    end = (foot[0] + math.cos(turn) * long, foot[1] + math.sin(turn) * long)
    _line(canvas, foot, end, 1.0, max(1, round(width)))
    for _ in range(int(random.integers(2, 4))):
        share = random.uniform(0.5, 1)
        start = (foot[0] + (end[0] - foot[0]) * share, foot[1] + (end[1] - foot[1]) * share)
        _branch(canvas, start, turn + random.normal(0, 0.5), long * 0.65, width * 0.6, random, forks - 1)
