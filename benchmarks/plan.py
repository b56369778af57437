"""How honest the plan's expected hits are, and how long a plan takes.

Leaves one trip out of a simulated year, plans it from the others in its usual light, and counts how often the
share of hits of that trip lies in the range that was told. The photographers are those of
simulated_records.py, who are not drawn as the plan assumes."""

from __future__ import annotations

import argparse
import os
import platform
import subprocess
import sys
import tempfile
import time
from dataclasses import replace
from pathlib import Path
from statistics import median

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from auditor.planning.record import LIKE_LIGHT_EV, OwnRecord
from auditor.store.kit_hits import KitHits
from benchmarks.simulated_logbook import KITS, Trip, write
from benchmarks.simulated_records import TRIPS_A_YEAR, Photographer, record

SEED = 20260418
PROGRAM = (sys.executable, "-c", "from auditor.cli.main import main; main()")
PHOTOGRAPHERS = {
    "no loss, a hide now and then": Photographer(loss=0.0),
    "loss of a quarter": Photographer(loss=0.25),
    "never in a hide": Photographer(loss=0.1, hides=0.0),
    "mostly in hides": Photographer(loss=0.1, hides=0.75),
}


def rows_of(who: Photographer, chance: np.random.Generator, trips: int) -> list[KitHits]:
    """A photographer's record as the logbook would give it."""
    drawn = record(who, chance, trips=trips)
    return [
        KitHits(
            kit_id=1 + int(drawn.treated[place]),
            encounter_id=int(drawn.encounter[place]),
            trip_id=int(drawn.trip[place]),
            hits=int(drawn.hits[place]),
            frames=int(drawn.frames[place]),
            light_ev=float(drawn.light_ev[place]),
            base=0.0,
            told=float(drawn.frames[place]),
        )
        for place in range(len(drawn.trip))
        if drawn.frames[place] > 0
    ]


def left_out(rows: list[KitHits]) -> list[tuple[float, float, float, float]]:
    """For each trip and kit: the share that hit, what was expected, and its range, in per cent."""
    found = []
    for trip in sorted({row.trip_id for row in rows}):
        own = [row for row in rows if row.trip_id == trip]
        light_ev = median(row.light_ev for row in own)
        rates = OwnRecord([row for row in rows if row.trip_id != trip]).rates(light_ev)
        for kit_id, rate in rates.items():
            then = [
                row for row in own if row.kit_id == kit_id and abs(row.light_ev - light_ev) <= LIKE_LIGHT_EV
            ]
            if then:
                share = sum(row.hits for row in then) / sum(row.frames for row in then)
                found.append((share, rate.expected, rate.expected_low, rate.expected_high))
    return found


def calibration(years: int, trips: int) -> None:
    """Print, for each photographer, how often the range holds the share that then hit."""
    print(f"{years} years of {trips} trips each; trip and kit left out, planned from the others")
    print(f"{'photographer':32} {'plans':>6} {'in the range':>18} {'below':>6} {'above':>6} {'width':>6}")
    every = []
    for number, (name, who) in enumerate(PHOTOGRAPHERS.items()):
        chance = np.random.default_rng([SEED, number, trips])
        found = np.array([row for _year in range(years) for row in left_out(rows_of(who, chance, trips))])
        every.append(found)
        _line(name, found)
    _line("all", np.concatenate(every))


def _line(name: str, found: np.ndarray) -> None:
    share, _expected, low, high = found.T
    print(
        f"{name:32} {len(found):6d} {100 * np.mean((share >= low) & (share <= high)):16.1f} % "
        f"{100 * np.mean(share < low):4.1f} % {100 * np.mean(share > high):4.1f} % {np.mean(high - low):6.2f}"
    )


def speed(encounters: int) -> None:
    """Print how long `auditor plan` takes as a process, with 50 kits and a large logbook."""
    kits = tuple(
        replace(
            KITS[0],
            body=f"Saltmark F{body}",
            lens=f"Saltmark {focal}mm f/4",
            focal_length_mm=focal * factor,
            factor=factor,
        )
        for body in range(5)
        for focal in (300, 350, 400, 450, 500)
        for factor in (1.0, 2.0)
    )
    with tempfile.TemporaryDirectory() as folder:
        logbook = Path(folder) / "logbook.sqlite"
        frames = write(logbook, Trip(encounters=encounters, kits=kits))
        _give_sensors(logbook)
        words = ["plan", "--animal", "heron", "--distance", "40", "--light", "overcast"]
        command = [*PROGRAM, *words, "--logbook", str(logbook)]
        wall, cpu = [], []
        # Modules are compiled once and kept, as where the auditor is installed.
        kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
        for _round in range(5):
            began, used = time.perf_counter(), _cpu_of_children()
            subprocess.run(command, check=True, capture_output=True, env=kept)
            wall.append(time.perf_counter() - began)
            cpu.append(_cpu_of_children() - used)
        began = _cpu_of_children()
        subprocess.run([*PROGRAM, "--version"], check=True, capture_output=True, env=kept)
        print(
            f"plan, {len(kits)} kits, {frames:,} frames: {min(wall):.2f} s best, {np.median(wall):.2f} s "
            f"median of 5; processor {np.median(cpu):.2f} s (of which the bare program "
            f"{_cpu_of_children() - began:.2f} s)"
        )


def _give_sensors(logbook: Path) -> None:
    from auditor.store.logbook import open_logbook

    with open_logbook(logbook) as book, book.writing():
        book.execute("UPDATE frames SET width_px = 6000, height_px = 4000")
        book.execute("UPDATE inferred SET sensor_diagonal_mm = 43.27")


def _cpu_of_children() -> float:
    import resource

    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--years", type=int, default=150)
    parser.add_argument("--encounters", type=int, default=4800, help="4,800 make about 100,000 frames")
    asked = parser.parse_args()
    print(f"Python {platform.python_version()}, numpy {np.__version__}, seed {SEED}")
    for trips in (TRIPS_A_YEAR, 3, 12):
        calibration(asked.years, trips)
    speed(asked.encounters)
