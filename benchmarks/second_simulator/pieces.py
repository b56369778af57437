"""Pieces of pictures with what is true of them: a scene, a kernel and a camera make one."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray
from scipy import fft

from benchmarks.photograph_roles import Role, of_role
from benchmarks.second_simulator import camera as cameras
from benchmarks.second_simulator import kernels
from benchmarks.second_simulator.camera import Camera
from benchmarks.second_simulator.edge import total_sigma_px
from benchmarks.second_simulator.kernels import Kernel
from benchmarks.second_simulator.textures import KINDS, Light, Texture, outline

SIDE_PX = 512
FIELD_PX = 640
"""What is blurred is larger than what is kept."""
KERNELS = ("gaussian", "disc", "coma", "moved", "mixed")
SHARES = (0.15, 0.4, 0.1, 0.2, 0.15)
COMPOSITES = 0.2


@dataclass(frozen=True, slots=True)
class Scene:
    """Light of a scene that no lens has blurred yet."""

    name: str
    content: str
    light: Light
    """Linear, shape (rows, columns, 3)."""
    samples_per_px: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Piece:
    """A piece of a JPEG, and the truth."""

    luma: NDArray[np.uint8]
    scene: str
    content: str
    kernel: str
    iso: float
    sigma_px: float
    """By the kernel's second moments, before any pixel; px of the picture."""
    total_px: float | None
    """With pixels and camera: the Gaussian that leaves as much of an edge; None where not asked for."""
    direction_deg: float
    camera: Camera


def scenes(
    folder: Path | None, rendered: int, photographs: int, seed: int, role: Role = "score"
) -> Iterator[Scene]:
    """Photographs of a folder that training never sees, then drawn scenes, a kind after the other."""
    for path in photographs_of(folder, role)[:photographs] if folder else []:
        yield photograph(path)
    for number in range(rendered):
        yield drawn_scene(number, seed)


def photographs_of(folder: Path, role: Role) -> list[Path]:
    """A folder's photographs of one role, in order of their names."""
    paths = {path.stem: path for path in folder.glob("*.webp")}
    return [paths[name] for name in of_role(paths, role)]


def photograph(path: Path) -> Scene:
    """A sharp photograph as a scene: one sample a px."""
    stored = np.asarray(cv2.imread(str(path), cv2.IMREAD_COLOR), np.uint8)
    coded = cv2.cvtColor(stored, cv2.COLOR_BGR2RGB)
    light = (coded.astype(np.float32) / 255) ** 2.2
    return Scene(path.stem, "photograph", np.asarray(light, np.float32), 1)


def drawn_scene(number: int, seed: int) -> Scene:
    """A rendered scene: two samples a px."""
    random = np.random.default_rng((seed, number))
    names = list(KINDS)
    name = names[number % len(names)]
    texture: Texture = KINDS[name]
    return Scene(f"{name} {number}", name, texture(2 * FIELD_PX, random), 2)


def piece(
    scene: Scene, random: np.random.Generator, *, background: Scene | None = None, total: bool = True
) -> Piece:
    """One piece of a scene, with kernel, camera and ISO drawn by chance.

    With a background, a part of the scene stands before it, cut out: the truth is that part's.
    """
    sigma_px = float(np.exp(random.uniform(*np.log((0.6, 2.4) if random.random() < 0.55 else (0.3, 9)))))
    kernel = kernels.drawn(str(random.choice(KERNELS, p=SHARES)), sigma_px, random)
    return piece_by(kernel, scene, random, background=background, total=total)


def piece_by(
    kernel: Kernel,
    scene: Scene,
    random: np.random.Generator,
    *,
    background: Scene | None = None,
    total: bool = True,
) -> Piece:
    """The same with a kernel that is given."""
    camera = cameras.drawn(random)
    iso = float(np.exp(random.uniform(np.log(100), np.log(12_800))))
    light = varied(field(scene), random)
    seen = blurred(light, kernel, camera, scene.samples_per_px)
    content = scene.content
    if background is not None:
        behind = kernels.drawn("disc", kernel.sigma_px * float(random.uniform(1.2, 4)) + 0.5, random)
        mask = outline(light.shape[0], random, float(random.uniform(0.18, 0.35)))[..., None]
        far = field(background)
        far = far if far.shape == light.shape else np.asarray(cv2.resize(far, light.shape[1::-1]))
        seen = _before(light, mask, varied(far, random), kernel, behind, camera, scene.samples_per_px)
        content = "before a background"
    jpeg = cameras.shoot(on_sensor(seen, camera, scene.samples_per_px), camera, iso, random)
    luma = centre(cameras.luma_of(jpeg))
    wanted = total and kernel.name not in kernels.MOVED and kernel.sigma_px < 2.5
    return Piece(
        luma=luma,
        scene=scene.name,
        content=content,
        kernel=kernel.name,
        iso=iso,
        sigma_px=kernel.sigma_px * camera.scale,
        total_px=total_sigma_px(kernel, camera, iso, random) if wanted else None,
        direction_deg=kernel.direction_deg,
        camera=camera,
    )


def field(scene: Scene) -> Light:
    """A scene with a margin, mirrored where a photograph has none."""
    missing = FIELD_PX * scene.samples_per_px - scene.light.shape[0]
    if missing <= 0:
        return scene.light
    before = missing // 2
    after = missing - before
    return np.asarray(cv2.copyMakeBorder(scene.light, before, after, before, after, cv2.BORDER_REFLECT_101))


def varied(light: Light, random: np.random.Generator) -> Light:
    """The same scene in another light: flipped, turned, tinted, paler, brighter or darker."""
    light = np.rot90(light, int(random.integers(4)))
    light = light[:, ::-1] if random.random() < 0.5 else light
    mean = float(light.mean())
    contrast = float(random.choice([1.0, random.uniform(0.15, 0.8)], p=[0.7, 0.3]))
    light = mean + contrast * (light - mean)
    tint = 1 + 0.15 * random.uniform(-1, 1, 3)
    return np.asarray(light * (random.uniform(0.06, 0.28) / mean) * tint, np.float32)


def blurred(light: Light, kernel: Kernel, camera: Camera, samples_per_px: int) -> Light:
    """Light through the lens, and the low-pass filter before the sensor."""
    rows, columns = light.shape[:2]
    left = kernel.transfer((rows, columns), samples_per_px)
    if camera.low_pass_px:
        reach = 2 * math.pi * camera.low_pass_px * samples_per_px / camera.sensor_px_a_pixel
        down = np.cos(reach * fft.fftfreq(rows))[:, None]
        left = left * (down * np.cos(reach * fft.rfftfreq(columns))[None]).astype(np.float32)
    planes = [
        fft.irfft2(fft.rfft2(light[..., plane].astype(np.float32)) * left, (rows, columns))
        for plane in range(light.shape[2])
    ]
    return np.asarray(np.clip(np.dstack(planes), 0, None), np.float32)


def on_sensor(light: Light, camera: Camera, samples_per_px: int) -> Light:
    """Averaged over the sensor's pixels: half as wide as the picture's for one that bins two by two."""
    wanted = camera.sensor_px_a_pixel
    if samples_per_px == wanted:
        return light
    rows, columns = (side * wanted // samples_per_px for side in light.shape[:2])
    way = cv2.INTER_AREA if samples_per_px > wanted else cv2.INTER_CUBIC
    return np.asarray(np.clip(cv2.resize(light, (columns, rows), interpolation=way), 0, None), np.float32)


def centre(luma: NDArray[np.uint8], side_px: int = SIDE_PX) -> NDArray[np.uint8]:
    """The middle of a picture, as large as it has to be or can be without its margin."""
    side = min(side_px, round(luma.shape[0] * side_px / FIELD_PX))
    top, left = ((length - side) // 2 for length in luma.shape)
    return np.ascontiguousarray(luma[top : top + side, left : left + side])


def _before(
    near: Light, mask: Light, far: Light, kernel: Kernel, behind: Kernel, camera: Camera, samples_per_px: int
) -> Light:
    """A subject before a background, each with its blur: what the subject's blurred edge lets through."""
    plain = replace(camera, low_pass_px=0.0)
    cover = blurred(mask, kernel, plain, samples_per_px)
    seen = blurred(near * mask, kernel, plain, samples_per_px)
    rest = blurred(far, behind, plain, samples_per_px)
    return np.asarray(seen + rest * (1 - np.clip(cover, 0, 1)), np.float32)
