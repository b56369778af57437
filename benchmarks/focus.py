"""Score the focus reading on the scenes that training held out (build/focus_frames.npz, from train_focus.py).

python benchmarks/focus.py [--frames-file build/focus_frames.npz]
"""

from __future__ import annotations

import argparse
import platform
import sys
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus import learned  # noqa: E402
from auditor.focus.features import NAMES  # noqa: E402

CRITERION_PX = 1.2


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames-file", type=Path, default=PROJECT / "build" / "focus_frames.npz")
    with np.load(arguments.parse_args().frames_file) as stored:
        frames = {name: stored[name] for name in stored.files}
    held = frames["held_out"]
    frames = {name: values[held] for name, values in frames.items()}
    print(
        f"Python {platform.python_version()}",
        *(f"{n} {version(n)}" for n in ("numpy", "scikit-learn")),
        sep=", ",
    )
    scenes = len(set(frames["scene"]))
    print(f"{held.sum()} frames of {scenes} held-out scenes, half by a pipeline that none learned from\n")
    told = [learned.read(row) for row in frames["features"]]
    sigma = np.array([one.sigma_px for one in told])
    low, high = np.array([one.low_px for one in told]), np.array([one.high_px for one in told])
    by_hand = np.exp(frames["features"][:, NAMES.index("log_blended")])
    by_hand = np.sqrt(np.maximum(np.where(np.isnan(by_hand), 1.2, by_hand) ** 2 - 0.25, 0.01))
    table(frames, {"by hand": by_hand, "learned": sigma})
    interval(frames, low, high)
    motion(frames, np.array([one.motion_share for one in told]))


def table(frames: dict[str, NDArray[Any]], readings: dict[str, NDArray[np.float64]]) -> None:
    truth = frames["sigma_px"]
    print(f"{'':22}{'AUC':>7}{'zone':>7}{'median':>8}{'p90':>7}{'missed':>8}")
    groups: dict[str, NDArray[np.bool_]] = {"all": np.ones(len(truth), bool)}
    groups |= {str(name): frames["content"] == name for name in sorted(set(frames["content"]))}
    groups |= {str(name): frames["pipeline"] == name for name in sorted(set(frames["pipeline"]))}
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
    print()


def interval(frames: dict[str, NDArray[Any]], low: NDArray[np.float64], high: NDArray[np.float64]) -> None:
    truth = np.maximum(frames["sigma_px"], 0.25)
    print(f"interval of 90 %: holds for {((low <= truth) & (truth <= high)).mean():.3f}")
    decided = (low > CRITERION_PX) | (high < CRITERION_PX)
    right = (low > CRITERION_PX) == (truth > CRITERION_PX)
    print(f"excludes the criterion: {decided.mean():.3f} of frames, right in {right[decided].mean():.3f}")


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
