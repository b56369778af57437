"""Rendering one frame of the invented trip: an animal on a soft estuary, as blurred and noisy as asked for.

Everything is done in linear light on float arrays of shape (rows, columns) or (rows, columns, 3);
the last step makes it the picture that a camera would write.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from auditor.demo import subjects
from auditor.demo.filters import Plane, disc, filtered, gaussian, line, smooth_noise

KINDS = ("sharp", "soft", "smeared", "elsewhere")
SHARPENING = 0.35
"""Amount of the camera's own sharpening."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PictureSpec:
    """What to render. Blur is the sigma of a Gaussian, or what equals it: a disc has diameter 4 sigma."""

    width_px: int
    height_px: int
    subject: str
    subject_size_px: float
    centre_x: float
    """Where the animal's head is, as fractions of the picture: the focus area."""
    centre_y: float
    kind: str
    blur_sigma_px: float
    """At the focus area, besides the lens."""
    direction_deg: float | None
    lens_sigma_px: float
    """Of the whole system, for everything in focus."""
    iso: float
    base_electrons: float
    """Electrons in a white pixel at ISO 100."""
    read_noise_e: float
    seed: int
    """Of the noise; frames differ in it."""
    scene_seed: int
    """Of the scene; frames of one encounter share it."""


def render(spec: PictureSpec) -> NDArray[np.uint8]:
    """The picture, shape (rows, columns, 3).

    Raises
    ------
    ValueError
        for a kind or subject that there is not, or a number that cannot be meant.
    """
    _check(spec)
    shape = (spec.height_px, spec.width_px)
    background = _background(spec.scene_seed, shape)
    head_px = (spec.centre_x * spec.width_px, spec.centre_y * spec.height_px)
    colour, alpha = subjects.draw(spec.subject, shape, head_px, spec.subject_size_px, spec.scene_seed + 10)
    kernel = _transfer(shape, spec)
    alpha = np.clip(filtered(alpha, kernel), 0, 1)
    colour = np.stack([filtered(colour[..., i], kernel) for i in range(3)], axis=-1)
    linear = background * (1 - alpha[..., None]) + colour
    if spec.kind == "elsewhere":
        stones, mask = subjects.shingle(shape, spec.scene_seed)
        lens = gaussian(shape, spec.lens_sigma_px)
        mask = np.clip(filtered(mask, lens), 0, 1)
        stones = np.stack([filtered(stones[..., i], lens) for i in range(3)], axis=-1)
        linear = linear * (1 - mask[..., None]) + stones
    return _developed(np.clip(linear, 0, 1), spec)


def _check(spec: PictureSpec) -> None:
    if spec.kind not in KINDS:
        raise ValueError(f"kind must be one of {KINDS}, not {spec.kind!r}")
    if spec.subject not in subjects.SUBJECTS:
        raise ValueError(f"subject must be one of {sorted(subjects.SUBJECTS)}, not {spec.subject!r}")
    if spec.kind == "smeared" and spec.direction_deg is None:
        raise ValueError("direction_deg must be given for a smeared frame")
    for name in ("width_px", "height_px", "subject_size_px", "iso", "base_electrons"):
        if not getattr(spec, name) > 0:
            raise ValueError(f"{name} must be above 0, not {getattr(spec, name)!r}")
    for name in ("blur_sigma_px", "lens_sigma_px", "read_noise_e"):
        if not getattr(spec, name) >= 0:
            raise ValueError(f"{name} must be 0 or more, not {getattr(spec, name)!r}")


@lru_cache(maxsize=2)
def _background(seed: int, shape: tuple[int, int]) -> Plane:
    """Mud, water and sky far out of focus: the same in all frames of an encounter."""
    height_px = shape[0]
    scene = np.random.default_rng(seed)
    warm = np.array((0.30, 0.27, 0.21)) * scene.uniform(0.8, 1.3)
    cool = np.array((0.25, 0.30, 0.33)) * scene.uniform(0.8, 1.3)
    down = np.linspace(0, 1, height_px)[:, None]
    mix = np.clip(down + 0.22 * smooth_noise(seed + 1, shape, 45), 0, 1)[..., None]
    field = cool * (1 - mix) + warm * mix
    return np.asarray(field * (1 + 0.10 * smooth_noise(seed + 2, shape, 28)[..., None]))


def _developed(linear: Plane, spec: PictureSpec) -> NDArray[np.uint8]:
    """Noise in electrons, noise reduction, sharpening and gamma, as a camera does them."""
    generator = np.random.default_rng(spec.seed)
    white_e = spec.base_electrons * 100 / spec.iso
    electrons = linear * white_e
    noisy = electrons + generator.standard_normal(linear.shape) * np.sqrt(electrons + spec.read_noise_e**2)
    level = noisy / white_e
    shape = linear.shape[:2]
    calmed_px = min(0.55, 0.12 * max(0.0, np.log2(spec.iso / 800)))
    # One pass does both: calm it, then add back part of what a blur takes away.
    made = gaussian(shape, calmed_px) * (1 + SHARPENING * (1 - gaussian(shape, 1.0)))
    channels = [filtered(level[..., i], made) for i in range(3)]
    shown = np.clip(np.stack(channels, axis=-1), 0, 1) ** (1 / 2.2)
    return np.asarray(np.rint(shown * 255), dtype=np.uint8)


def _transfer(shape: tuple[int, int], spec: PictureSpec) -> Plane:
    """Lens and blur together."""
    lens = gaussian(shape, spec.lens_sigma_px)
    if spec.blur_sigma_px == 0:
        return lens
    if spec.kind == "smeared":
        return lens * line(shape, spec.blur_sigma_px, spec.direction_deg or 0.0)
    return lens * disc(shape, 2 * spec.blur_sigma_px)
