"""Score the reading of blur where there are lights far brighter than white, on the second simulator.

    python benchmarks/lights.py [--photographs FOLDER]

Out of focus such a light is a disc with a clear rim, cut off at white. Photographs that training never saw
and drawn scenes, eight pieces of each; a third in focus (under 1.05 px), the others over 1.5 px.
"""

from __future__ import annotations

import argparse
import os
import platform
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.sharpness import VERSION  # noqa: E402
from benchmarks.second_focus import PHOTOGRAPHS, auc_of, error_of, read  # noqa: E402
from benchmarks.second_simulator import camera as cameras  # noqa: E402
from benchmarks.second_simulator import kernels  # noqa: E402
from benchmarks.second_simulator import pieces as simulated  # noqa: E402
from benchmarks.second_simulator.lights import lit  # noqa: E402

SEED = 20261127
DRAWN, PIECES_A_SCENE = 12, 8
IN_FOCUS_SHARE = 0.35
SHARES = (0.1, 0.55, 0.1, 0.15, 0.1)
"""Of kernels, in the order of pieces.KERNELS: discs most of all."""


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    folder = arguments.parse_args().photographs
    cv2.setNumThreads(1)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}, seed {SEED}")
    rows = []
    there = folder if folder.is_dir() else None
    for number, scene in enumerate(simulated.scenes(there, DRAWN, 10_000, SEED)):
        random = np.random.default_rng((SEED, number))
        rows += [piece(scene, random) for _turn in range(PIECES_A_SCENE)]
    report(pd.DataFrame(rows))


def piece(scene: simulated.Scene, random: np.random.Generator) -> dict[str, Any]:
    """One piece with lights, its truth and what is read of it."""
    in_focus = random.random() < IN_FOCUS_SHARE
    sigma_px = random.uniform(0.3, 1.0) if in_focus else float(np.exp(random.uniform(np.log(1.6), np.log(8))))
    kernel = kernels.drawn(str(random.choice(simulated.KERNELS, p=SHARES)), sigma_px, random)
    camera = cameras.drawn(random)
    iso = float(np.exp(random.uniform(np.log(100), np.log(6400))))
    light = lit(simulated.varied(simulated.field(scene), random), random)
    seen = simulated.blurred(light, kernel, camera, scene.samples_per_px)
    jpeg = cameras.shoot(simulated.on_sensor(seen, camera, scene.samples_per_px), camera, iso, random)
    told = read(simulated.centre(cameras.luma_of(jpeg)))
    return told | {
        "scene": scene.name,
        "content": scene.content,
        "kernel": kernel.name,
        "sigma_px": kernel.sigma_px * camera.scale,
    }


def report(frames: pd.DataFrame) -> None:
    print(f"{len(frames)} pieces of {frames['scene'].nunique()} scenes, reading {VERSION}")
    print(f"AUC {auc_of(frames):.3f}, error {error_of(0.5)(frames):.3f} / {error_of(0.9)(frames):.3f}")
    for name, part in (
        ("all", frames),
        ("photographs", frames[frames["content"] == "photograph"]),
        ("discs", frames[frames["kernel"] == "disc"]),
    ):
        soft, sharp = part[part["sigma_px"] > 1.5], part[part["sigma_px"] < 1.05]
        called_sharp = soft["given"] & ~soft["called_soft"]
        print(
            f"{name}: of {len(soft)} soft called sharp {called_sharp.mean():.3f}, "
            f"unclear {1 - soft['given'].mean():.3f}; of {len(sharp)} sharp called soft "
            f"{sharp['called_soft'].mean():.3f}, unclear {1 - sharp['given'].mean():.3f}"
        )


if __name__ == "__main__":
    main()
