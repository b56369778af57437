"""Frames drawn by several processes at once: one alone is busy telling the accelerator what to do. Where
there are two accelerators, frames are drawn on the second.

Frames are kept in a pool, from which batches take any of them, so that a batch holds many cameras and scenes;
each is learned from REUSED times in the mean, mirrored by chance, before it makes room for another. Each
process draws other scenes, and draws one anew every few groups: no network learns a bank of scenes by heart.
"""

from __future__ import annotations

import queue
import threading
from collections.abc import Generator
from dataclasses import dataclass, fields
from pathlib import Path
from typing import Any

import torch
from torch import Tensor

from benchmarks.focus_training import camera, frames, scenes
from benchmarks.focus_training.blur import Draws
from benchmarks.focus_training.frames import Batch

REUSED = 4
POOL_FRAMES = 20_000
FIRST_FRAMES = 3_000
"""Before the first step."""
GROUPS_A_STEP = 2
"""That are taken in at most: processes that draw faster wait, or they would keep it from learning."""
ON_FIRST_EVERY = 6
"""Of the processes that draw, this one of so many shares the accelerator that learns."""
RENEWED_EVERY = 6
"""Groups of frames after which a drawn scene makes room for another."""


@dataclass
class Plan:
    """How to learn."""

    folder: Path
    """Of photographs."""
    more: Path | None
    """Of photographs besides, none of which is held out."""
    drawn_scenes: int
    """That each process which draws frames keeps at a time."""
    workers: int
    batch: int
    of: int
    """Frames of one camera."""
    side_px: int
    seconds: float
    rate: float
    seed: int


def batches(plan: Plan, device: torch.device) -> Generator[Batch]:
    """Batches without end. With no workers they are drawn here."""
    pool = _Pool(device, min(POOL_FRAMES, 100 * plan.batch), plan.seed)
    if not plan.workers:
        for number, group in enumerate(_groups(plan, device, 0)):
            pool.add(group)
            if (number + 1) * plan.of >= plan.batch:
                yield pool.batch(plan.batch)
    context = torch.multiprocessing.get_context("spawn")
    made: Any = context.Queue(maxsize=2 * plan.workers)
    processes = [
        context.Process(target=_serve, args=(plan, _drawn_on(device, number), number, made), daemon=True)
        for number in range(plan.workers)
    ]
    for process in processes:
        process.start()
    received: queue.Queue[dict[str, Any]] = queue.Queue(maxsize=8)
    threading.Thread(target=_receive, args=(made, received), daemon=True).start()
    try:
        learned = 0
        while True:
            while pool.came < FIRST_FRAMES or learned > REUSED * pool.came:
                pool.add(_unpacked(received.get(timeout=400), device))
            for _group in range(GROUPS_A_STEP):
                if not received.empty():
                    pool.add(_unpacked(received.get(), device))
            learned += plan.batch
            yield pool.batch(plan.batch)
    finally:
        print(f"{pool.came} frames drawn, {learned} learned from", flush=True)
        for process in processes:
            process.terminate()


def _drawn_on(device: torch.device, worker: int) -> str:
    """The second accelerator, and a little on the first."""
    if device.type != "cuda" or torch.cuda.device_count() < 2:
        return str(device)
    return "cuda:0" if worker % ON_FIRST_EVERY == ON_FIRST_EVERY - 1 else "cuda:1"


def _groups(plan: Plan, device: torch.device, worker: int) -> Generator[Batch]:
    seed = plan.seed + 1000 * worker
    bank = scenes.bank(
        plan.folder,
        role="train",
        drawn_scenes=plan.drawn_scenes,
        seed=seed,
        device=device,
        more=plan.more,
    )
    photographs = bank.kinds.count("photograph")
    generator = torch.Generator(device=device).manual_seed(seed)
    chance = torch.Generator().manual_seed(seed + 1)
    number = 0
    while True:
        with torch.no_grad():  # not around the yield: it would hold for whoever takes the group
            group = frames.group(bank, plan.of, plan.side_px, camera.draw(chance), generator, chance)
        yield group
        number += 1
        if number % RENEWED_EVERY == 0 and plan.drawn_scenes:
            turn = number // RENEWED_EVERY
            bank.renew(
                photographs + turn % plan.drawn_scenes,
                20_000_000 + 100_000 * (worker + 50 * (plan.seed % 100)) + turn,
            )


def _serve(plan: Plan, device: str, worker: int, made: Any) -> None:
    torch.set_num_threads(1)
    if ":" in device:
        torch.cuda.set_device(device)
    for number, group in enumerate(_groups(plan, torch.device(device), worker)):
        if number == 0:
            print(f"process {worker} draws", flush=True)
        row = {f.name: getattr(group, f.name).cpu().numpy() for f in fields(group)}
        row["luma"] = (row["luma"] * 255 + 0.5).astype("uint8")
        made.put(row)


def _receive(made: Any, received: queue.Queue[dict[str, Any]]) -> None:
    while True:
        received.put(made.get())


def _unpacked(row: dict[str, Any], device: torch.device) -> Batch:
    return Batch(**{name: torch.from_numpy(value).to(device) for name, value in row.items()})


class _Pool:
    """The frames that batches are taken from; luma as bytes."""

    def __init__(self, device: torch.device, size: int, seed: int) -> None:
        self.size, self.came = size, 0
        self.draws = Draws(torch.Generator(device=device).manual_seed(seed + 2), device)
        self.kept: dict[str, Tensor] = {}

    def add(self, group: Batch) -> None:
        """Each in the place of the oldest."""
        count = len(group.iso)
        values = {f.name: getattr(group, f.name) for f in fields(group)}
        if values["luma"].dtype != torch.uint8:
            values["luma"] = (values["luma"] * 255 + 0.5).to(torch.uint8)
        place = (torch.arange(count, device=group.iso.device) + self.came) % self.size
        for name, value in values.items():
            if name not in self.kept:
                self.kept[name] = value.new_zeros((self.size, *value.shape[1:]))
            self.kept[name][place] = value
        self.came += count

    def batch(self, count: int) -> Batch:
        """Any of them, each mirrored by chance."""
        which = (self.draws(count) * min(self.came, self.size)).long()
        values = {name: value[which] for name, value in self.kept.items()}
        values["luma"] = values["luma"].float() / 255
        for axis in (-1, -2):
            turned = self.draws(count) < 0.5
            for name in ("luma", "share"):
                value = values[name]
                where = turned.view(-1, *[1] * (value.dim() - 1))
                values[name] = torch.where(where, value.flip(axis), value)
            # Either way the angle turns the other way round.
            values["twice_angle"] = torch.where(
                turned[:, None],
                values["twice_angle"] * values["twice_angle"].new_tensor([1.0, -1.0]),
                values["twice_angle"],
            )
        return Batch(**values)
