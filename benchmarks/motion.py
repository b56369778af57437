"""Score how motion is told from defocus, on the second simulator: 852 pieces, all of them blurred.

    python benchmarks/motion.py [--photographs FOLDER]

second_focus.py has 51 moved pieces and 34 that are out of focus as well; here are four times as many, of
1.1 to 6.5 px, of photographs that training never saw and of drawn scenes.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from pathlib import Path

import cv2
import numpy as np
import pandas as pd

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.sharpness import VERSION  # noqa: E402
from benchmarks.second_focus import (  # noqa: E402
    CRITERION_PX,
    DRAWN_OUTSIDE,
    PHOTOGRAPHS,
    PHOTOGRAPHS_OUTSIDE,
    read,
)
from benchmarks.second_simulator import kernels  # noqa: E402
from benchmarks.second_simulator import pieces as simulated  # noqa: E402

SEED = 20261128
DRAWN, PIECES_A_SCENE = 40, 12
SHARES = (0.1, 0.35, 0.1, 0.25, 0.2)
"""Of kernels, in the order of pieces.KERNELS."""
LEAST_PX, MOST_PX = 1.1, 6.5
BEFORE_A_BACKGROUND = 0.15
KINDS = ("moved", "mixed", "disc", "gaussian", "coma")


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    folder = arguments.parse_args().photographs
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}, seed {SEED}")
    rows = []
    before: simulated.Scene | None = None
    for number, scene in enumerate(
        simulated.scenes(folder if folder.is_dir() else None, DRAWN, 10_000, SEED)
    ):
        random = np.random.default_rng((SEED, number))
        for _turn in range(PIECES_A_SCENE):
            background = before if random.random() < BEFORE_A_BACKGROUND else None
            one = piece(scene, random, background)
            rows.append(read(one.luma) | {name: getattr(one, name) for name in ("kernel", "iso", "sigma_px")})
            rows[-1] |= {
                "scene": scene.name,
                "of": "photograph" if scene.content == "photograph" else "drawn",
            }
        before = scene
    report(pd.DataFrame(rows))


def piece(
    scene: simulated.Scene, random: np.random.Generator, background: simulated.Scene | None
) -> simulated.Piece:
    """One blurred piece."""
    sigma_px = float(np.exp(random.uniform(np.log(LEAST_PX), np.log(MOST_PX))))
    kernel = kernels.drawn(str(random.choice(simulated.KERNELS, p=SHARES)), sigma_px, random)
    return simulated.piece_by(kernel, scene, random, background=background, total=False)


def report(frames: pd.DataFrame) -> None:
    """Print how often motion is told of each kind of blur that is over the criterion."""
    blurred = frames[frames["sigma_px"] > CRITERION_PX]
    print(f"{len(blurred)} pieces of {frames['scene'].nunique()} scenes, reading {VERSION}; told to be moved")
    print(f"{'':24}" + "".join(f"{kind:>16}" for kind in KINDS))
    for name, part in (
        ("all", blurred),
        *blurred.groupby("of"),
        *((f"ISO {low} to {high - 1}", blurred[blurred["iso"].between(low, high, inclusive="left")])
          for low, high in ((100, 1600), (1600, 12_801))),
    ):  # fmt: skip
        print(f"{name:24}" + "".join(f"{told(part, kind):>16}" for kind in KINDS))
    shares = blurred.assign(told=blurred["read_kind"] == "smeared").groupby(["of", "kernel"])["told"].mean()
    if shares.index.get_level_values("of").nunique() == 2:
        whole = PHOTOGRAPHS_OUTSIDE * shares["photograph"] + DRAWN_OUTSIDE * shares["drawn"]
        mixed = whole / (PHOTOGRAPHS_OUTSIDE + DRAWN_OUTSIDE)
        name = f"{PHOTOGRAPHS_OUTSIDE} photographs to {DRAWN_OUTSIDE}"
        print(f"{name:24}" + "".join(f"{mixed[kind]:16.3f}" for kind in KINDS))


def told(part: pd.DataFrame, kind: str) -> str:
    of = part[part["kernel"] == kind]
    return f"{(of['read_kind'] == 'smeared').mean():.3f} of {len(of)}" if len(of) else "-"


if __name__ == "__main__":
    main()
