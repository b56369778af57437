"""Kit table, comparisons, flags and advice from a logbook of a million frames: seconds and memory.

python benchmarks/million_frames.py [--frames 1000000]
"""

from __future__ import annotations

import argparse
import platform
import resource
import sqlite3
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

PROJECT = Path(__file__).parent.parent
sys.path.insert(0, str(PROJECT))

from auditor.analysis.answers import answers  # noqa: E402
from auditor.analysis.comparisons import alternatives, comparisons, evidence  # noqa: E402
from auditor.analysis.kit_table import kit_table  # noqa: E402
from auditor.store.logbook import open_logbook  # noqa: E402
from auditor.store.selection import EVERYTHING, flagged_frames, selected_flag_counts  # noqa: E402
from benchmarks.simulated_logbook import Trip, write  # noqa: E402

FRAMES_AN_ENCOUNTER = 13.3


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames", type=int, default=1_000_000)
    wanted = arguments.parse_args().frames
    print(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.sqlite"
        frames = write(path, Trip(encounters=round(wanted / FRAMES_AN_ENCOUNTER)))
        print(f"{frames} frames, {path.stat().st_size / 2**20:.0f} MiB")
        before_mib = _peak_mib()
        whole, cpu = time.perf_counter(), time.process_time()
        with open_logbook(path) as logbook:
            found = _timed("gathering", lambda: evidence(logbook))
            kits = _timed("kit table", lambda: kit_table(logbook, gathered=found.kit_encounters))
            compared = _timed("comparisons", lambda: comparisons(found))
            _timed("alternatives", lambda: alternatives(found))
            _timed(
                "flags",
                lambda: (
                    selected_flag_counts(logbook, EVERYTHING),
                    flagged_frames(logbook, EVERYTHING, most=20),
                ),
            )
            _timed("answers", lambda: answers(kits, compared))
        print(f"all: {time.perf_counter() - whole:.1f} s ({time.process_time() - cpu:.1f} s of a processor)")
        print(f"peak memory {_peak_mib():.0f} MiB, {before_mib:.0f} MiB before")


def _timed(what: str, work: Callable[[], Any]) -> Any:
    began, cpu = time.perf_counter(), time.process_time()
    found = work()
    print(f"  {what}: {time.perf_counter() - began:.2f} s ({time.process_time() - cpu:.2f} s of a processor)")
    return found


def _peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
