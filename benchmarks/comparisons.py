"""How honest the comparison with the bare kit is: false falls, power, coverage, on simulated trips.

    python benchmarks/comparisons.py [--trips 300]

A trip: encounters with bursts of unequal length; hits of an encounter share a luck of their own, and depend
on light and distance; the converter is mounted more at dusk and for what is far away (confounding); scenes
are nested in kits, but some encounters have both (two bodies, or a change on the spot). Besides: misses
deleted in camera, more of them bare; one and the same angular blur behind every focal length; hits that
fall inside a trip; detail. Seeded. (A script named statistics.py would hide Python's own module from its
neighbours.)"""

from __future__ import annotations

import argparse
import platform
import sys
import tempfile
import time
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.analysis.comparisons import comparisons, evidence  # noqa: E402
from auditor.frames.verdicts import judge  # noqa: E402
from auditor.records import CriterionFacts  # noqa: E402
from auditor.statistics import change  # noqa: E402
from auditor.statistics.detail import Blurs  # noqa: E402
from auditor.statistics.detail import gain as detail_gain  # noqa: E402
from auditor.statistics.intervals import clustered_wilson, pooled_icc  # noqa: E402
from auditor.statistics.matched import Clusters, compare, correct  # noqa: E402
from auditor.store.logbook import open_logbook  # noqa: E402
from auditor.store.readings import Reading  # noqa: E402
from benchmarks.frames_gathered import gathered  # noqa: E402
from benchmarks.record_logbook import write_logbook  # noqa: E402
from benchmarks.simulated_logbook import KITS, Trip, write  # noqa: E402
from benchmarks.simulated_records import TRIPS_A_YEAR, Photographer, record  # noqa: E402

SEED = 20260418
MEAN_FRAMES = 8
BOTH_KITS_SHARE = 0.2
WHOLE_WAY: dict[str, dict[str, Any]] = {
    "distance always recorded": {},
    "distance partly recorded": {"distance": "partly"},
    "distance never recorded": {"distance": "never"},
    "Auto ISO unsaid": {},
    "all trips in hides": {"hides": 1.0},
    "of both kits 40 % of the misses deleted": {"deletes": (0.4, 0.4)},
    "20 % of the misses deleted with it, 50 % bare": {"deletes": (0.2, 0.5)},
}
"""Habits of photographers whose frames go the whole way."""


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
    high_rates(trips)
    magnification(trips)
    deletion(trips)
    changes(trips)
    detail(trips)
    speed()
    whole_way(max(2, trips // 10))


def whole_way(records: int) -> None:
    """Two years of frames as cameras write them, through the logbook: what is told at the end."""
    print(f"\nthrough the logbook after two years, % of {records} records: what is told")
    with ProcessPoolExecutor(2) as pool:
        for name, habits in WHOLE_WAY.items():
            for loss in (0.0, 0.1, 0.2):
                told = Counter(pool.map(partial(told_from_logbook, name, loss, habits), range(records)))
                shares = ", ".join(f"{word} {100 * n / records:.0f}" for word, n in told.most_common())
                print(f"  {name}, loss {100 * loss:2.0f}: {shares}", flush=True)


def told_from_logbook(name: str, loss: float, habits: dict[str, Any], number: int) -> str:
    """The word on one simulated record, read from a logbook of its frames."""
    chance = np.random.default_rng([SEED, number, round(100 * loss), 15])
    drawn = record(Photographer(loss=loss, **habits), chance, trips=2 * TRIPS_A_YEAR)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.sqlite"
        write_logbook(path, drawn, chance, auto_iso_said=name != "Auto ISO unsaid")
        with open_logbook(path) as logbook:
            (row,) = comparisons(evidence(logbook))
    return f"{row.hits.outcome} (deleted frames turn it)" if row.deleted.turned else str(row.hits.outcome)


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
    print(
        "\nfell, % of trips, at a fall of 0, 0.5 and 1 logit; confounded by light, and by light and distance"
    )
    for clusters in (20, 60, 150):
        for far in (False, True):
            cells = []
            for fall in (0.0, 0.5, 1.0):
                chance = np.random.default_rng([SEED, clusters, int(10 * fall), 7 + far])
                told = sum(
                    compare(trip(chance, clusters, fall, far=far)).outcome == "fell" for _trip in range(trips)
                )
                cells.append(f"{100 * told / trips:5.1f}")
            print(f"  {clusters:3} encounters a kit{', distance' if far else ''}: " + "  ".join(cells))


def family(trips: int) -> None:
    """Any false fall over five kits, none of which has fallen."""
    chance = np.random.default_rng([SEED, 5])
    false = 0
    for _trip in range(trips):
        found = correct([compare(trip(chance, 40, 0.0)) for _kit in range(5)])
        false += any(one.outcome == "fell" for one in found)
    print(f"\nany false fall over five kits: {100 * false / trips:.1f} % of trips")


def high_rates(trips: int) -> None:
    """Bare rates near 100 %, where a spread that is counted from the hits alone is nothing."""
    print("\nbare 97 %, a true fall of 12 points: interval holds it, %; told no fall beyond 10 points, %")
    for encounters, frames in ((8, 1), (8, 3), (8, 6), (15, 4)):
        chance = np.random.default_rng([SEED, encounters, frames, 11])
        held = none = 0
        for _trip in range(5 * trips):
            treated = np.repeat([True, False], encounters)
            rates = np.where(treated, 0.85, 0.97)
            shared = chance.beta(rates, 1 - rates)  # correlation 1 / 2 within an encounter
            compared = compare(
                Clusters(
                    cluster=np.arange(2 * encounters),
                    treated=treated,
                    hits=chance.binomial(frames, shared).astype(float),
                    frames=np.full(2 * encounters, float(frames)),
                    light_ev=np.full(2 * encounters, 11.0),
                    covariates={},
                )
            )
            held += (
                compared.low is not None
                and compared.high is not None
                and compared.low <= -0.12 <= compared.high
            )
            none += compared.outcome == "no fall beyond 10 points"
        shares = f"{100 * held / trips / 5:5.1f}; {100 * none / trips / 5:4.1f}"
        print(f"  {encounters:3} encounters of {frames}: {shares}")


def magnification(trips: int) -> None:
    """The same angular blur at 400, 560 and 800 mm: judged on the sensor hits fall, on the animal they do
    not."""
    chance = np.random.default_rng([SEED, 6])
    flagged, framed, on_subject = 0, np.zeros(3), np.zeros(3)
    for _trip in range(trips):
        found = []
        tables = [same_blur(chance, factor) for factor in (1.0, 1.4, 2.0)]
        for number, (_cluster, as_framed, on_animal, _light) in enumerate(tables):
            framed[number] += np.mean([word == "hit" for word in as_framed])
            on_subject[number] += np.mean([word == "hit" for word in on_animal])
        for treated in tables[1:]:
            found.append(compare(two_arms(treated, tables[0])))
        flagged += any(one.outcome == "fell" for one in correct(found))
    rates = ", ".join(f"{100 * rate / trips:.0f}" for rate in framed)
    alike = ", ".join(f"{100 * rate / trips:.0f}" for rate in on_subject)
    print(f"\nsame angular blur: hits as framed {rates} %, on the subject {alike} %")
    print(f"  any fall told: {100 * flagged / trips:.1f} % of trips")


def same_blur(
    chance: np.random.Generator, factor: float
) -> tuple[np.ndarray, list[str], list[str | None], np.ndarray]:
    """Frames of one kit: encounter, verdict as framed, verdict on the subject, light."""
    cluster = np.repeat(np.arange(40), sizes(chance, 40)) + int(1000 * factor)
    light = chance.normal(11, 2, 4000)[cluster]
    luck = 0.4 * chance.normal(0, 1, 4000)[cluster]
    urad = 18 * np.exp(luck + 0.4 * chance.normal(0, 1, len(cluster)))
    read_px = urad * 400 * factor / 1000 / 5.97 * np.exp(0.15 * chance.normal(0, 1, len(cluster)))
    facts = CriterionFacts(pixel_pitch_um=5.97, sensor_diagonal_mm=43.267, converter_factor=factor)
    verdicts = [
        judge(
            Reading(
                frame_id=1, measured_on="jpeg", reading_version="", fingerprint="", scale=1.0, region={},
                sigma_px=px, sigma_low_px=px / 1.28, sigma_high_px=px * 1.28, system_sigma_px=px, noise=1.0,
                texture=1.0, kind="soft",
            ),
            facts,
            None,
        )
        for px in read_px
    ]  # fmt: skip
    return cluster, [one.verdict for one in verdicts], [one.on_subject for one in verdicts], light


def two_arms(treated: Any, bare: Any) -> Clusters:
    frames = pd.concat(
        pd.DataFrame(
            {
                "cluster": arm[0],
                "hit": [word == "hit" for word in arm[2]],
                "told": [word in ("hit", "miss") for word in arm[2]],
                "light_ev": arm[3],
                "treated": is_treated,
            }
        )
        for is_treated, arm in ((True, treated), (False, bare))
    )
    return gathered(frames[frames["told"]])


def deletion(trips: int) -> None:
    """Half of the misses deleted bare, a fifth with the converter, and no fall: what is told, from the
    logbook."""
    outcomes: Counter[str] = Counter()
    unweakened = 0
    with tempfile.TemporaryDirectory() as folder:
        for number in range(trips):
            path = Path(folder) / f"{number}.sqlite"
            kits = tuple(replace(kit, fall_logit=0.0) for kit in KITS)
            write(
                path,
                Trip(
                    encounters=240,
                    kits=kits,
                    deleted_misses={1.0: 0.5, 1.4: 0.2, 2.0: 0.2},
                    seed=SEED + number,
                ),
            )
            with open_logbook(path) as logbook:
                rows = comparisons(evidence(logbook))
            outcomes.update(str(row.hits.outcome) for row in rows)
            unweakened += sum(row.deleted.turned for row in rows)
            path.unlink()
    total = sum(outcomes.values())
    shares = ", ".join(f"{word} {100 * count / total:.1f} %" for word, count in sorted(outcomes.items()))
    print(f"\nmisses deleted in camera, no fall: {shares}")
    print(f"  outcomes that deleted frames could turn, and were weakened: {100 * unweakened / total:.1f} %")


def changes(trips: int) -> None:
    """How often a fall inside a trip is told, by its depth in logits: to the end, and passing."""
    print("\nfell inside the trip, % of trips, at 0, 1 and 2 logits; light rises and falls")
    for bursts in (30, 60, 120):
        cells = []
        for passing in (False, True):
            for depth in (0.0, 1.0, 2.0):
                chance = np.random.default_rng([SEED, bursts, int(depth), passing])
                told = 0
                for _trip in range(trips):
                    found = change.fall(*bursts_of(chance, bursts, depth, passing))
                    told += found is not None and found.p_value <= 0.05
                cells.append(f"{100 * told / trips:5.1f}")
        print(f"  {bursts:3} bursts, to the end: {' '.join(cells[:3])}   passing: {' '.join(cells[3:])}")


def bursts_of(
    chance: np.random.Generator, bursts: int, depth: float, passing: bool
) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Hits, frames, encounter and light of a trip's bursts."""
    encounter = np.repeat(np.arange(bursts), chance.integers(1, 4, bursts))[:bursts]
    place = np.arange(bursts) / bursts
    light = 10 + 3 * np.sin(np.pi * place) + chance.normal(0, 0.7, bursts)
    luck = 0.7 * chance.normal(0, 1, bursts)[encounter] + 0.5 * chance.normal(0, 1, bursts)
    at = chance.uniform(0.3, 0.7)
    low = np.abs(place - at) < 0.15 if passing else place > at
    frames = sizes(chance, bursts)
    hits = chance.binomial(frames, logistic(0.8 + 0.35 * (light - 11) + luck - depth * low))
    return hits, frames, encounter, light


def detail(trips: int) -> None:
    """How often the interval of a gain in detail holds the true one, and what is told of it."""
    print("\ndetail: interval holds the true gain, %; told gain / no gain worth 5 %, % of trips")
    for encounters in (8, 20, 60):
        for true_gain in (0.0, 0.2):
            chance = np.random.default_rng([SEED, encounters, int(100 * true_gain), 9])
            held = gains = none = 0
            for _trip in range(trips):
                kit, bare = (blurs(chance, encounters, size) for size in (1 - true_gain, 1.0))
                found = detail_gain(kit, bare)
                if found.low is not None and found.high is not None:
                    held += found.low <= true_gain <= found.high
                gains += found.outcome == "gain"
                none += found.outcome == "no_detail_gain"
            shares = f"{100 * held / trips:5.1f}; {100 * gains / trips:5.1f} / {100 * none / trips:5.1f}"
            print(f"  {encounters:3} encounters, gain {true_gain}: {shares}")


def blurs(chance: np.random.Generator, encounters: int, size: float) -> Blurs:
    scene = np.repeat(np.arange(encounters), sizes(chance, encounters))
    luck = 0.25 * chance.normal(0, 1, encounters)[scene]
    missed = chance.random(len(scene)) < 0.35
    urad = 12 * size * np.exp(luck + 0.15 * chance.normal(0, 1, len(scene)))
    urad = urad + missed * 25 * chance.exponential(1, len(scene))
    return Blurs(urad, scene, scene)


def speed() -> None:
    """A million frames, gathered to encounters before."""
    chance = np.random.default_rng(SEED)
    clusters = trip(chance, 60_000, 0.3)
    began = time.perf_counter()
    compare(clusters)
    took_s = time.perf_counter() - began
    print(f"\n{int(clusters.frames.sum())} frames in {len(clusters.frames)} rows: {took_s:.2f} s")


def trip(chance: np.random.Generator, encounters: int, fall: float, *, far: bool = False) -> Clusters:
    """Encounters of two kits; each kit in about so many. `far`: distance moves both hits and the choice of
    kit."""
    number = 2 * encounters
    light_ev = chance.normal(11, 2, number)
    metre_mrad = 30 * np.exp(0.5 * chance.normal(0, 1, number))
    nearness = np.log2(metre_mrad / 30) if far else np.zeros(number)
    with_converter = chance.random(number) < logistic(-0.6 * (light_ev - 11) - 0.8 * nearness)
    luck = 1.1 * chance.normal(0, 1, number)
    both = chance.random(number) < BOTH_KITS_SHARE
    rows = [(one, bool(with_converter[one])) for one in range(number)]
    rows += [(one, not with_converter[one]) for one in np.flatnonzero(both).tolist()]
    cluster = np.array([one for one, _treated in rows])
    treated = np.array([treated for _one, treated in rows])
    frames = sizes(chance, len(rows))
    logit = 0.8 + 0.35 * (light_ev[cluster] - 11) + luck[cluster] - fall * treated + 0.6 * nearness[cluster]
    return Clusters(
        cluster=cluster.astype(np.int64),
        treated=treated,
        hits=chance.binomial(frames, logistic(logit)).astype(float),
        frames=frames.astype(float),
        light_ev=light_ev[cluster],
        covariates={"subject_mrad": np.log2(metre_mrad[cluster])} if far else {},
    )


def sizes(chance: np.random.Generator, count: int) -> np.ndarray:
    """Frames of encounters: bursts of unequal length."""
    return 1 + chance.negative_binomial(1.5, 1.5 / (1.5 + MEAN_FRAMES - 1), count)


def logistic(values: np.ndarray) -> np.ndarray:
    return np.asarray(1 / (1 + np.exp(-values)))


if __name__ == "__main__":
    main()
