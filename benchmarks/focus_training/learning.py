"""What is asked of the network, and the steps by which it learns."""

from __future__ import annotations

import math
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import torch
from torch import Tensor
from torch.nn import functional as nnf

from benchmarks.focus_training import frames, workers
from benchmarks.focus_training.frames import Batch
from benchmarks.focus_training.network import LEVELS, Network, Told
from benchmarks.focus_training.workers import Plan

AVERAGE_OVER_STEPS = 1500
TILE_WEIGHT, MOTION_WEIGHT, DIRECTION_WEIGHT, WHOLE_WEIGHT = 0.35, 0.9, 0.3, 0.6
ZONE_WEIGHT = 2.0
WARM_STEPS = 200


@dataclass(frozen=True)
class Asked:
    """What a weighted set of tiles is to be told; NaN where nothing is asked."""

    weight: Tensor
    sigma: Tensor
    whole: Tensor
    moved: Tensor


def asked(of: Batch, weight: Tensor) -> Asked:
    """The sharpest layer that fills enough of the tiles is their blur."""
    total = weight.sum((1, 2))
    front = (of.share * weight).sum((1, 2)) / total
    back = 1 - front
    front_sharper = of.front_px <= of.back_px
    sharper = torch.where(front_sharper, front, back)
    sharper_px = torch.minimum(of.front_px, of.back_px)
    other_px = torch.maximum(of.front_px, of.back_px)
    nothing = torch.full_like(sharper_px, math.nan)
    counts, ignored = sharper >= frames.COUNTED_SHARE, sharper < frames.IGNORED_SHARE
    sigma = torch.where(counts, sharper_px, torch.where(ignored, other_px, nothing))
    of_front = (front_sharper & counts) | (~front_sharper & ignored) | ~of.composite
    return Asked(
        weight=weight,
        sigma=sigma.clamp(min=frames.LEAST_SIGMA_PX).log2(),
        whole=torch.where(of_front & ~sigma.isnan(), of.whole_px, nothing).clamp(min=0.15).log2(),
        moved=torch.where(of_front, of.moved, nothing),
    )


def some_tiles(of: Batch, generator: torch.Generator) -> Tensor:
    """A rectangle of tiles in each picture: the head is to read parts of a region."""
    count, tiles = of.share.shape[:2]
    device = of.share.device
    size = (torch.rand(count, 2, generator=generator, device=device) ** 1.5 * (tiles - 4)).long() + 4
    first = (torch.rand(count, 2, generator=generator, device=device) * (tiles - size + 1)).long()
    place = torch.arange(tiles, device=device)
    rows = (place >= first[:, :1]) & (place < first[:, :1] + size[:, :1])
    columns = (place >= first[:, 1:]) & (place < first[:, 1:] + size[:, 1:])
    return (rows[:, :, None] & columns[:, None]).float()


def pinball(told: Tensor, truth: Tensor, weight: Tensor) -> Tensor:
    known = ~truth.isnan()
    levels = torch.tensor(LEVELS, device=told.device)
    off = torch.nan_to_num(truth)[:, None] - told
    loss = torch.maximum(levels * off, (levels - 1) * off).mean(1) * weight * known
    return 2 * loss.sum() / (weight * known).sum().clamp(min=1)


def zone_weight(sigma: Tensor) -> Tensor:
    """Blur near the criterion decides: it weighs more."""
    near = (sigma > math.log2(0.7)) & (sigma < math.log2(1.8))
    return 1 + (ZONE_WEIGHT - 1) * near.float()


def loss_of(network: Network, of: Batch, generator: torch.Generator) -> tuple[Tensor, dict[str, Tensor]]:
    device = of.luma.device
    with torch.autocast(device.type, torch.bfloat16, enabled=device.type == "cuda"):
        features, tiles = network.trunk(of.luma.contiguous(memory_format=torch.channels_last))
    features, tiles = features.float(), tiles.float()
    everywhere = torch.ones_like(of.share)
    parts: dict[str, Tensor] = {}
    total = torch.zeros((), device=device)
    for name, weight, share in (("all", everywhere, 1.0), ("part", some_tiles(of, generator), 0.5)):
        ask = asked(of, weight)
        told = Told(network.head(features, weight))
        near = zone_weight(ask.sigma)
        parts[f"sigma {name}"] = pinball(told.sigma, ask.sigma, near)
        parts[f"whole {name}"] = pinball(told.whole, ask.whole, near)
        known = ~ask.moved.isnan()
        motion = nnf.binary_cross_entropy_with_logits(
            told.motion, torch.nan_to_num(ask.moved), reduction="none"
        )
        parts[f"motion {name}"] = (motion * known).sum() / known.sum().clamp(min=1)
        turning = (known & (ask.moved > 0)).float() * of.anisotropy
        off = (told.twice_angle - of.twice_angle).square().sum(1)
        parts[f"direction {name}"] = (off * turning).sum() / turning.sum().clamp(min=1)
        total = total + share * (
            parts[f"sigma {name}"]
            + WHOLE_WEIGHT * parts[f"whole {name}"]
            + MOTION_WEIGHT * parts[f"motion {name}"]
            + DIRECTION_WEIGHT * parts[f"direction {name}"]
        )
    parts["tiles"] = _tile_loss(tiles, of)
    return total + TILE_WEIGHT * parts["tiles"], parts


def _tile_loss(tiles: Tensor, of: Batch) -> Tensor:
    """Laplace: each tile with its own spread; tiles on an outline are left out."""
    front, back = (
        px.clamp(min=frames.LEAST_SIGMA_PX).log2()[:, None, None] for px in (of.front_px, of.back_px)
    )
    truth = torch.where(of.share > 0.5, front, back)
    clear = ((of.share > 0.9) | (of.share < 0.1)).float()
    spread = tiles[:, 1].clamp(-5, 3)
    loss = (tiles[:, 0] - truth).abs() * torch.exp(-spread) + spread
    return (loss * clear).sum() / clear.sum().clamp(min=1)


def learn(network: Network, plan: Plan, place: Path, state: dict[str, Any] | None) -> Network:
    """Learn for so long; the averaged network comes back. Kept in `place` every two minutes."""
    device = next(network.parameters()).device
    generator = torch.Generator(device=device).manual_seed(plan.seed)
    network.to(memory_format=torch.channels_last)  # twice as fast on an accelerator
    averaged = Network().to(device)
    averaged.load_state_dict((state or {}).get("averaged", network.state_dict()))
    optimiser = torch.optim.AdamW(
        network.parameters(), lr=plan.rate, weight_decay=0.01, fused=device.type == "cuda"
    )
    if state and "optimiser" in state:
        optimiser.load_state_dict(state["optimiser"])
    before = int((state or {}).get("steps", 0))
    step = 0
    shown: dict[str, float] = {}
    network.train()
    drawn = workers.batches(plan, device)
    batch = next(drawn)
    began = kept = time.monotonic()
    while (gone := (time.monotonic() - began) / plan.seconds) < 1:
        rate = (
            plan.rate * min(1, (step + 1) / WARM_STEPS) * (0.02 + 0.98 * 0.5 * (1 + math.cos(math.pi * gone)))
        )
        for one in optimiser.param_groups:
            one["lr"] = rate
        loss, parts = loss_of(network, batch, generator)
        optimiser.zero_grad()
        loss.backward()
        torch.nn.utils.clip_grad_norm_(network.parameters(), 2.0)
        optimiser.step()
        step += 1
        batch = next(drawn)
        _average(averaged, network, min(AVERAGE_OVER_STEPS, 10 + (before + step) // 3))
        if step % 100 == 1:
            shown = {name: round(float(value.detach()), 3) for name, value in parts.items()}
            print(
                f"step {before + step}, {time.monotonic() - began:.0f} s, rate {rate:.5f}: {shown}",
                flush=True,
            )
        if time.monotonic() - kept > 100:
            kept = time.monotonic()
            keep(place, network, averaged, optimiser, before + step)
    drawn.close()
    keep(place, network, averaged, optimiser, before + step)
    return averaged


@torch.no_grad()
def _average(averaged: Network, network: Network, over: int) -> None:
    ours, theirs = (
        [value for value in one.state_dict().values() if value.is_floating_point()]
        for one in (averaged, network)
    )
    torch._foreach_lerp_(ours, theirs, 1 / over)


def keep(place: Path, network: Network, averaged: Network, optimiser: Any, steps: int) -> None:
    unfinished = place.with_suffix(".unfinished")
    torch.save(
        {
            "network": network.state_dict(),
            "averaged": averaged.state_dict(),
            "optimiser": optimiser.state_dict(),
            "steps": steps,
        },
        unfinished,
    )
    unfinished.replace(place)
