"""The bank of scenes that frames are drawn from: photographs and drawn ones, each at three scales."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
import torch
from torch import Tensor

from benchmarks.focus_training.drawing import DRAWINGS, drawn
from benchmarks.photograph_roles import Role, of_role

PHOTOGRAPH_SCALES = (0.78, 0.64, 0.5)
"""Photographs are scaled down: what is left of their own blur is then small."""
DRAWN_SCALES = (1.0, 0.75, 0.5)
DRAWN_SIDE_PX = 512
HELD_OUT_SEEDS = {"train": 0, "score": 5_000_000, "calibrate": 7_000_000}
"""Drawn scenes of each role have seeds of their own."""


@dataclass(frozen=True)
class Bank:
    """Scenes in one row of numbers, so that pieces of many can be gathered at once."""

    light: Tensor
    """float16, all scenes at all scales: (rows, columns, 3) each, one after another."""
    start: Tensor
    """(scenes, scales)"""
    side: Tensor
    """(scenes, scales), px: scenes are square."""
    kinds: list[str]
    names: list[str]
    likely: Tensor
    """How often each scene is drawn."""

    def renew(self, scene: int, seed: int) -> None:
        """Draw another in a drawn scene's place, of the same kind."""
        light = drawn(self.kinds[scene], DRAWN_SIDE_PX, seed, self.light.device)
        for start, side in zip(self.start[scene].tolist(), self.side[scene].tolist(), strict=True):
            small = light if side == light.shape[-1] else _scaled(light, side)
            self.light[start : start + side * side] = small.permute(1, 2, 0).reshape(-1, 3).half()


def photographs(folder: Path) -> dict[str, np.ndarray]:
    """uint8 (rows, columns, 3), by name."""
    from PIL import Image

    found = {}
    for path in sorted(folder.iterdir()):
        if path.suffix.lower() in (".webp", ".png", ".jpg", ".jpeg", ".tif", ".tiff"):
            with Image.open(path) as picture:
                found[path.stem] = np.asarray(picture.convert("RGB"))
    if not found:
        raise SystemExit(f"{folder} holds no photographs (.webp, .png, .jpg, .tif)")
    return found


def bank(
    folder: Path,
    *,
    role: Role,
    drawn_scenes: int,
    seed: int,
    device: torch.device,
    more: Path | None = None,
) -> Bank:
    """The scenes to train on, or those held out to calibrate or to score on; all of `more` is to train on."""
    pictures = photographs(folder)
    others = photographs(more) if more else {}
    pieces: list[Tensor] = []
    starts, sides, kinds, titles, likely = [], [], [], [], []
    total = 0

    def add(light: Tensor, scales: tuple[float, ...], kind: str, title: str, weight: float) -> None:
        nonlocal total
        row_start, row_side = [], []
        for scale in scales:
            side = round(light.shape[-1] * scale)
            small = light if side == light.shape[-1] else _scaled(light, side)
            row_start.append(total)
            row_side.append(side)
            pieces.append(small.permute(1, 2, 0).reshape(-1, 3).half())
            total += side * side
        starts.append(row_start)
        sides.append(row_side)
        kinds.append(kind)
        titles.append(title)
        likely.append(weight)

    for picture, name in [
        *((pictures[name], name) for name in of_role(pictures, role)),
        *((picture, name) for name, picture in others.items()),
    ]:
        add(_linear(picture, device), PHOTOGRAPH_SCALES, "photograph", name, 1.0)
    drawn_kinds = list(DRAWINGS)
    # Half of all frames are of photographs, however many there are of each.
    weight = max(1, len(titles)) / max(1, drawn_scenes)
    for number in range(drawn_scenes):
        kind = drawn_kinds[number % len(drawn_kinds)]
        scene_seed = number + (HELD_OUT_SEEDS[role] or 10_000_000 + 10_000 * (seed % 10_000))
        light = drawn(kind, DRAWN_SIDE_PX, scene_seed, device)
        add(light, DRAWN_SCALES, kind, f"{kind} {scene_seed}", weight)
    return Bank(
        light=torch.cat(pieces),
        start=torch.tensor(starts, device=device),
        side=torch.tensor(sides, device=device),
        kinds=kinds,
        names=titles,
        likely=torch.tensor(likely, device=device),
    )


def _linear(picture: np.ndarray, device: torch.device) -> Tensor:
    """A square piece from the middle in linear light (IEC 61966-2-1), shape (3, side, side)."""
    side = min(picture.shape[:2])
    top, left = (picture.shape[0] - side) // 2, (picture.shape[1] - side) // 2
    encoded = torch.tensor(picture[top : top + side, left : left + side], device=device).float() / 255
    linear = torch.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return linear.permute(2, 0, 1)


def _scaled(light: Tensor, side: int) -> Tensor:
    small = torch.nn.functional.interpolate(
        light[None], size=(side, side), mode="bicubic", antialias=True, align_corners=False
    )
    return small[0].clamp(0, 1)
