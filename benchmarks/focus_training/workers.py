"""Frames drawn by several processes at once: one alone is busy telling the accelerator what to do.

Each frame is learned from REUSED times, mirrored by chance, before it makes room for another.
"""

from __future__ import annotations

import queue
from collections.abc import Generator, Iterator
from dataclasses import fields
from typing import Any

import torch
from torch import Tensor

from benchmarks.focus_training import frames
from benchmarks.focus_training.frames import Batch
from benchmarks.focus_training.scenes import Bank

REUSED = 4
KEPT = 64
"""Parts that are drawn from; a step learns from PARTS of them."""
PARTS = 4
GROUPS_A_PART = 2


def batches(bank: Bank, workers: int, of: int, side_px: int, seed: int) -> Generator[Batch]:
    """Batches without end. With no workers they are drawn here, and each is learned from once."""
    device = bank.light.device
    if not workers:
        yield from _drawn(bank, PARTS * GROUPS_A_PART, of, side_px, seed)
    context = torch.multiprocessing.get_context("spawn")
    made: Any = context.Queue(maxsize=2 * workers)
    shared = {f.name: getattr(bank, f.name) for f in fields(bank)}
    shared = {name: value.cpu() if isinstance(value, Tensor) else value for name, value in shared.items()}
    processes = [
        context.Process(
            target=_serve, args=(shared, str(device), of, side_px, seed + 1000 * number, made), daemon=True
        )
        for number in range(workers)
    ]
    for one in processes:
        one.start()
    try:
        yield from _reused(made, device, seed)
    finally:
        for one in processes:
            one.terminate()


def _drawn(bank: Bank, groups: int, of: int, side_px: int, seed: int) -> Iterator[Batch]:
    generator = torch.Generator(device=bank.light.device).manual_seed(seed)
    chance = torch.Generator().manual_seed(seed + 1)
    with torch.no_grad():
        while True:
            yield frames.batch(bank, groups, of, side_px, generator, chance)


def _serve(shared: dict[str, Any], device: str, of: int, side_px: int, seed: int, made: Any) -> None:
    torch.set_num_threads(1)
    there: dict[str, Any] = {}
    for name, value in shared.items():
        there[name] = value.to(device) if isinstance(value, Tensor) else value
    bank = Bank(**there)
    for batch in _drawn(bank, GROUPS_A_PART, of, side_px, seed):
        row = {f.name: getattr(batch, f.name).cpu().numpy() for f in fields(batch)}
        row["luma"] = (row["luma"] * 255 + 0.5).astype("uint8")
        made.put(row)


def _reused(made: Any, device: torch.device, seed: int) -> Iterator[Batch]:
    chance = torch.Generator().manual_seed(seed + 2)
    kept: list[Batch] = []
    while True:
        fresh = 0
        while fresh < PARTS // REUSED or len(kept) < 2 * PARTS:
            kept.append(_received(made.get(timeout=300), device))
            fresh += 1
        while len(kept) < KEPT:
            try:
                kept.append(_received(made.get_nowait(), device))
            except queue.Empty:
                break
        kept = kept[-KEPT:]
        chosen = torch.randperm(len(kept), generator=chance)[:PARTS]
        yield Batch.joined([_mirrored(kept[int(number)], chance) for number in chosen])


def _received(row: dict[str, Any], device: torch.device) -> Batch:
    tensors = {name: torch.from_numpy(value).to(device) for name, value in row.items()}
    tensors["luma"] = tensors["luma"].float() / 255
    return Batch(**tensors)


def _mirrored(of: Batch, chance: torch.Generator) -> Batch:
    values = {f.name: getattr(of, f.name) for f in fields(of)}
    for axis in (-1, -2):
        if float(torch.rand((), generator=chance)) < 0.5:
            values["luma"], values["share"] = values["luma"].flip(axis), values["share"].flip(axis)
            # Either way the angle turns the other way round.
            values["twice_angle"] = values["twice_angle"] * torch.tensor([1.0, -1.0], device=of.luma.device)
    return Batch(**values)
