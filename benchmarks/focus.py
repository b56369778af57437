"""Score the focus reading on the scenes that training held out (build/focus_rows.npz, from train_focus.py).

    python benchmarks/focus.py [--rows build/focus_rows.npz] [--learning]

Half of the frames were shot by cameras that training never saw. --learning scores the scenes learned from in
their place: for a look at the difference, never for a claim. The order of a 1.25x step needs the frames
themselves (build/focus_frames), and shoots pairs anew.
"""

from __future__ import annotations

import argparse
import platform
import sys
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus import learned  # noqa: E402  # the folder above is not a package's
from auditor.focus.features import NAMES  # noqa: E402
from auditor.focus.sharpness import (  # noqa: E402
    CAMERA_BLUR_PX,
    DISAGREE_FACTOR,
    FINEST_PX,
    decided,
    measure,
)
from benchmarks import focus_frames, focus_simulator  # noqa: E402

CRITERION_PX = 1.2
SEED = 20260419
STEP_SCENES, STEP_PAIRS = 40, 6


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--rows", type=Path, default=PROJECT / "build" / "focus_rows.npz")
    arguments.add_argument("--learning", action="store_true")
    arguments.add_argument("--folder", type=Path, help="of photographs: also the order of a 1.25x step")
    chosen = arguments.parse_args()
    with np.load(chosen.rows) as stored:
        frames = {name: stored[name] for name in stored.files}
    of = ~frames["held_out"] if chosen.learning else frames["held_out"]
    frames = {name: values[of] for name, values in frames.items()}
    print(
        f"Python {platform.python_version()}",
        *(f"{n} {version(n)}" for n in ("numpy", "scikit-learn")),
        sep=", ",
    )
    print(f"{of.sum()} frames of {len(set(frames['scene']))} scenes\n")
    told = [learned.read(row) for row in frames["features"]]
    sigma = np.array([one.sigma_px for one in told])
    low, high = np.array([one.low_px for one in told]), np.array([one.high_px for one in told])
    by_hand = np.exp(frames["features"][:, NAMES.index("log_blended_judge")])
    system = np.where(np.isnan(by_hand), 1.2, by_hand)
    table(frames, {"by hand": np.sqrt(np.maximum(system**2 - 0.25, 0.01)), "learned": sigma})
    whole = np.hypot(sigma, CAMERA_BLUR_PX) / np.maximum(by_hand, FINEST_PX)
    apart = ~((whole > 1 / DISAGREE_FACTOR) & (whole < DISAGREE_FACTOR))
    outside = np.array([one.outside for one in told])
    refused(frames, sigma, outside, apart & ~np.isnan(by_hand), np.isnan(by_hand))
    interval(frames, sigma, low, high)
    motion(frames, np.array([one.motion_share for one in told]))
    sharp = frames["sigma_px"] < 0.45
    print(f"the sharpest tenth of frames under 0.45 px reads {np.quantile(sigma[sharp], 0.1):.3f} px or less")
    if chosen.folder:
        steps(chosen.folder)


def table(frames: dict[str, NDArray[Any]], readings: dict[str, NDArray[np.float64]]) -> None:
    truth = frames["sigma_px"]
    print(f"{'':22}{'AUC':>7}{'zone':>7}{'median':>8}{'p90':>7}{'missed':>8}")
    groups: dict[str, NDArray[np.bool_]] = {"all": np.ones(len(truth), bool)}
    groups |= {str(name): frames["content"] == name for name in sorted(set(frames["content"]))}
    groups |= {str(name): frames["camera"] == name for name in sorted(set(frames["camera"]))}
    groups |= {
        f"ISO {a}-{b}": (frames["iso"] >= a) & (frames["iso"] < b)
        for a, b in ((100, 400), (400, 1600), (1600, 6400), (6400, 12801))
    }
    for group, chosen in groups.items():
        for name, values in readings.items():
            zone = chosen & (truth > 0.8) & (truth < 1.6)
            large = chosen & (truth >= 0.8)
            error = np.abs(values[large] / truth[large] - 1)
            blurred = chosen & (truth >= 2.2)
            print(
                f"{group:13}{name:9}{auc(truth[chosen], values[chosen]):7.3f}"
                f"{auc(truth[zone], values[zone]):7.3f}{np.median(error):8.3f}{np.quantile(error, 0.9):7.3f}"
                f"{(values[blurred] <= CRITERION_PX).mean():8.3f}"
            )
    spread = [auc(truth[of], readings["learned"][of]) for name, of in groups.items() if name[:3] == "ISO"]
    print(f"spread of AUC over ISO, learned: {max(spread) - min(spread):.3f}\n")


def refused(
    frames: dict[str, NDArray[Any]],
    sigma: NDArray[np.float64],
    outside: NDArray[np.bool_],
    apart: NDArray[np.bool_],
    no_edges: NDArray[np.bool_],
) -> None:
    """Frames that get no verdict from the reading, and the error of the others."""
    large = frames["sigma_px"] >= 0.8
    for name, which in (("too few edges", no_edges), ("outside", outside), ("readings apart", apart)):
        print(f"{name}: {which.mean():.3f} of frames")
    trusted = large & ~(outside | apart | no_edges)
    error = np.abs(sigma / frames["sigma_px"] - 1)[trusted]
    print(f"of the others: error median {np.median(error):.3f}, p90 {np.quantile(error, 0.9):.3f}")
    small = trusted & (frames["sigma_px"] <= 5.5)
    error = np.abs(sigma / frames["sigma_px"] - 1)[small]
    print(f"  up to 5.5 px: median {np.median(error):.3f}, p90 {np.quantile(error, 0.9):.3f}\n")


def interval(
    frames: dict[str, NDArray[Any]],
    sigma: NDArray[np.float64],
    low: NDArray[np.float64],
    high: NDArray[np.float64],
) -> None:
    """How often the interval holds; and the verdict, as sharpness.decided gives it."""
    truth = np.maximum(frames["sigma_px"], 0.25)
    print(f"interval of 90 %: holds for {((low <= truth) & (truth <= high)).mean():.3f}")
    for name, of in (("all", truth > 0), ("sigma 0.8 to 1.6", (truth > 0.8) & (truth < 1.6))):
        told = [decided(*one, CRITERION_PX) for one in zip(sigma[of], low[of], high[of], strict=True)]
        known = np.array([one is not None for one in told])
        right = np.array([bool(one) for one in told]) == (truth[of] > CRITERION_PX)
        print(f"verdict given, {name}: {known.mean():.3f} of frames, right in {right[known].mean():.3f}")
    blurred = truth >= 2.2
    hits = [
        decided(*one, CRITERION_PX) for one in zip(sigma[blurred], low[blurred], high[blurred], strict=True)
    ]
    print(f"sigma of 2.2 px or more called a hit: {np.mean([one is False for one in hits]):.3f}")
    print(f"  read under the criterion: {(sigma[blurred] <= CRITERION_PX).mean():.3f}")


def steps(folder: Path) -> None:
    """How often the larger of two blurs 1.25x apart reads as more, same scene, camera and ISO."""
    work = [(folder, number) for number in range(0, STEP_SCENES * focus_frames.HELD_OUT_EVERY, 4)]
    with ProcessPoolExecutor() as pool:
        found = np.array([pair for pairs in pool.map(_steps_of, work) for pair in pairs], np.float64)
    print(f"a 1.25x step, {len(found)} pairs, in order by the whole blur: {found[:, 0].mean():.3f},", end=" ")
    print(f"by the learned: {found[:, 1].mean():.3f}")


def _steps_of(work: tuple[Path, int]) -> list[tuple[bool, bool]]:
    folder, number = work
    scene = focus_frames.scene(folder, number)
    pairs = []
    for pair in range(STEP_PAIRS):
        chance = np.random.default_rng([SEED, number, pair])
        sigma_px = float(np.exp(chance.uniform(np.log(0.8), np.log(4.0))))
        kind = str(chance.choice(("gaussian", "disc")))
        iso = float(100 * 2 ** chance.uniform(0, 7))
        by = focus_simulator.UNSEEN[pair % 2]
        scale = float(chance.uniform(*scene.scaled))
        still = replace(scene, scaled=(scale, scale))
        read = [
            measure(luma_of(focus_simulator.shoot(still, by, iso, blur_px, kind, 0.0, chance).jpeg))
            for blur_px in (sigma_px, sigma_px * 1.25)
        ]
        if all(one.sigma_px is not None for one in read):
            small, large = read
            pairs.append(
                (
                    (small.system_sigma_px or 0) < (large.system_sigma_px or 0),
                    (small.sigma_px or 0) < (large.sigma_px or 0),
                )
            )
    return pairs


def luma_of(jpeg: NDArray[np.uint8]) -> NDArray[np.uint8]:
    return np.asarray(cv2.imdecode(jpeg, cv2.IMREAD_GRAYSCALE), np.uint8)


def motion(frames: dict[str, NDArray[Any]], share: NDArray[np.float64]) -> None:
    large = frames["sigma_px"] > 1.2
    moved = np.isin(frames["kind"], ("motion", "mixed"))
    for name in ("motion", "mixed"):
        of = large & (frames["kind"] == name)
        print(f"motion told of {name}: {(share[of] > 0.5).mean():.3f}")
    print(f"motion told of defocus: {(share[large & ~moved] > 0.5).mean():.3f}")
    print(f"motion against defocus: AUC {auc_of(moved[large], share[large]):.3f}")


def auc(truth_px: NDArray[np.float64], values: NDArray[np.float64]) -> float:
    return auc_of(truth_px > CRITERION_PX, values)


def auc_of(positive: NDArray[np.bool_], values: NDArray[np.float64]) -> float:
    from sklearn.metrics import roc_auc_score

    return float(roc_auc_score(positive, values)) if 0 < positive.sum() < len(positive) else float("nan")


if __name__ == "__main__":
    main()
