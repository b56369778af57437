"""Work out how far the network's quantiles must move so that they hold on scenes that it never saw.

    python benchmarks/calibrate_focus.py [--photographs FOLDER] [--pieces FILE]

The second simulator draws pieces of photographs that are neither trained nor scored on, and of drawn scenes
of its own seed. Writes auditor/focus/blur_calibration.json, and lights_blur_calibration.json for the weights
that read regions with lights: for each ISO band and each quantile a shift in
log2, which makes an interval wider where it held too seldom and never narrower (split conformal prediction,
Vovk, Gammerman and Shafer, Algorithmic learning in a random world, 2005 (R)).
"""

from __future__ import annotations

import argparse
import json
import pickle
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus import network  # noqa: E402
from benchmarks.second_focus import PHOTOGRAPHS  # noqa: E402
from benchmarks.second_simulator import pieces as simulated  # noqa: E402

SEED = 20261201
RENDERED = 30
PIECES_A_PHOTOGRAPH, PIECES_A_DRAWN = 24, 7
TOTALS_A_SCENE = 4
"""How many pieces of a scene also tell their system blur, which takes most of the time."""
BANDS = ("low", "middle", "high", "highest")
ALL_COUNT_AS = 60
"""The shift over all bands counts as so many more pieces of each band: a band alone has few."""
READ_FROM_PX = 0.35
"""Less blur than this cannot be told apart from none."""
OUT = PROJECT / "auditor" / "focus"


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    arguments.add_argument("--pieces", type=Path, help="file that keeps what was simulated")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    frames, lumas = gathered(chosen.photographs, chosen.pieces)
    with_lights = np.array([network.has_lights(luma) for luma in lumas])
    for name, which in (
        (network.CALIBRATION, ~with_lights),
        (network.OF_LIGHTS + network.CALIBRATION, with_lights),
    ):
        of_these = shifts(frames[which], [lumas[place] for place in which.nonzero()[0]])
        rows = (f'  "{band}": {json.dumps(of)}' for band, of in of_these.items())
        (OUT / name).write_text("{\n" + ",\n".join(rows) + "\n}\n", encoding="utf-8")
        print(f"{which.sum()} pieces\n{(OUT / name).read_text(encoding='utf-8')}")


def gathered(folder: Path, kept: Path | None) -> tuple[pd.DataFrame, list[NDArray[np.uint8]]]:
    """Pieces with their truth, from the file if it is there."""
    if kept and kept.exists():
        with kept.open("rb") as file:  # our own file
            return pickle.load(file)  # type: ignore[no-any-return]
    rows: list[dict[str, Any]] = []
    lumas = []
    before: simulated.Scene | None = None
    for number, scene in enumerate(simulated.scenes(folder, RENDERED, 10_000, SEED, "calibrate")):
        random = np.random.default_rng((SEED, number, 1))
        count = PIECES_A_PHOTOGRAPH if scene.content == "photograph" else PIECES_A_DRAWN
        for turn in range(count):
            background = before if random.random() < simulated.COMPOSITES else None
            one = simulated.piece(scene, random, background=background, total=turn < TOTALS_A_SCENE)
            lumas.append(one.luma)
            rows.append({"iso": one.iso, "sigma": one.sigma_px, "system": one.total_px, "kernel": one.kernel})
        before = scene
    found = pd.DataFrame(rows), lumas
    if kept:
        kept.parent.mkdir(parents=True, exist_ok=True)
        with kept.open("wb") as file:
            pickle.dump(found, file, protocol=5)
    return found


def shifts(frames: pd.DataFrame, lumas: list[NDArray[np.uint8]]) -> dict[str, dict[str, list[float]]]:
    """Of each band and of all, for both readings."""
    told = [network.read_plain(network.look(luma)) for luma in lumas]
    quantiles = {"sigma": np.array([one[0] for one in told]), "system": np.array([one[1] for one in told])}
    bands = frames["iso"].map(network.iso_band).to_numpy()
    shift_by_band: dict[str, dict[str, list[float]]] = {}
    for band in ("any", *BANDS):
        shift_by_band[band] = {}
        for name, of in quantiles.items():
            truth_px = frames[name].to_numpy(float)
            known = np.isfinite(truth_px) & (truth_px > READ_FROM_PX)
            there = known & (bands == band) if band != "any" else known
            own = shift(np.log2(truth_px[there]), of[there])
            if band != "any":
                share = there.sum() / (there.sum() + ALL_COUNT_AS)
                own = share * own + (1 - share) * np.array(shift_by_band["any"][name])
            shift_by_band[band][name] = [round(float(value), 3) for value in own]
    return shift_by_band


def shift(truth: NDArray[Any], told: NDArray[Any]) -> NDArray[Any]:
    """By level: how far a quantile must move to hold as often as it says; outwards alone. log2 px."""
    moved = [float(np.quantile(truth - told[:, place], level)) for place, level in enumerate(network.LEVELS)]
    return np.array(
        [
            min(0.0, value) if level < 0.5 else max(0.0, value) if level > 0.5 else 0.0
            for value, level in zip(moved, network.LEVELS, strict=True)
        ]
    )


if __name__ == "__main__":
    main()
