"""Whole frames: an animal cut out before a background, the focus area as a camera records it, and a JPEG."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import cv2
import numpy as np

from benchmarks.second_simulator import camera as cameras
from benchmarks.second_simulator import kernels, textures
from benchmarks.second_simulator.camera import Camera
from benchmarks.second_simulator.kernels import Kernel
from benchmarks.second_simulator.pieces import Scene, blurred, varied
from benchmarks.second_simulator.textures import Light

COLUMNS, ROWS = 1920, 1280
"""Small for a camera, but what is read of it is as large as in a large one."""
MARGIN_PX = 48
Area = tuple[float, float, float, float]
"""Centre x, centre y, width, height as fractions of the picture."""


@dataclass(frozen=True, slots=True)
class Case:
    """How a frame is made up."""

    name: str
    animal_px: tuple[int, int] = (420, 620)
    area: tuple[float, float] = (0.07, 0.1)
    """Width and height as fractions."""
    where: str = "on it"
    behind: str = "smooth"
    light: str = "plain"
    before: str = ""


CASES = (
    Case("on the animal"),
    Case("small in the area", animal_px=(90, 170), area=(0.2, 0.25)),
    Case("area on the wing's edge", where="edge"),
    Case("area beside the animal", where="beside"),
    Case("area much larger than the animal", animal_px=(160, 260), area=(0.5, 0.6)),
    Case("twigs before it", before="twigs"),
    Case("soft twigs before it", before="soft twigs"),
    Case("busy foliage behind", behind="busy"),
    Case("backlight", light="backlight"),
    Case("dark on sky", behind="sky", light="dark"),
    Case("grey on fog", behind="sky", light="grey"),
)


@dataclass(frozen=True, slots=True)
class Composed:
    """A frame before any lens: what is drawn, and where the focus area lies."""

    case: Case
    animal: Light
    mask: Light
    """1 on the animal; with `animal` a square with a margin."""
    background: Light
    """Of the whole frame, at half its size."""
    behind_px: float
    """How blurred the background is while the animal is sharp."""
    twigs: Light | None
    """How much of the light twigs take, shape of `animal`."""
    x_px: int
    """Centre of the animal."""
    y_px: int
    area: Area


def composed(case: Case, scene: Scene, random: np.random.Generator) -> Composed:
    """Draw the parts of a frame: the animal's coat from a scene."""
    size = int(random.integers(*case.animal_px))
    side = size + 2 * MARGIN_PX
    mask = textures.outline(side, random, 0.42 * size / side)
    animal = _lit(_coat(scene, side, random), mask, case, random)
    background = _background(case, random)
    x = int(random.uniform(0.35, 0.65) * COLUMNS)
    y = int(random.uniform(0.35, 0.65) * ROWS)
    dx, dy = _aside(mask, case, random)
    area = ((x + dx) / COLUMNS, (y + dy) / ROWS, *case.area)
    twigs = _twigs(side, random) if case.before else None
    behind_px = {"busy": random.uniform(1.8, 4), "sky": 6.0}.get(case.behind, random.uniform(5, 12))
    return Composed(case, animal, mask, background, float(behind_px), twigs, x, y, area)


def shot(
    frame: Composed,
    kernel: Kernel,
    camera: Camera,
    iso: float,
    random: np.random.Generator,
    moved_px: tuple[int, int] = (0, 0),
) -> bytes:
    """The JPEG of a frame: the animal with the kernel, the background far behind it."""
    behind = kernels.disc(math.hypot(kernel.sigma_px, frame.behind_px), 0.3, rim=0.3)
    plain = replace(camera, low_pass_px=0.0)
    far = blurred(frame.background, behind, plain, 0.5)  # type: ignore[arg-type]
    light = np.asarray(cv2.resize(far, (COLUMNS, ROWS), interpolation=cv2.INTER_CUBIC))
    near = blurred(frame.animal * frame.mask[..., None], kernel, plain, 1)
    cover = np.clip(blurred(frame.mask[..., None], kernel, plain, 1), 0, 1)
    side = frame.mask.shape[0]
    top, left = frame.y_px + moved_px[1] - side // 2, frame.x_px + moved_px[0] - side // 2
    there = light[top : top + side, left : left + side]
    seen = near + there * (1 - cover)
    if frame.twigs is not None:
        soft = frame.case.before == "soft twigs"
        twig = kernels.disc(random.uniform(5, 8) if soft else 0.5, 0.2)
        taken = np.clip(blurred(frame.twigs[..., None], twig, plain, 1), 0, 1)
        seen = seen * (1 - taken) + 0.05 * taken
    light[top : top + side, left : left + side] = seen
    return cameras.shoot(np.clip(light, 0, None), camera, iso, random)


def camera_for_frames(random: np.random.Generator) -> Camera:
    """A camera whose pictures are as large as its sensor, without the slowest of noise reductions."""
    camera = cameras.drawn(random)
    demosaicking = "edge aware" if camera.demosaicking == "half" else camera.demosaicking
    reduction = "wavelet" if camera.reduction == "non-local means" else camera.reduction
    return replace(
        camera, demosaicking=demosaicking, reduction=reduction, scale=1.0, quality=max(camera.quality, 80)
    )


def _coat(scene: Scene, side: int, random: np.random.Generator) -> Light:
    light = scene.light
    if scene.samples_per_px == 2:
        light = np.asarray(cv2.resize(light, None, fx=0.5, fy=0.5, interpolation=cv2.INTER_AREA))
    missing = max(0, side - light.shape[0])
    light = cv2.copyMakeBorder(light, 0, missing, 0, missing, cv2.BORDER_REFLECT_101)
    top, left = (int(random.integers(0, length - side + 1)) for length in light.shape[:2])
    return varied(light[top : top + side, left : left + side], random)


def _lit(coat: Light, mask: Light, case: Case, random: np.random.Generator) -> Light:
    if case.light == "dark":
        return np.asarray(coat * 0.15)
    if case.light == "grey":
        mean = coat.mean()
        return np.asarray(0.3 + 0.25 * (coat - mean) * 0.15 / mean)
    if case.light == "backlight":
        glow = np.asarray(cv2.GaussianBlur(mask, (0, 0), 9))
        seam = np.clip((0.62 - glow) * 2.5, 0, 1)[..., None]
        return np.asarray(coat * 0.2 + seam * coat * 4)
    return coat


def _background(case: Case, random: np.random.Generator) -> Light:
    """At half the frame's size, in light about as the animal's."""
    rows, columns = ROWS // 2, COLUMNS // 2
    if case.behind == "sky":
        level = 0.33 if case.light == "grey" else 0.55
        return np.asarray(np.full((rows, columns, 3), level) * random.uniform(0.95, 1.05, 3), np.float32)
    draw = (
        textures.foliage
        if case.behind == "busy"
        else random.choice(np.array([textures.foliage, textures.grass, textures.bark], object))
    )
    drawn = cv2.resize(draw(columns, random), (columns, columns))[:rows]
    level = 0.7 if case.light == "backlight" else random.uniform(0.08, 0.25)
    return np.asarray(drawn * (level / drawn.mean()), np.float32)


def _aside(mask: Light, case: Case, random: np.random.Generator) -> tuple[int, int]:
    """From the animal's middle to that of the focus area, px."""
    if case.where == "on it":
        return 0, 0
    side = mask.shape[0]
    turn = random.uniform(0, math.tau)
    reach = next(
        r
        for r in range(side)
        if mask[
            min(max(int(side / 2 + r * math.sin(turn)), 0), side - 1),
            min(max(int(side / 2 + r * math.cos(turn)), 0), side - 1),
        ]
        < 0.5
        or r == side - 1
    )
    if case.where == "beside":
        reach += int(0.7 * case.area[0] * COLUMNS)
    return int(reach * math.cos(turn)), int(reach * math.sin(turn))


def _twigs(side: int, random: np.random.Generator) -> Light:
    """Two or three thin twigs across the animal."""
    layer = np.zeros((side, side), np.uint8)
    for _ in range(int(random.integers(2, 4))):
        y = random.uniform(0.3, 0.7, 2) * side
        width = int(random.integers(3, 8))
        cv2.line(layer, (0, int(y[0])), (side, int(y[1])), 255, width, cv2.LINE_AA)
    return layer.astype(np.float32) / 255
