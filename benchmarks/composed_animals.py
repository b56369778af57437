"""Whole frames composed another way: animals with limbs, and focus areas where readings go astray.

    python benchmarks/composed_animals.py [--seed N] [--frames-a-case N] [--photographs FOLDER]

Shares neither shapes, nor areas, nor lens, nor camera with whole_frames.py: silhouettes with heads, wings and
legs; kernels and cameras of focus_simulator.py. What counts is whether the animal is in focus.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import sys
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.sharpness import VERSION  # noqa: E402
from benchmarks import whole_frames  # noqa: E402
from benchmarks.focus_scenes import photographs, rendered  # noqa: E402
from benchmarks.focus_simulator import Camera, camera, developed, kernel  # noqa: E402
from benchmarks.photograph_roles import of_role  # noqa: E402
from benchmarks.second_focus import PHOTOGRAPHS  # noqa: E402
from benchmarks.second_simulator.whole_frame import COLUMNS, ROWS  # noqa: E402

SEED = 20261130
FRAMES_A_CASE = 8

Floats = NDArray[Any]
Chance = np.random.Generator


@dataclass(frozen=True, slots=True)
class Case:
    """How a frame is made up."""

    name: str
    shape: str
    length_px: tuple[int, int]
    area: str
    """Where the focus area lies: on the head, the body, the wing's tip, beside, or wide."""
    behind: str = "far"
    before: str = ""
    """What stands before the animal."""


CASES = (
    Case("head of a standing bird", "bird", (380, 640), "head"),
    Case("tip of a wing on sky", "flying", (420, 800), "tip", behind="sky"),
    Case("beside a bird", "bird", (320, 520), "beside"),
    Case("beside a deer", "deer", (500, 800), "beside"),
    Case("wide area, small deer", "deer", (170, 260), "wide"),
    Case("wide area, small bird on sky", "flying", (120, 220), "wide", behind="sky"),
    Case("bird on ground as sharp as itself", "bird", (300, 480), "body", behind="ground"),
    Case("background in focus", "deer", (320, 560), "body", behind="in focus"),
    Case("sharp branch across it", "bird", (380, 620), "body", before="branch"),
    Case("sharp branch beside it", "bird", (320, 520), "body", before="branch beside"),
    Case("soft leaves before it", "deer", (420, 700), "body", before="leaves"),
    Case("snake", "snake", (420, 700), "body"),
    Case("dusk before a bright sky", "deer", (360, 600), "body", behind="dusk"),
)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--seed", type=int, default=SEED)
    arguments.add_argument("--frames-a-case", type=int, default=FRAMES_A_CASE)
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    arguments.add_argument("--frames", type=Path, help="folder that keeps the JPEGs")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(
        *(f"{n} {version(n)}" for n in ("numpy", "opencv-python-headless")), f"seed {chosen.seed}", sep=", "
    )
    with tempfile.TemporaryDirectory(prefix="frames-") as place:
        folder = chosen.frames or Path(place)
        truth = folder / "truth.json"
        if not truth.exists():
            folder.mkdir(parents=True, exist_ok=True)
            rows = composed(
                folder, chosen.seed, chosen.frames_a_case, coats_of(chosen.photographs, chosen.seed)
            )
            truth.write_text(json.dumps(rows), encoding="utf-8")
        rows = json.loads(truth.read_text(encoding="utf-8"))
        frames = pd.DataFrame([whole_frames.told(number, row, folder) for number, row in enumerate(rows)])
    print(f"{len(frames)} frames, reading {VERSION}\n")
    whole_frames.single(frames)


def coats_of(folder: Path, seed: int) -> list[Floats]:
    """What animals and backgrounds are made of: photographs that training never saw, and drawn scenes."""
    kept = set(of_role((path.stem for path in folder.glob("*.webp")), "score"))
    unseen = [scene.linear for scene in photographs(folder) if scene.name in kept]
    return unseen + [scene.linear for scene in rendered(24, seed)]


def composed(folder: Path, seed: int, frames_a_case: int, coats: list[Floats]) -> list[dict[str, Any]]:
    """Write the JPEGs; returns the truth of each."""
    rows: list[dict[str, Any]] = []
    for place, case in enumerate(CASES):
        for number in range(frames_a_case):
            chance = np.random.default_rng((seed, place, number))
            sharp = number % 2 == 0
            sigma_px = float(chance.uniform(0.35, 0.9) if sharp else chance.uniform(2.0, 5.0))
            kind = str(chance.choice(("disc", "gaussian", "motion"), p=(0.5, 0.25, 0.25)))
            iso = float(400 * 2 ** chance.integers(0, 6))
            linear, area = drawn(case, sigma_px, kind, coats, chance)
            name = f"{len(rows):04d}.jpg"
            (folder / name).write_bytes(shot(linear, camera(chance), iso, chance))
            rows.append(
                {
                    "file": name,
                    "case": case.name,
                    "kernel": kind,
                    "sigma_px": sigma_px,
                    "iso": iso,
                    "area": area,
                    "burst": None,
                }
            )
    return rows


def shot(linear: Floats, by: Camera, iso: float, chance: Chance) -> bytes:
    rgb = developed(np.clip(linear, 0, 1), by, iso, chance)
    bgr = (rgb[..., ::-1] * 255 + 0.5).astype(np.uint8)
    written, jpeg = cv2.imencode(".jpg", bgr, [cv2.IMWRITE_JPEG_QUALITY, max(80, by.quality)])
    if not written:
        raise RuntimeError("OpenCV wrote no JPEG")
    return bytes(jpeg)


def drawn(
    case: Case, sigma_px: float, kind: str, coats: list[Floats], chance: Chance
) -> tuple[Floats, tuple[float, float, float, float]]:
    """Linear light of a frame, and its focus area as fractions of the picture."""
    length = int(chance.integers(*case.length_px))
    mask, marks = SHAPES[case.shape](length, chance)
    rows, columns = mask.shape
    left = int(chance.uniform(0.35, 0.65) * COLUMNS - columns / 2)
    top = int(chance.uniform(0.35, 0.65) * ROWS - rows / 2)
    whole_mask = np.zeros((ROWS, COLUMNS), np.float32)
    clipped = whole_mask[max(top, 0) : top + rows, max(left, 0) : left + columns]
    clipped += mask[max(-top, 0) : max(-top, 0) + clipped.shape[0], max(-left, 0) :][:, : clipped.shape[1]]
    direction = float(chance.uniform(0, 180))
    light = _behind(case, sigma_px, kind, direction, top + rows, coats, chance)
    tone = 0.06 if case.behind == "dusk" else float(chance.uniform(0.1, 0.25))
    coat = _coat(coats[int(chance.integers(len(coats)))], (ROWS, COLUMNS), tone, chance)
    light = _over(light, coat, whole_mask, sigma_px, kind, direction)
    x, y = marks["body"] if case.area not in marks else marks[case.area]
    x, y = x + left, y + top
    width, height = (0.42, 0.5) if case.area == "wide" else (float(chance.uniform(0.035, 0.09)),) * 2
    height *= COLUMNS / ROWS if case.area != "wide" else 1
    if case.area == "beside":
        x, y = _beside(whole_mask, width * COLUMNS, chance)
    light = _before(light, case, (x, y), whole_mask, chance)
    area = (x / COLUMNS, y / ROWS, width, height)
    return light, (float(area[0]), float(area[1]), width, height)


def _beside(mask: Floats, width_px: float, chance: Chance) -> tuple[float, float]:
    """So far from the animal that the area does not touch it, by a third to a whole of its width."""
    away = cv2.distanceTransform((mask < 0.5).astype(np.uint8), cv2.DIST_L2, 5)
    gap = width_px * (0.75 + float(chance.uniform(0.33, 1.0)))
    rows, columns = np.nonzero(np.abs(away - gap) < 2)
    inside = (rows > 150) & (rows < ROWS - 150) & (columns > 150) & (columns < COLUMNS - 150)
    place = int(chance.choice(np.flatnonzero(inside)))
    return float(columns[place]), float(rows[place])


def _behind(
    case: Case, sigma_px: float, kind: str, direction: float, feet: int, coats: list[Floats], chance: Chance
) -> Floats:
    """What stands behind the animal, as blurred as it is there."""
    shape = (ROWS, COLUMNS)
    if case.behind in ("sky", "dusk"):
        low, high = sorted(chance.uniform(0.35, 0.75, 2))
        ramp = np.linspace(low, high, ROWS, dtype=np.float32)[:, None, None]
        return np.broadcast_to(ramp * chance.uniform(0.9, 1.1, 3).astype(np.float32), (*shape, 3)).copy()
    picture = _coat(coats[int(chance.integers(len(coats)))], shape, float(chance.uniform(0.08, 0.25)), chance)
    if case.behind == "in focus":
        # A soft animal before what is in focus; a sharp one before what is a little out of it.
        return _blurred(picture, 0.6 if sigma_px > 1.2 else 2.5, "gaussian", 0)
    far = _blurred(picture, float(chance.uniform(4, 11)), "disc", 0)
    if case.behind == "ground":
        ground = _coat(coats[int(chance.integers(len(coats)))], shape, 0.15, chance)
        strip = np.zeros(shape, np.float32)
        strip[feet - 40 : feet + 60] = 1
        return _over(far, ground, strip, sigma_px, kind, direction)
    return far


def _before(light: Floats, case: Case, at: tuple[float, float], mask: Floats, chance: Chance) -> Floats:
    layer = np.zeros((ROWS, COLUMNS), np.float32)
    if case.before.startswith("branch"):
        turn = float(chance.uniform(-0.6, 0.6))
        x, y = at
        if case.before == "branch beside":
            side = 1 if chance.random() < 0.5 else -1
            reach = np.flatnonzero(mask.max(axis=0) > 0.5)
            x = (reach[-1] if side > 0 else reach[0]) + side * float(chance.uniform(40, 120))
            turn += np.pi / 2
        step = np.array([np.cos(turn), np.sin(turn)]) * 420
        ends = [(int(x + s * step[0]), int(y + s * step[1])) for s in (-1, 1)]
        cv2.line(layer, ends[0], ends[1], 1.0, int(chance.integers(6, 22)), cv2.LINE_AA)
        bark = 0.09 + 0.05 * chance.standard_normal((ROWS, COLUMNS, 1)).astype(np.float32)
        return _over(light, np.clip(np.repeat(bark, 3, 2), 0.01, 1), layer, 0.5, "gaussian", 0)
    if case.before == "leaves":
        columns = np.flatnonzero(mask.max(axis=0) > 0.5)
        rows = np.flatnonzero(mask.max(axis=1) > 0.5)
        for _leaf in range(5):
            spot = (int(chance.choice(columns)), int(chance.choice(rows)))
            axes = (int(chance.integers(20, 60)), int(chance.integers(8, 25)))
            cv2.ellipse(layer, spot, axes, float(chance.uniform(0, 180)), 0, 360, 1.0, -1)
        green = np.broadcast_to(np.array([0.05, 0.12, 0.04], np.float32), (ROWS, COLUMNS, 3))
        return _over(light, green, layer, float(chance.uniform(6, 9)), "disc", 0)
    return light


def _over(
    light: Floats, near: Floats, mask: Floats, sigma_px: float, kind: str, direction_deg: float
) -> Floats:
    """Something before what is there: light and cover are blurred alike."""
    cover = np.clip(_blurred(mask, sigma_px, kind, direction_deg), 0, 1)[..., None]
    seen = _blurred(near * mask[..., None], sigma_px, kind, direction_deg)
    return np.asarray(light * (1 - cover) + seen, np.float32)


def _blurred(light: Floats, sigma_px: float, kind: str, direction_deg: float) -> Floats:
    weights = kernel(kind, sigma_px, direction_deg).astype(np.float32)
    return np.asarray(cv2.filter2D(light, -1, weights, borderType=cv2.BORDER_REFLECT))


def _coat(linear: Floats, shape: tuple[int, int], tone: float, chance: Chance) -> Floats:
    """A scene, mirrored until it fills a frame, at a brightness."""
    shrunk = cv2.resize(linear, None, fx=0.75, fy=0.75, interpolation=cv2.INTER_AREA)
    turned = np.rot90(shrunk, int(chance.integers(4)))
    rows, columns = (int(chance.integers(0, side)) for side in turned.shape[:2])
    down = np.abs((np.arange(shape[0]) + rows) % (2 * turned.shape[0] - 2) - turned.shape[0] + 1)
    across = np.abs((np.arange(shape[1]) + columns) % (2 * turned.shape[1] - 2) - turned.shape[1] + 1)
    filled = turned[down][:, across]
    return np.asarray(filled * (tone / max(float(filled.mean()), 1e-3)), np.float32)


Marks = dict[str, tuple[float, float]]


def _canvas(columns: int, rows: int) -> Floats:
    return np.zeros((rows, columns), np.float32)


def _bird(length: int, chance: Chance) -> tuple[Floats, Marks]:
    """Body, head, bill, tail and two legs."""
    mask = _canvas(int(1.25 * length), int(1.1 * length))
    unit = length / 10
    body, head = (5.6 * unit, 5.4 * unit), (8.8 * unit, 2.9 * unit)
    _ellipse(mask, body, (3.2 * unit, 2.0 * unit), -25)
    _ellipse(mask, head, (1.25 * unit, 1.15 * unit), 0)
    _polygon(mask, [(7.2, 3.0), (9.3, 3.9), (7.6, 6.0), (6.2, 4.0)], unit)
    _polygon(mask, [(9.8, 2.5), (11.3, 3.0), (9.8, 3.3)], unit)
    _polygon(mask, [(3.6, 5.6), (0.2, 7.9), (0.8, 8.6), (4.2, 7.2)], unit)
    for foot in (5.2, 6.4):
        _line(mask, (foot * unit, 7.0 * unit), (foot * unit, 10.4 * unit), max(2, int(unit / 4)))
    return _facing(mask, {"head": head, "body": body}, chance)


def _flying(length: int, chance: Chance) -> tuple[Floats, Marks]:
    """A body and two spread wings."""
    mask = _canvas(int(1.05 * length), int(0.7 * length))
    unit = length / 10
    _ellipse(mask, (5.2 * unit, 3.6 * unit), (1.5 * unit, 0.6 * unit), 15)
    _polygon(mask, [(4.8, 3.7), (0.3, 1.2), (1.6, 0.9), (5.8, 3.0)], unit)
    _polygon(mask, [(5.0, 3.7), (9.9, 1.7), (9.0, 1.0), (5.6, 3.0)], unit)
    return _facing(mask, {"tip": (1.1 * unit, 1.4 * unit), "body": (5.2 * unit, 3.6 * unit)}, chance)


def _deer(length: int, chance: Chance) -> tuple[Floats, Marks]:
    """Trunk, neck, head, ears and four legs."""
    mask = _canvas(int(1.1 * length), int(1.05 * length))
    unit = length / 10
    body, head = (4.4 * unit, 4.9 * unit), (8.9 * unit, 2.0 * unit)
    _ellipse(mask, body, (3.4 * unit, 1.5 * unit), 0)
    _polygon(mask, [(6.2, 4.2), (8.0, 1.6), (9.1, 2.4), (7.6, 5.4)], unit)
    _ellipse(mask, head, (1.3 * unit, 0.7 * unit), 20)
    _polygon(mask, [(8.1, 1.6), (7.6, 0.4), (8.6, 1.3)], unit)
    for foot in (1.8, 2.7, 6.1, 6.9):
        _line(mask, (foot * unit, 5.5 * unit), (foot * unit, 10.0 * unit), max(3, int(unit / 2.5)))
    return _facing(mask, {"head": head, "body": body}, chance)


def _snake(length: int, chance: Chance) -> tuple[Floats, Marks]:
    """A winding band, an eleventh as wide as it is long."""
    mask = _canvas(int(1.1 * length), int(0.5 * length))
    steps = np.linspace(0.05, 1.0, 60)
    points = np.stack([steps * length, (0.25 + 0.12 * np.sin(steps * 9)) * length], axis=1)
    cv2.polylines(mask, [points.astype(np.int32)], False, 1.0, max(6, length // 11), cv2.LINE_AA)
    middle = points[30]
    return _facing(mask, {"body": (float(middle[0]), float(middle[1]))}, chance)


SHAPES: dict[str, Callable[[int, Chance], tuple[Floats, Marks]]] = {
    "bird": _bird, "flying": _flying, "deer": _deer, "snake": _snake,
}  # fmt: skip


def _facing(mask: Floats, marks: Marks, chance: Chance) -> tuple[Floats, Marks]:
    """As drawn, or the other way round."""
    if chance.random() < 0.5:
        return np.clip(mask, 0, 1), marks
    mirrored = {name: (mask.shape[1] - x, y) for name, (x, y) in marks.items()}
    return np.ascontiguousarray(np.clip(mask, 0, 1)[:, ::-1]), mirrored


def _ellipse(mask: Floats, centre: tuple[float, float], axes: tuple[float, float], turned_deg: float) -> None:
    spot, reach = tuple(int(v) for v in centre), tuple(int(v) for v in axes)
    cv2.ellipse(mask, spot, reach, turned_deg, 0, 360, 1.0, -1, cv2.LINE_AA)


def _polygon(mask: Floats, points: list[tuple[float, float]], unit: float) -> None:
    cv2.fillPoly(mask, [(np.array(points) * unit).astype(np.int32)], 1.0, cv2.LINE_AA)


def _line(mask: Floats, start: tuple[float, float], end: tuple[float, float], width_px: int) -> None:
    ends = [tuple(int(v) for v in point) for point in (start, end)]
    cv2.line(mask, ends[0], ends[1], 1.0, width_px, cv2.LINE_AA)


if __name__ == "__main__":
    main()
