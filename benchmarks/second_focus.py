"""Score the focus reading on a second simulator, from which nothing was learned.

    python benchmarks/second_focus.py [--small] [--photographs FOLDER] [--pieces FILE]

Other scenes, kernels and cameras than the first one's (benchmarks/second_simulator); of the photographs, only
those that are held out. Figures come with 90 % intervals, from drawing scenes again. --pieces keeps what was
simulated, so that another reading is scored on the same pieces at once.
"""

from __future__ import annotations

import argparse
import os
import pickle
import platform
import sys
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from numpy.typing import NDArray
from scipy.stats import rankdata

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.sharpness import VERSION, measure, over, probability_under  # noqa: E402
from benchmarks.second_simulator import pieces as simulated  # noqa: E402
from benchmarks.second_simulator.kernels import MOVED  # noqa: E402

PHOTOGRAPHS = PROJECT.parent / "shared" / "sharp_photos"
CRITERION_PX = 1.2
SEED = 20261126
PIECES_A_SCENE = 7
RENDERED, SMALL_RENDERED, SMALL_PHOTOGRAPHS = 40, 10, 10
DRAWN_AGAIN = 200
PHOTOGRAPHS_OUTSIDE, DRAWN_OUTSIDE = 43, 16
"""Scenes of a set that was scored outside the project; here the drawn ones are more than half."""
ISO_BANDS = ((100, 400), (400, 1600), (1600, 6400), (6400, 12_801))
LEAST_TO_JUDGE = 15


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--small", action="store_true", help="a minute's worth")
    arguments.add_argument(
        "--photographs", type=Path, default=PHOTOGRAPHS, help="folder of sharp photographs"
    )
    arguments.add_argument("--pieces", type=Path, help="file that keeps what was simulated")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(
        *(f"{n} {version(n)}" for n in ("numpy", "opencv-python-headless", "scipy")), f"seed {SEED}", sep=", "
    )
    began = time.perf_counter()
    frames, lumas = gathered(chosen.small, chosen.photographs, chosen.pieces)
    print(f"{len(frames)} pieces of {frames['scene'].nunique()} scenes, {time.perf_counter() - began:.0f} s")
    began = time.perf_counter()
    frames = frames.join(pd.DataFrame([read(luma) for luma in lumas], index=frames.index))
    print(f"reading {VERSION}: {1e3 * (time.perf_counter() - began) / len(frames):.1f} ms a piece\n")
    report(frames)


def gathered(small: bool, folder: Path, kept: Path | None) -> tuple[pd.DataFrame, list[NDArray[np.uint8]]]:
    """Pieces with their truth, from the file if it is there."""
    if kept and kept.exists():
        with kept.open("rb") as file:  # our own file
            return pickle.load(file)  # type: ignore[no-any-return]
    rendered, photographs = (SMALL_RENDERED, SMALL_PHOTOGRAPHS) if small else (RENDERED, 10_000)
    there = folder if folder.is_dir() else None
    if there is None:
        print(f"no photographs in {folder}: drawn scenes alone")
    rows: list[dict[str, Any]] = []
    lumas = []
    before: simulated.Scene | None = None
    for number, scene in enumerate(simulated.scenes(there, rendered, photographs, SEED)):
        random = np.random.default_rng((SEED, number, 1))
        for turn in range(PIECES_A_SCENE):
            background = before if turn == 0 or random.random() < 0.1 else None
            one = simulated.piece(scene, random, background=background)
            lumas.append(one.luma)
            facts = {
                name: getattr(one, name)
                for name in one.__dataclass_fields__
                if name not in ("luma", "camera")
            }
            rows.append(facts | {"camera": f"{one.camera.demosaicking}, {one.camera.reduction}"})
        before = scene
    found = pd.DataFrame(rows), lumas
    if kept:
        kept.parent.mkdir(parents=True, exist_ok=True)
        with kept.open("wb") as file:
            pickle.dump(found, file, protocol=5)
    return found


def read(luma: NDArray[np.uint8]) -> dict[str, Any]:
    """What the auditor reads; where it tells nothing, the criterion stands in for the order."""
    reading = measure(luma)
    sigma, low, high = reading.sigma_px, reading.low, reading.high
    blurred = None if reading.quantiles_px is None else over(reading.quantiles_px, CRITERION_PX)
    return {
        "read_px": CRITERION_PX if sigma is None else sigma,
        "told": sigma is not None,
        "low": np.nan if low is None else low,
        "high": np.nan if high is None else high,
        "system_px": np.nan if reading.system_sigma_px is None else reading.system_sigma_px,
        "likely_soft": 0.5
        if reading.quantiles_px is None
        else 1 - probability_under(reading.quantiles_px, CRITERION_PX),
        "given": blurred is not None,
        "called_soft": bool(blurred),
        "read_kind": reading.kind,
        "read_deg": np.nan if reading.direction_deg is None else reading.direction_deg,
    }


def auc(truth: NDArray[Any], values: NDArray[Any]) -> float:
    """How often a piece over the criterion reads as more than one under it."""
    blurred = truth > CRITERION_PX
    above, below = blurred.sum(), (~blurred).sum()
    if not above or not below:
        return float("nan")
    ranks = rankdata(values)
    return float((ranks[blurred].sum() - above * (above + 1) / 2) / (above * below))


def auc_of(frames: pd.DataFrame) -> float:
    return auc(frames["sigma_px"].to_numpy(), frames["read_px"].to_numpy())


def likely_of(frames: pd.DataFrame) -> float:
    """By how likely it is to be over the criterion, which is what is stored of a frame."""
    return auc(frames["sigma_px"].to_numpy(), frames["likely_soft"].to_numpy())


def zone_of(frames: pd.DataFrame) -> float:
    return auc_of(frames[frames["sigma_px"].between(0.8, 1.6)])


def error_of(share: float) -> Callable[[pd.DataFrame], float]:
    def of(frames: pd.DataFrame) -> float:
        told = frames[frames["told"] & (frames["sigma_px"] >= 0.8)]
        return float((told["read_px"] / told["sigma_px"] - 1).abs().quantile(share))

    return of


def held_of(frames: pd.DataFrame) -> float:
    told = frames[frames["told"] & (frames["sigma_px"] > 0.5)]
    return float(((told["low"] <= told["sigma_px"]) & (told["sigma_px"] <= told["high"])).mean())


def given_of(frames: pd.DataFrame) -> float:
    return float(frames["given"].mean())


def right_of(frames: pd.DataFrame) -> float:
    given = frames[frames["given"]]
    return float((given["called_soft"] == (given["sigma_px"] > CRITERION_PX)).mean())


FIGURES: dict[str, Callable[[pd.DataFrame], float]] = {
    "AUC": auc_of,
    "likely": likely_of,
    "zone": zone_of,
    "median": error_of(0.5),
    "p90": error_of(0.9),
    "interval": held_of,
    "given": given_of,
    "right": right_of,
}


def report(frames: pd.DataFrame) -> None:
    """Print the figures: all pieces, then by content, ISO and camera, then motion and the whole blur."""
    still = frames[~frames["kernel"].isin(MOVED)]
    print(f"{'':24}{'pieces':>7}" + "".join(f"{name:>9}" for name in FIGURES))
    row("all", frames)
    row("defocused", still)
    quantiles("all", [drawn_again(frames, number) for number in range(DRAWN_AGAIN)], (0.05, 0.95))
    if frames["content"].eq("photograph").any():
        outside = f"{PHOTOGRAPHS_OUTSIDE} photographs to {DRAWN_OUTSIDE}"
        again = [drawn_as_outside(frames, number) for number in range(DRAWN_AGAIN)]
        quantiles(outside, again, (0.5, 0.05, 0.95))
    for column in ("content", "kernel", "camera"):
        print(f"by {column}")
        for name, part in frames.groupby(column):
            if len(part) >= LEAST_TO_JUDGE:
                row(f"  {name}", part)
    print("by ISO")
    for first, last in ISO_BANDS:
        row(f"  {first} to {last - 1}", frames[frames["iso"].between(first, last, inclusive="left")])
    motion(frames)
    whole_blur(frames)


def row(name: str, frames: pd.DataFrame) -> None:
    values = "".join(f"{figure(frames):9.3f}" for figure in FIGURES.values())
    print(f"{name[:24]:24}{len(frames):7}{values}")


def quantiles(name: str, again: list[pd.DataFrame], shares: tuple[float, ...]) -> None:
    """Of each figure, over scenes drawn again."""
    spread = {figure: [of(one) for one in again] for figure, of in FIGURES.items()}
    for share in shares:
        values = "".join(f"{np.nanquantile(drawn, share):9.3f}" for drawn in spread.values())
        print(f"{f'  {share:.0%} of {name}':31}{values}")


def drawn_again(frames: pd.DataFrame, number: int) -> pd.DataFrame:
    """Scenes drawn with replacement, each with all of its pieces."""
    names = sorted(set(frames["scene"]))
    return _drawn(frames, number, [(names, len(names))])


def drawn_as_outside(frames: pd.DataFrame, number: int) -> pd.DataFrame:
    """The same in the proportions of the set outside."""
    photographs = set(frames.loc[frames["content"] == "photograph", "scene"])
    drawn = set(frames["scene"]) - photographs
    of = [(sorted(photographs), PHOTOGRAPHS_OUTSIDE), (sorted(drawn), DRAWN_OUTSIDE)]
    return _drawn(frames, number, of)


def _drawn(frames: pd.DataFrame, number: int, of: list[tuple[list[str], int]]) -> pd.DataFrame:
    random = np.random.default_rng((SEED, number))
    places = frames.groupby("scene").indices
    chosen = [names[one] for names, count in of for one in random.integers(len(names), size=count)]
    return frames.iloc[np.concatenate([places[name] for name in chosen])]


def motion(frames: pd.DataFrame) -> None:
    """How often motion is told, of pieces whose blur is over the criterion.

    Motion is told of what is called soft alone, so it is also counted among these: the rest lies too near the
    limit for any verdict.
    """
    blurred = frames[frames["sigma_px"] > CRITERION_PX]
    told = blurred["read_kind"] == "smeared"
    called = blurred["called_soft"]
    for name, which in (
        ("moved", blurred["kernel"] == "moved"),
        ("mixed", blurred["kernel"] == "mixed"),
        ("defocused", ~blurred["kernel"].isin(MOVED)),
        ("defocused without coma", ~blurred["kernel"].isin((*MOVED, "coma"))),
    ):
        print(
            f"motion told of {name}: {told[which].mean():.3f} of {which.sum()}, "
            f"of those called soft {told[which & called].mean():.3f} of {(which & called).sum()}"
        )
    known = blurred[told & (blurred["kernel"] == "moved")]
    apart = (known["read_deg"] - known["direction_deg"]).abs() % 180
    apart = apart.where(apart < 90, 180 - apart)
    far = apart.quantile(0.9)
    print(f"direction off by {apart.median():.1f} degrees in the median, 90 of 100 within {far:.0f}\n")


def whole_blur(frames: pd.DataFrame) -> None:
    """The whole blur against an edge sent through the same lens and camera."""
    print("whole blur read over the true one, median and middle half, by the true one")
    known = frames[frames["total_px"].notna() & frames["system_px"].notna()]
    known = known[known["content"] != "before a background"]
    ratio = known["system_px"] / known["total_px"]
    for first, last in ((0.35, 0.55), (0.55, 0.75), (0.75, 1.0), (1.0, 1.4), (1.4, 2.5)):
        for name, of in (("ISO under 1600", known["iso"] < 1600), ("over", known["iso"] >= 1600)):
            there = ratio[of & known["total_px"].between(first, last)]
            if len(there) >= LEAST_TO_JUDGE // 2:
                low, middle, high = there.quantile([0.25, 0.5, 0.75])
                size = f"  {first:.2f} to {last:.2f} px, {name:15}"
                print(f"{size}{middle:6.2f} ({low:.2f} to {high:.2f}), {len(there)}")
    for name, of in (
        ("photographs", known["content"] == "photograph"),
        ("drawn scenes", known["content"] != "photograph"),
    ):
        again = [slope(drawn_again(known[of], number)) for number in range(DRAWN_AGAIN)]
        low, high = np.quantile(again, [0.05, 0.95])
        print(f"slope of its logarithm, {name}: {slope(known[of]):.2f} ({low:.2f} to {high:.2f}), {of.sum()}")
    below = (known["system_px"] < known["read_px"]).mean()
    print(f"whole blur read as less than the blur without the camera: {below:.3f}")


def slope(frames: pd.DataFrame) -> float:
    """How much of the ratio of two whole blurs is read, where they are between 0.5 and 2.2 px."""
    inside = frames[frames["total_px"].between(0.5, 2.2)]
    return float(np.polyfit(np.log(inside["total_px"]), np.log(inside["system_px"]), 1)[0])


if __name__ == "__main__":
    main()
