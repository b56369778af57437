"""The simulated frames that the focus reading is trained and scored on, shot once and kept.

    python benchmarks/focus_frames.py FOLDER [--frames 36] [--keep build/focus_frames]

FOLDER holds sharp photographs. Scenes are split once: every fourth is held out, and half of its frames are
shot by cameras that training never sees. Takes about 600 MB.
"""

from __future__ import annotations

import argparse
import json
import sys
import zipfile
from collections.abc import Callable, Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import asdict, dataclass
from functools import cache
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from benchmarks import focus_scenes, focus_simulator  # noqa: E402  # the folder above is not a package's

SEED = 20260418
PARTS = 32
RENDERED = 180
KEEP = PROJECT / "build" / "focus_frames"
HELD_OUT_EVERY = 4
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
    held_out: bool
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


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--frames", type=int, default=36, help="frames of each scene")
    arguments.add_argument("--keep", type=Path, default=KEEP)
    chosen = arguments.parse_args()
    shoot_all(chosen.folder, chosen.frames, chosen.keep)


def shoot_all(folder: Path, per_scene: int, keep: Path = KEEP) -> None:
    """Shoot every scene; a part that is there already is left as it is."""
    keep.mkdir(parents=True, exist_ok=True)
    work = [(folder, part, per_scene, keep / f"{part:02d}.zip") for part in range(PARTS)]
    with ProcessPoolExecutor() as pool:
        for place in pool.map(_shoot_part, [one for one in work if not one[3].exists()]):
            print(f"shot {place}", flush=True)


def parts(keep: Path = KEEP) -> list[Path]:
    return sorted(keep.glob("*.zip"))


def frames(place: Path) -> Iterator[Frame]:
    """Frames of one part."""
    with zipfile.ZipFile(place) as file:
        for number, facts in enumerate(json.loads(file.read("facts.json"))):
            yield Frame(**facts, jpeg=file.read(f"{number}.jpg"))


def _keep(shot: list[Frame], place: Path) -> None:
    unfinished = place.with_suffix(".unfinished")
    with zipfile.ZipFile(unfinished, "w") as file:
        for number, one in enumerate(shot):
            file.writestr(f"{number}.jpg", one.jpeg)
        facts = [{name: value for name, value in asdict(one).items() if name != "jpeg"} for one in shot]
        file.writestr("facts.json", json.dumps(facts))
    unfinished.replace(place)


def rows(
    read: Callable[[Frame], dict[str, Any]], per_scene: int, keep: Path = KEEP
) -> dict[str, NDArray[Any]]:
    """What a function reads of so many frames of each scene, with what is true of them, as columns."""
    with ProcessPoolExecutor() as pool:
        found = [
            row
            for part in pool.map(_read_part, [(read, place, per_scene) for place in parts(keep)])
            for row in part
        ]
    found.sort(key=lambda row: (row["number"], row["piece_seed"]))
    return {name: np.array([row[name] for row in found]) for name in found[0]}


def _read_part(work: tuple[Callable[[Frame], dict[str, Any]], Path, int]) -> list[dict[str, Any]]:
    read, place, per_scene = work
    cv2.setNumThreads(1)
    names = [name for name in Frame.__dataclass_fields__ if name != "jpeg"]
    return [
        {name: getattr(one, name) for name in names} | read(one)
        for one in frames(place)
        if one.piece_seed % SEEDS_A_SCENE < per_scene and min(one.luma().shape) >= SMALLEST_PX
    ]


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


def _shoot_part(work: tuple[Path, int, int, Path]) -> Path:
    folder, part, per_scene, place = work
    cv2.setNumThreads(1)
    shot: list[Frame] = []
    for number, scene in enumerate(_scenes(folder)):
        if number % PARTS == part:
            shot += _shoot_scene(number, scene, per_scene)
    _keep(shot, place)
    return place


def _shoot_scene(number: int, scene: focus_scenes.Scene, per_scene: int) -> Iterator[Frame]:
    held_out = number % HELD_OUT_EVERY == 0
    chance = np.random.default_rng([SEED, number])
    for frame in range(per_scene):
        sigma_px, kind, direction_deg, iso = focus_simulator.draw(chance)
        unseen = held_out and frame % 2 == 0
        by = focus_simulator.UNSEEN[frame // 2 % 2] if unseen else focus_simulator.camera(chance)
        shot = focus_simulator.shoot(scene, by, iso, sigma_px, kind, direction_deg, chance)
        yield Frame(
            number, scene.name, scene.kind, held_out, by.name, iso, shot.sigma_px, kind, direction_deg,
            shot.jpeg.tobytes(), number * SEEDS_A_SCENE + frame,
        )  # fmt: skip


if __name__ == "__main__":
    main()
