"""Photographs of a bench target by invented kits: slanted squares of known blur, refocused for each shot."""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import lru_cache
from math import cos, hypot, radians, sin
from pathlib import Path
from random import Random

import numpy as np
from numpy.typing import NDArray

from auditor.demo.camera import Taken
from auditor.demo.filters import gaussian
from auditor.demo.gear import FULL_KITS, Kit
from auditor.demo.metadata import exif
from auditor.demo.scenario import Animal, Encounter
from auditor.errors import OutputError
from auditor.words import CameraWord

SIDE_PX = 640
FINER = 4
SHOTS = 5
SLANT_DEG = 5.0
DARK, BRIGHT = 0.05, 0.5
"""Linear light of the target's two greys."""
NOISE = 0.003
REFOCUSED_PX = 0.15
"""Spread of the focus error from shot to shot on the bare lens, as the sigma of a blur; the angle stays."""
JPEG_QUALITY = 95
_STARTS_AT = datetime(2026, 4, 12, 10, 0, 0)


def write_bench(folder: Path, *, seed: int = 20260412, kits: tuple[Kit, ...] = FULL_KITS) -> list[Path]:
    """Write SHOTS photographs a kit; returns their paths, in the order of the kits.

    Raises
    ------
    OutputError
        where the folder holds anything already, or cannot be written.
    """
    from PIL import Image

    try:
        folder.mkdir(parents=True, exist_ok=True)
        if any(folder.iterdir()):
            raise OutputError(f"{folder}: is not empty. Name a new folder for the invented bench.")
        random, paths = Random(seed), []
        for place, kit in enumerate(kits):
            for shot in range(SHOTS):
                number = place * SHOTS + shot + 1
                blur_px = hypot(kit.optics_sigma_px, abs(random.gauss(0.0, REFOCUSED_PX)) * kit.factor)
                taken = _taken(kit, number)
                path = folder / f"BEN_{number:04d}.JPG"
                pixels = target(blur_px, seed + number)
                block = exif(taken, SIDE_PX, SIDE_PX)
                Image.fromarray(pixels).convert("RGB").save(path, "JPEG", quality=JPEG_QUALITY, exif=block)
                paths.append(path)
        return paths
    except OSError as error:
        raise OutputError(f"{folder}: cannot be written ({error.strerror}).") from error


def target(optics_sigma_px: float, seed: int) -> NDArray[np.uint8]:
    """A dark square on a bright ground, turned by SLANT_DEG, as a camera without sharpening writes it.

    Its contrast across an edge is exp(-2 (pi s u)^2) sinc(u), s the blur of the optics.
    """
    shape = (SIDE_PX * FINER, SIDE_PX * FINER)
    blurred = np.fft.irfft2(_spectrum_of_target() * gaussian(shape, FINER * optics_sigma_px), s=shape)
    pixels = blurred.reshape(SIDE_PX, FINER, SIDE_PX, FINER).mean(axis=(1, 3))
    noisy = np.clip(pixels + np.random.default_rng(seed).normal(0, NOISE, pixels.shape), 0, 1)
    coded = np.where(noisy <= 0.0031308, noisy * 12.92, 1.055 * noisy ** (1 / 2.4) - 0.055)
    return np.asarray(np.rint(coded * 255), dtype=np.uint8)


@lru_cache(maxsize=1)
def _spectrum_of_target() -> NDArray[np.complex128]:
    """Of its light before any optics, drawn FINER times finer than a pixel: all shots are of it."""
    rows, columns = (np.indices((SIDE_PX * FINER, SIDE_PX * FINER)) + 0.5) / FINER - SIDE_PX / 2
    turn = radians(SLANT_DEG)
    across = np.abs(columns * cos(turn) + rows * sin(turn))
    along = np.abs(rows * cos(turn) - columns * sin(turn))
    return np.asarray(np.fft.rfft2(np.where((across < SIDE_PX / 4) & (along < SIDE_PX / 4), DARK, BRIGHT)))


def _taken(kit: Kit, number: int) -> Taken:
    """What the body writes of a shot from a tripod."""
    card = Animal(name="target", keyword="target", length_mm=200, exposure_time_s=1 / 250)
    bench = Encounter(
        number=1, starts_at=_STARTS_AT, animal=card, light_ev=12.0, kits=(kit,), distance_m=15.0, luck=0.0
    )
    return Taken(
        path="", kit=kit, encounter=bench, burst=number, shot=1, number=number,
        taken_at=_STARTS_AT + timedelta(seconds=20 * number), f_number=kit.widest, exposure_time_s=1 / 250,
        iso=100, exposure_bias_ev=0.0, light_ev=12.0, camera_word=CameraWord.CONFIRMED, kind="sharp",
        blur_sigma_px=0.0, direction_deg=None, focus_x=0.5, focus_y=0.5, rating=None,
    )  # fmt: skip
