"""How honest the comparison with the bare kit is: false falls, power, coverage, on simulated trips.

    python benchmarks/comparisons.py [--trips 300]

A trip: encounters with bursts of unequal length; hits of an encounter share a luck of their own, and depend
on light; the converter is mounted more at dusk (confounding); some encounters have both kits (two bodies, or
a change on the spot). Seeded. (A script named
statistics.py would hide Python's own module from its neighbours.)
"""

from __future__ import annotations

import argparse
import platform
import sys
import time
from importlib.metadata import version
from pathlib import Path

import numpy as np

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.statistics.intervals import clustered_wilson, pooled_icc  # noqa: E402
from auditor.statistics.matched import Clusters, compare, correct  # noqa: E402

SEED = 20260418
MEAN_FRAMES = 8
BOTH_KITS_SHARE = 0.2


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--trips", type=int, default=300)
    trips = arguments.parse_args().trips
    print(
        f"Python {platform.python_version()}, numpy {version('numpy')}, scipy {version('scipy')}, seed {SEED}"
    )
    print(f"{trips} trips a cell\n")
    coverage(trips)
    falls(trips)
    family(trips)
    speed()


def coverage(trips: int) -> None:
    """How often the 95 % interval of one kit's rate holds its expected rate."""
    print("coverage of the 95 % interval, and its mean width")
    for clusters in (3, 8, 20, 60):
        cells = []
        for spread in (0.8, 1.5, 2.5):
            chance = np.random.default_rng([SEED, clusters, int(10 * spread)])
            expected = float(logistic(0.6 + spread * chance.normal(0, 1, 200_000)).mean())
            held, width = 0, 0.0
            for _trip in range(trips):
                frames = sizes(chance, clusters)
                hits = chance.binomial(frames, logistic(0.6 + spread * chance.normal(0, 1, clusters)))
                found = clustered_wilson(hits, frames, pooled_icc=pooled_icc([(hits, frames)]))
                held += found.low <= expected <= found.high
                width += found.high - found.low
            cells.append(f"{100 * held / trips:5.1f} / {width / trips:.2f}")
        print(f"  {clusters:3} encounters: " + "   ".join(cells))


def falls(trips: int) -> None:
    """How often a fall is told, by its size and the number of encounters of each kit."""
    print("\nfell, % of trips, at a fall of 0, 0.5 and 1 logit; confounded by light")
    for clusters in (20, 60, 150):
        cells = []
        for fall in (0.0, 0.5, 1.0):
            chance = np.random.default_rng([SEED, clusters, int(10 * fall), 7])
            told = sum(compare(trip(chance, clusters, fall)).outcome == "fell" for _trip in range(trips))
            cells.append(f"{100 * told / trips:5.1f}")
        print(f"  {clusters:3} encounters a kit: " + "  ".join(cells))


def family(trips: int) -> None:
    """Any false fall over five kits, none of which has fallen."""
    chance = np.random.default_rng([SEED, 5])
    false = 0
    for _trip in range(trips):
        found = correct([compare(trip(chance, 40, 0.0)) for _kit in range(5)])
        false += any(one.outcome == "fell" for one in found)
    print(f"\nany false fall over five kits: {100 * false / trips:.1f} % of trips")


def speed() -> None:
    """A million frames, gathered to encounters before."""
    chance = np.random.default_rng(SEED)
    clusters = trip(chance, 60_000, 0.3)
    began = time.perf_counter()
    compare(clusters)
    took_s = time.perf_counter() - began
    print(f"\n{int(clusters.frames.sum())} frames in {len(clusters.frames)} rows: {took_s:.2f} s")


def trip(chance: np.random.Generator, encounters: int, fall: float) -> Clusters:
    """Encounters of two kits; each kit in about so many."""
    number = 2 * encounters
    light_ev = chance.normal(11, 2, number)
    with_converter = chance.random(number) < logistic(-0.6 * (light_ev - 11))
    luck = 1.1 * chance.normal(0, 1, number)
    both = chance.random(number) < BOTH_KITS_SHARE
    rows = [(one, bool(with_converter[one])) for one in range(number)]
    rows += [(one, not with_converter[one]) for one in np.flatnonzero(both).tolist()]
    cluster = np.array([one for one, _treated in rows])
    treated = np.array([treated for _one, treated in rows])
    frames = sizes(chance, len(rows))
    logit = 0.8 + 0.35 * (light_ev[cluster] - 11) + luck[cluster] - fall * treated
    return Clusters(
        cluster=cluster.astype(np.int64),
        treated=treated,
        hits=chance.binomial(frames, logistic(logit)).astype(float),
        frames=frames.astype(float),
        light_ev=light_ev[cluster],
        covariates={},
    )


def sizes(chance: np.random.Generator, count: int) -> np.ndarray:
    """Frames of encounters: bursts of unequal length."""
    return 1 + chance.negative_binomial(1.5, 1.5 / (1.5 + MEAN_FRAMES - 1), count)


def logistic(values: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-values)))


if __name__ == "__main__":
    main()
