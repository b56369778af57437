"""Score the joint reading of a scene on bursts of the second simulator, beside each frame's own reading.

    python benchmarks/scene_blur.py [--small] [--photographs FOLDER] [--bursts FILE]

Bursts of five to seven frames: one scene, camera and ISO, one kind of blur, moved by up to 3 px, other noise;
the sharpest has 0.2, 0.6 or 1.2 px. Two scenes, and one subject at two sizes, should not be joined.
"""

from __future__ import annotations

import argparse
import itertools
import os
import pickle
import platform
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus import scene_blur  # noqa: E402
from auditor.focus.ring_spectrum import ring_spectrum  # noqa: E402
from auditor.focus.sharpness import decided, measure, trusted  # noqa: E402
from benchmarks.second_focus import CRITERION_PX, PHOTOGRAPHS, auc, read  # noqa: E402
from benchmarks.second_simulator import camera as cameras  # noqa: E402
from benchmarks.second_simulator import kernels  # noqa: E402
from benchmarks.second_simulator import pieces as simulated  # noqa: E402

SEED = 20261127
SHARPEST_PX = (0.2, 0.6, 1.2)
STEP = 1.15
SHIFT_PX = 3


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--small", action="store_true")
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    arguments.add_argument("--bursts", type=Path, help="file that keeps what was simulated")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(
        *(f"{n} {version(n)}" for n in ("numpy", "opencv-python-headless", "scipy")), f"seed {SEED}", sep=", "
    )
    bursts = gathered(chosen.small, chosen.photographs, chosen.bursts)
    frames = pd.concat([scored(number, *burst) for number, burst in enumerate(bursts)], ignore_index=True)
    print(f"{len(frames)} frames of {len(bursts)} bursts\n")
    report(frames)
    strangers(bursts)


def gathered(small: bool, folder: Path, kept: Path | None) -> list[tuple[list[dict[str, Any]], list[Any]]]:
    """Bursts: the truth of each frame, and its luma."""
    if kept and kept.exists():
        with kept.open("rb") as file:  # our own file
            return pickle.load(file)  # type: ignore[no-any-return]
    bursts = []
    there = folder if folder.is_dir() else None
    scenes = simulated.scenes(there, 10 if small else 40, 10 if small else 10_000, SEED)
    for number, scene in enumerate(scenes):
        random = np.random.default_rng((SEED, number))
        bursts.append(burst(scene, SHARPEST_PX[number % 3], random))
    if kept:
        kept.parent.mkdir(parents=True, exist_ok=True)
        with kept.open("wb") as file:
            pickle.dump(bursts, file, protocol=5)
    return bursts


def burst(
    scene: simulated.Scene, sharpest_px: float, random: np.random.Generator
) -> tuple[list[dict[str, Any]], list[NDArray[np.uint8]]]:
    """Frames of one scene, a second apart: blur, shift and noise differ."""
    camera = cameras.drawn(random)
    iso = float(np.exp(random.uniform(np.log(200), np.log(12_800))))
    kind = str(random.choice(simulated.KERNELS, p=simulated.SHARES))
    light = simulated.varied(simulated.field(scene), random)
    rows, lumas = [], []
    for number in range(int(random.integers(5, 8))):
        more = 0.0 if number == 0 else float(random.choice([random.uniform(0, 1), random.uniform(0, 4)]))
        kernel = kernels.drawn(kind, float(np.hypot(sharpest_px, more)), random)
        moved = np.roll(
            light,
            random.integers(-SHIFT_PX * scene.samples_per_px, SHIFT_PX * scene.samples_per_px + 1, 2),
            (0, 1),
        )
        seen = simulated.blurred(moved, kernel, camera, scene.samples_per_px)
        jpeg = cameras.shoot(simulated.on_sensor(seen, camera, scene.samples_per_px), camera, iso, random)
        lumas.append(simulated.centre(cameras.luma_of(jpeg)))
        rows.append(
            {"content": scene.content, "kernel": kind, "iso": iso, "sigma_px": kernel.sigma_px * camera.scale}
        )
    order = random.permutation(len(rows))
    return [rows[place] for place in order], [lumas[place] for place in order]


def scored(number: int, rows: list[dict[str, Any]], lumas: list[NDArray[np.uint8]]) -> pd.DataFrame:
    """What is read of a burst: each frame alone, and together."""
    frames = pd.DataFrame(rows).assign(burst=number)
    frames = frames.join(pd.DataFrame([read(luma) for luma in lumas]))
    measured = [measure(luma) for luma in lumas]
    frames["usable"] = [trusted(one) for one in measured]
    spectra = np.array([ring_spectrum(luma, (0, *luma.shape[:1], 0, luma.shape[1])) for luma in lumas], float)
    first, second = (
        np.array(ends) for ends in zip(*itertools.combinations(range(len(rows)), 2), strict=True)
    )
    pairs = scene_blur.compared(spectra, first, second)
    spreads = np.log((frames["high"] / frames["low"]).fillna(30.0).to_numpy(float)) / 3.29
    found = scene_blur.together(pairs, frames["read_px"].where(frames["usable"]).to_numpy(float), spreads)
    for name, at in (
        ("joint_px", "sigma_px"),
        ("joint_low", "low_px"),
        ("joint_high", "high_px"),
        ("rank", "rank"),
        ("group", "group"),
    ):
        frames[name] = [getattr(one, at) if one else np.nan for one in found]
    truth = frames["sigma_px"].to_numpy() ** 2
    frames["pairs_joined"] = pairs.joined.mean()
    frames["slope_over_truth"] = _ratio(pairs, truth)
    return frames


def _ratio(pairs: scene_blur.Pairs, squares: NDArray[np.float64]) -> float:
    """Slopes over the truth, median over the pairs of a burst that differ enough."""
    truth = squares[pairs.first] - squares[pairs.second]
    of = pairs.joined & (np.abs(truth) > 0.3)
    return float(np.median(pairs.difference[of] / truth[of])) if of.any() else float("nan")


def report(frames: pd.DataFrame) -> None:
    joined = frames["joint_px"].notna()
    frames["final_px"] = frames["joint_px"].where(joined, frames["read_px"])
    frames["final_low"] = frames["joint_low"].where(joined, frames["low"])
    frames["final_high"] = frames["joint_high"].where(joined, frames["high"])
    bursts = frames.groupby("burst").first()
    print(f"joined: {joined.mean():.3f} of frames, {bursts['pairs_joined'].mean():.3f} of pairs")
    low, middle, high = bursts["slope_over_truth"].quantile([0.1, 0.5, 0.9])
    print(f"slopes over the truth: median {middle:.3f}, 80 of 100 {low:.2f} to {high:.2f}")
    for kind, part in frames.groupby("kernel"):
        print(f"  {kind}: {part.groupby('burst')['slope_over_truth'].first().median():.3f}", end="")
    names = ("AUC", "zone", "median", "p90", "held", "given", "right", "order", "best")
    print(f"\n{'':26}{'':6}" + "".join(f"{name:>8}" for name in names))
    moved = frames["kernel"].isin(kernels.MOVED)
    for name, part in (
        ("all", frames),
        ("joined", frames[joined]),
        ("defocused, joined", frames[joined & ~moved]),
        ("moved, joined", frames[joined & moved]),
        *((f"{kind}, joined", of) for kind, of in frames[joined].groupby("content")),
    ):
        if len(part) >= 12:
            line(f"{name}: alone", part, ("read_px", "low", "high"))
            line(f"{name}: together", part, ("final_px", "final_low", "final_high"))


def line(name: str, frames: pd.DataFrame, columns: tuple[str, str, str]) -> None:
    sigma, low, high = (frames[column] for column in columns)
    truth = frames["sigma_px"]
    zone = truth.between(0.8, 1.6)
    error = (sigma / truth - 1).abs()[truth >= 0.8]
    held = ((low <= truth) & (truth <= high))[truth > 0.5]
    told = [
        decided(*one, CRITERION_PX) if np.isfinite(one[1]) else None
        for one in zip(sigma, low, high, strict=True)
    ]
    given = np.array([one is not None for one in told])
    right = np.array([bool(one) for one in told]) == (truth > CRITERION_PX).to_numpy()
    steps, best = order(frames, columns[0])
    in_zone = auc(truth[zone].to_numpy(), sigma[zone].to_numpy())
    figures = [auc(truth.to_numpy(), sigma.to_numpy()), in_zone, error.median(), error.quantile(0.9)]
    figures += [held.mean(), given.mean(), right[given].mean(), steps, best]
    print(f"{name[:26]:26}{len(frames):6}" + "".join(f"{figure:8.3f}" for figure in figures))


def order(frames: pd.DataFrame, column: str) -> tuple[float, float]:
    """How often two frames of a burst, a step apart, are in order; and the best is the best."""
    right, best = [], []
    for _, part in frames.groupby("burst"):
        truth, read_px = part["sigma_px"].to_numpy(), part[column].to_numpy()
        for one, other in itertools.combinations(range(len(part)), 2):
            low, high = sorted((one, other), key=lambda place: truth[place])
            if truth[high] > STEP * truth[low] and truth[high] > 0.5:
                right.append(read_px[high] > read_px[low])
        best.append(truth[read_px.argmin()] <= STEP * max(truth.min(), 0.5))
    return float(np.mean(right)), float(np.mean(best))


def strangers(bursts: list[tuple[list[dict[str, Any]], list[NDArray[np.uint8]]]]) -> None:
    """Pairs that must not be joined: of two scenes, and of one at another size."""
    whole = [(rows, lumas) for rows, lumas in bursts if lumas[0].shape[0] == simulated.SIDE_PX]
    counts = {"another scene": [], "half as large again": []}  # type: dict[str, list[bool]]
    for (_, lumas), (_, others) in itertools.pairwise(whole):
        larger = cv2.resize(lumas[1], None, fx=1.5, fy=1.5, interpolation=cv2.INTER_CUBIC)
        for name, other in (
            ("another scene", others[0]),
            ("half as large again", simulated.centre(np.asarray(larger, np.uint8))),
        ):
            if other.shape != lumas[0].shape:
                continue
            spectra = np.array([ring_spectrum(luma, (0, 512, 0, 512)) for luma in (lumas[0], other)], float)
            pairs = scene_blur.compared(spectra, np.array([0]), np.array([1]))
            counts[name].append(bool(pairs.joined[0]))
    for name, joined in counts.items():
        print(f"{name}: joined {np.mean(joined):.3f} of {len(joined)}")


if __name__ == "__main__":
    main()
