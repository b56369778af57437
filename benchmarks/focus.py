"""Score the reading of blur on simulated frames of scenes that training held out.

    python benchmarks/focus.py FOLDER [--frames 8] [--steps]

FOLDER holds the sharp photographs. The frames are shot by focus_simulator.py: cameras, kernels and drawn
scenes of its own, which training knows nothing of; only the photographs are the same set, and of them those
are scored that training left out. Half of the frames are shot by two fixed cameras.
"""

from __future__ import annotations

import argparse
import platform
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from importlib.metadata import version
from multiprocessing import get_context
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus import network  # noqa: E402  # the folder above is not a package's
from auditor.focus.noise import noise_level  # noqa: E402
from auditor.focus.sharpness import Seen, decided, measure, reading_of  # noqa: E402
from benchmarks import focus_frames, focus_simulator  # noqa: E402

CRITERION_PX = 1.2
SEED = 20260419
STEP_PAIRS = 3
ISO_BANDS = ((100, 400), (400, 1600), (1600, 6400), (6400, 12801))

Columns = dict[str, NDArray[Any]]


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("folder", type=Path)
    arguments.add_argument("--frames", type=int, default=8, help="of each scene")
    arguments.add_argument("--steps", action="store_true", help="also the order of a 1.25x step")
    chosen = arguments.parse_args()
    print(f"Python {platform.python_version()}, numpy {version('numpy')}, onnxruntime", end=" ")
    print(version("onnxruntime"))
    numbers = focus_frames.held_out_numbers(chosen.folder)
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        work = [(chosen.folder, number, chosen.frames) for number in numbers]
        rows = [row for part in pool.map(_scene_rows, work) for row in part]
    frames: Columns = {name: np.array([row[name] for row in rows]) for name in rows[0]}
    print(f"{len(rows)} frames of {len(numbers)} scenes\n")
    score(frames)
    if chosen.steps:
        steps(chosen.folder, numbers)


def _scene_rows(work: tuple[Path, int, int]) -> list[dict[str, Any]]:
    cv2.setNumThreads(1)
    folder, number, count = work
    rows = []
    for frame in focus_frames.shoot_scene(number, focus_frames.scene(folder, number), count):
        luma = frame.luma()
        if min(luma.shape) >= focus_frames.SMALLEST_PX:
            rows.append(_row(frame, luma))
    return rows


def _row(frame: focus_frames.Frame, luma: NDArray[np.uint8]) -> dict[str, Any]:
    tiles = network.look(luma)
    blur_read = network.read(tiles, iso=frame.iso)
    reading = reading_of(Seen(tiles, noise_level(luma.astype(np.float32))), iso=frame.iso)
    apart = abs(blur_read.direction_deg - frame.direction_deg) % 180
    return {
        "truth": frame.sigma_px,
        "content": frame.content,
        "camera": frame.camera,
        "iso": frame.iso,
        "kind": frame.kind,
        "sigma": blur_read.sigma_px[4],
        "low": blur_read.sigma_px[0],
        "high": blur_read.sigma_px[-1],
        "system": max(blur_read.system_px[4], blur_read.sigma_px[4]),
        "motion": blur_read.motion_share,
        "apart_deg": min(apart, 180 - apart),
        "untold": reading.sigma_px is None,
    }


def score(frames: Columns) -> None:
    """Print figures: all, by content, camera and ISO; verdicts, interval, motion."""
    truth, sigma = frames["truth"], frames["sigma"]
    groups = {"all": np.ones(len(truth), bool)}
    groups |= {str(name): frames["content"] == name for name in sorted(set(frames["content"]))}
    groups |= {str(name): frames["camera"] == name for name in sorted(set(frames["camera"]))}
    groups |= {
        f"ISO {low}-{high - high % 100}": (frames["iso"] >= low) & (frames["iso"] < high)
        for low, high in ISO_BANDS
    }
    print(f"{'':16}{'AUC':>7}{'zone':>7}{'median':>8}{'p90':>7}{'holds':>7}{'frames':>8}")
    for name, of in groups.items():
        print(f"{name:16}" + _figures(truth[of], sigma[of], frames["low"][of], frames["high"][of]))
    print("system blur:    " + _figures(truth, frames["system"], frames["low"], frames["high"]))
    untold = frames["untold"]
    told = [
        None if gone else decided(middle, low, high, CRITERION_PX)
        for gone, middle, low, high in zip(untold, sigma, frames["low"], frames["high"], strict=True)
    ]
    given = np.array([one is not None for one in told])
    right = np.array([one is True for one in told]) == (truth > CRITERION_PX)
    print(f"verdict given {given.mean():.3f}, right {right[given].mean():.3f}; untold {untold.mean():.3f}")
    blurred = truth >= 2.2
    print(f"2.2 px or more called a hit: {np.mean([t is False for t in np.array(told)[blurred]]):.3f}")
    large = truth > CRITERION_PX
    for name in ("motion", "mixed", "gaussian", "disc"):
        of = large & (frames["kind"] == name)
        print(f"motion told of {name}: {(frames['motion'][of] > 0.5).mean():.3f}", end="; ")
    moved = large & (frames["kind"] == "motion")
    print(f"direction {np.median(frames['apart_deg'][moved]):.1f} degrees off in the median")
    sharp = truth < 0.45
    print(f"the sharpest tenth of frames under 0.45 px reads {np.quantile(sigma[sharp], 0.1):.3f} px or less")


def _figures(
    truth: NDArray[Any], sigma: NDArray[Any], low: NDArray[Any], high: NDArray[Any]
) -> str:  # fmt: skip
    zone, large = (truth > 0.8) & (truth < 1.6), truth >= 0.8
    error = np.abs(sigma[large] / truth[large] - 1)
    held = ((low <= truth) & (truth <= high))[truth > 0.5]
    return (
        f"{auc(truth, sigma):7.3f}{auc(truth[zone], sigma[zone]):7.3f}{np.median(error):8.3f}"
        f"{np.quantile(error, 0.9):7.3f}{held.mean():7.3f}{len(truth):8}"
    )


def auc(truth_px: NDArray[Any], values: NDArray[Any]) -> float:
    """How often a frame over the criterion reads as more than one under it."""
    over = truth_px > CRITERION_PX
    if not 0 < over.sum() < len(over):
        return float("nan")
    return float(np.mean(values[over][:, None] > values[~over]))


def steps(folder: Path, numbers: list[int]) -> None:
    """How often the larger of two blurs 1.25x apart reads as more: same scene, camera and ISO."""
    with ProcessPoolExecutor(mp_context=get_context("spawn")) as pool:
        found = [pair for part in pool.map(_steps_of, [(folder, one) for one in numbers]) for pair in part]
    print(f"a 1.25x step, {len(found)} pairs, in order: {np.mean(found):.3f}")


def _steps_of(work: tuple[Path, int]) -> list[bool]:
    folder, number = work
    scene = focus_frames.scene(folder, number)
    pairs = []
    for pair in range(STEP_PAIRS):
        chance = np.random.default_rng([SEED, number, pair])
        sigma_px = float(np.exp(chance.uniform(np.log(0.8), np.log(4.0))))
        kind = str(chance.choice(("gaussian", "disc")))
        iso = float(100 * 2 ** chance.uniform(0, 7))
        scale = float(chance.uniform(*scene.scaled))
        still = replace(scene, scaled=(scale, scale))
        read = [
            measure(
                luma_of(
                    focus_simulator.shoot(
                        still, focus_simulator.UNSEEN[pair % 2], iso, blur_px, kind, 0.0, chance
                    ).jpeg
                )
            ).sigma_px
            for blur_px in (sigma_px, sigma_px * 1.25)
        ]
        if read[0] is not None and read[1] is not None:
            pairs.append(read[0] < read[1])
    return pairs


def luma_of(jpeg: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.imdecode(jpeg, cv2.IMREAD_GRAYSCALE), np.uint8)


if __name__ == "__main__":
    main()
