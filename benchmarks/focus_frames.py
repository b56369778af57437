"""Simulated frames of known blur that the focus reading is scored on (focus.py). Seeded."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from pathlib import Path

import cv2
import numpy as np
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from benchmarks import focus_scenes, focus_simulator  # noqa: E402  # the folder above is not a package's
from benchmarks.photograph_roles import of_role  # noqa: E402

SEED = 20260418
PARTS = 32
RENDERED = 180
KEEP = PROJECT / "build" / "focus_frames"
OTHERS_EVERY = 4
"""Of the scenes that are no photographs of the folder; no divisor of the number of kinds that are drawn."""
SEEDS_A_SCENE = 1000
SMALLEST_PX = 96
"""Pieces of small pictures that are smaller than this are left out."""


@dataclass(frozen=True)
class Frame:
    """One simulated frame: what is true of it, and its file's bytes."""

    number: int
    """Of its scene."""
    scene: str
    content: str
    camera: str
    iso: float
    sigma_px: float
    kind: str
    direction_deg: float
    jpeg: bytes
    piece_seed: int

    def luma(self) -> NDArray[np.uint8]:
        """The part of it that is read."""
        whole = cv2.imdecode(np.frombuffer(self.jpeg, np.uint8), cv2.IMREAD_GRAYSCALE)
        if whole is None:
            raise RuntimeError("OpenCV read no JPEG")
        luma = np.asarray(whole, np.uint8)
        return focus_simulator.piece(luma, np.random.default_rng(self.piece_seed))


@cache
def _scenes(folder: Path) -> list[focus_scenes.Scene]:
    return [
        *focus_scenes.photographs(folder),
        *focus_scenes.packaged(),
        *focus_scenes.rendered(RENDERED, 7),
    ]


def scene(folder: Path, number: int) -> focus_scenes.Scene:
    """One scene by its number."""
    return _scenes(folder)[number]


def held_out_numbers(folder: Path) -> list[int]:
    """Photographs that training and calibration leave out, and some of all other scenes.

    Those are not among what is trained on: drawn by other code, or carried by libraries.
    """
    names = {path.stem for path in folder.iterdir()}
    scored = set(of_role(names, "score"))
    return [
        number
        for number, scene in enumerate(_scenes(folder))
        if (scene.name in scored if scene.name in names else number % OTHERS_EVERY == 0)
    ]


def shoot_scene(number: int, scene: focus_scenes.Scene, per_scene: int) -> Iterator[Frame]:
    chance = np.random.default_rng([SEED, number])
    for frame in range(per_scene):
        sigma_px, kind, direction_deg, iso = focus_simulator.draw(chance)
        unseen = frame % 2 == 0
        by = focus_simulator.UNSEEN[frame // 2 % 2] if unseen else focus_simulator.camera(chance)
        shot = focus_simulator.shoot(scene, by, iso, sigma_px, kind, direction_deg, chance)
        yield Frame(
            number, scene.name, scene.kind, by.name, iso, shot.sigma_px, kind, direction_deg,
            shot.jpeg.tobytes(), number * SEEDS_A_SCENE + frame,
        )  # fmt: skip
