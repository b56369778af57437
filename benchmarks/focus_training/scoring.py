"""Frames of scenes held out, what the network tells of them, and how well."""

from __future__ import annotations

from typing import Any

import numpy as np
import torch
from numpy.typing import NDArray

from benchmarks.focus_training import frames
from benchmarks.focus_training.blur import KIND_NAMES
from benchmarks.focus_training.learning import asked
from benchmarks.focus_training.network import LEVELS, Network, Told
from benchmarks.focus_training.scenes import Bank

CRITERION_PX = 1.2
SEED = 20260427


@torch.no_grad()
def told(
    network: Network, bank: Bank, batches: int, side_px: int, *, unseen: bool
) -> dict[str, NDArray[Any]]:
    """What is true and what is told, one entry a frame; blur in log2 px."""
    network.eval()
    device = bank.light.device
    generator = torch.Generator(device=device).manual_seed(SEED + unseen)
    chance = torch.Generator().manual_seed(SEED + 2 + unseen)
    rows: dict[str, list[NDArray[Any]]] = {}
    for _batch in range(batches):
        of = frames.batch(bank, 16, 8, side_px, generator, chance, unseen=unseen)
        features, tiles = network.trunk(of.luma)
        weight = torch.ones_like(of.share)
        ask = asked(of, weight)
        said = Told(network.head(features, weight))
        front, back = (px.clamp(min=0.2).log2()[:, None, None] for px in (of.front_px, of.back_px))
        tile_truth = torch.where(of.share > 0.5, front, back)
        for name, value in {
            "sigma": ask.sigma, "whole": ask.whole, "moved": ask.moved, "angle": of.twice_angle,
            "anisotropy": of.anisotropy, "iso": of.iso, "kind": of.kind, "scene": of.scene,
            "composite": of.composite, "share": of.share.mean((1, 2)), "front": of.front_px,
            "back": of.back_px, "q_sigma": said.sigma, "q_whole": said.whole, "motion": said.motion,
            "told_angle": said.twice_angle,
            "tile_error": (tiles[:, 0] - tile_truth).abs().mean((1, 2)),
        }.items():  # fmt: skip
            rows.setdefault(name, []).append(value.float().cpu().numpy())
    return {name: np.concatenate(values) for name, values in rows.items()}


def auc(positive: NDArray[np.bool_], values: NDArray[Any]) -> float:
    """Share of pairs that are in order."""
    order = np.argsort(np.argsort(values, kind="stable"), kind="stable") + 1.0
    yes, no = int(positive.sum()), int((~positive).sum())
    if not yes or not no:
        return float("nan")
    return float((order[positive].sum() - yes * (yes + 1) / 2) / (yes * no))


def line(truth_px: NDArray[Any], middle_px: NDArray[Any], low: NDArray[Any], high: NDArray[Any]) -> str:
    """One line of figures for some frames; low and high bound 90 of 100."""
    zone = (truth_px > 0.8) & (truth_px < 1.6)
    large = truth_px >= 0.8
    error = np.abs(middle_px[large] / truth_px[large] - 1)
    held = ((truth_px >= low) & (truth_px <= high))[truth_px > 0.5]
    near = auc(truth_px[zone] > CRITERION_PX, middle_px[zone])
    return (
        f"AUC {auc(truth_px > CRITERION_PX, middle_px):.3f} zone {near:.3f} "
        f"error {np.median(error):.3f} / {np.quantile(error, 0.9):.3f} "
        f"interval holds {held.mean():.3f} ({len(truth_px)})"
    )


def shown(rows: dict[str, NDArray[Any]], kinds: list[str]) -> str:
    """A table: all, by content, by ISO, plain and composite; the whole; motion."""
    known = ~np.isnan(rows["sigma"])
    rows = {name: value[known] for name, value in rows.items()}
    truth = 2.0 ** rows["sigma"]
    quantiles = 2.0 ** rows["q_sigma"]
    middle = len(LEVELS) // 2
    content = np.array(kinds)[rows["scene"].astype(int)]
    groups = {"all": np.ones(len(truth), bool), "without soft content": content != "soft"}
    groups |= {str(kind): content == kind for kind in sorted(set(kinds))}
    groups |= {"one layer": rows["composite"] == 0, "composite": rows["composite"] > 0}
    groups |= {
        f"ISO {a}-{b}": (rows["iso"] >= a) & (rows["iso"] < b)
        for a, b in ((64, 400), (400, 1600), (1600, 6400), (6400, 30000))
    }
    lines = []
    for name, of in groups.items():
        if of.sum() > 20:
            told_ = quantiles[of]
            lines.append(f"{name:22}{line(truth[of], told_[:, middle], told_[:, 0], told_[:, -1])}")
    for low, high, name in ((0, -1, "5-95"), (1, -2, "10-90"), (2, -3, "20-80"), (3, -4, "35-65")):
        sure = (quantiles[:, low] > CRITERION_PX) | (quantiles[:, high] < CRITERION_PX)
        right = (quantiles[:, middle] > CRITERION_PX) == (truth > CRITERION_PX)
        lines.append(f"verdict by {name}: given {sure.mean():.3f}, right {right[sure].mean():.3f}")
    whole = ~np.isnan(rows["whole"])
    off = rows["q_whole"][whole, middle] - rows["whole"][whole]
    fine = rows["whole"][whole] < 0
    lines.append(
        f"whole: median error {np.median(np.abs(2**off - 1)):.3f}, "
        f"under 1 px {np.median(np.abs(2 ** off[fine] - 1)):.3f}, "
        f"bias under 1 px {2 ** np.median(off[fine]):.3f}"
    )
    for number, name in enumerate(KIND_NAMES):
        of = (rows["kind"] == number) & (truth > 1.2) & ~np.isnan(rows["moved"])
        if of.sum() > 10:
            lines.append(f"motion told of {name}: {(rows['motion'][of] > 0).mean():.3f} ({of.sum()})")
    of = (rows["moved"] == 1) & (truth > 1.2)
    true_angle = np.arctan2(rows["angle"][of, 1], rows["angle"][of, 0])
    told_angle = np.arctan2(rows["told_angle"][of, 1], rows["told_angle"][of, 0])
    apart = np.abs(np.angle(np.exp(1j * (true_angle - told_angle)))) / 2
    lines.append(f"direction: median {np.degrees(np.median(apart)):.1f} degrees off")
    lines.append(f"tiles: mean |log2| error {rows['tile_error'].mean():.3f}")
    return "\n".join(lines)
