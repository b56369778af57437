"""Score readings of small regions: cut out by themselves, and with what lies around them.

    python benchmarks/small_regions.py [--small] [--photographs FOLDER] [--pieces FILE]

A place at random in each piece of second_focus.py, of 64 to 224 px to a side; --pieces as there.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path
from typing import Any

import cv2
import numpy as np
import pandas as pd
from numpy.typing import NDArray

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.focus.sharpness import VERSION, look, over, reading_of  # noqa: E402
from benchmarks.second_focus import CRITERION_PX, PHOTOGRAPHS, gathered  # noqa: E402
from benchmarks.second_simulator.kernels import MOVED  # noqa: E402

SEED = 7
SIDES_PX = (64, 112, 160, 224)


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--small", action="store_true", help="a minute's worth")
    arguments.add_argument("--photographs", type=Path, default=PHOTOGRAPHS)
    arguments.add_argument("--pieces", type=Path, help="file that keeps what was simulated")
    chosen = arguments.parse_args()
    cv2.setNumThreads(1)
    frames, lumas = gathered(chosen.small, chosen.photographs, chosen.pieces)
    random = np.random.default_rng(SEED)
    rows = [
        {
            "side_px": side_px,
            "alone": alone,
            **truth,
            **_read(luma, place, side_px, truth["iso"], alone=alone),
        }
        for truth, luma in zip(frames.to_dict("records"), lumas, strict=True)
        for side_px in SIDES_PX
        for place in [(random.uniform(0, 1, 2) * (np.array(luma.shape) - side_px)).astype(int)]
        for alone in (True, False)
    ]
    print(f"{len(frames)} pieces, reading {VERSION}, seed {SEED}")
    for (side_px, alone), of in pd.DataFrame(rows).groupby(["side_px", "alone"], sort=False):
        print(f"{side_px} px, {'cut out' if alone else 'with what lies around'}: {_figures(of)}")


def _read(
    luma: NDArray[np.uint8], place: NDArray[Any], side_px: int, iso: float, *, alone: bool
) -> dict[str, Any]:
    top, left = (int(value) for value in place)
    reading = reading_of(look(luma, (top, top + side_px, left, left + side_px), alone=alone), iso=iso)
    return {
        "soft": None if reading.quantiles_px is None else over(reading.quantiles_px, CRITERION_PX),
        "low": reading.low,
        "high": reading.high,
        "told_moved": reading.kind == "smeared",
    }


def _figures(of: pd.DataFrame) -> str:
    truth_px, soft = of["sigma_px"], of["soft"]
    blurred, given, told = truth_px > CRITERION_PX, soft.notna(), of["low"].notna() & (truth_px > 0.5)
    held = (of["low"][told] <= truth_px[told]) & (truth_px[told] <= of["high"][told])
    still = blurred & soft.eq(True) & ~of["kernel"].isin(MOVED)
    return (
        f"90 % interval holds {held.mean():.3f}, "
        f"verdict right {(soft[given] == blurred[given]).mean():.3f} (given {given.mean():.3f}), "
        f"sharp called soft {soft[~blurred].eq(True).mean():.3f}, "
        f"soft called sharp {soft[blurred].eq(False).mean():.3f}, "
        f"motion told of soft defocused {of['told_moved'][still].mean():.3f}"
    )


if __name__ == "__main__":
    main()
