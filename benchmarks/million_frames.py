"""A logbook of a million frames: what is asked of it, seconds and memory, and what grows with what.

    python benchmarks/million_frames.py [--frames 1000000] [--keep FILE]

First the sums that the logbook keeps are made, as the first opening by this version does. Then each step of
the answer is timed in one process, and each command in a process of its own, modules compiled; then a card of
1,000 new frames is scanned into it, with the photographs of ../shared where they are, else the sample's.
"""

from __future__ import annotations

import argparse
import os
import platform
import resource
import sqlite3
import subprocess
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
from auditor.analysis.trips import added_by_trips  # noqa: E402
from auditor.jobs.opening import up_to_date  # noqa: E402
from auditor.store import copies  # noqa: E402
from auditor.store.logbook import open_logbook  # noqa: E402
from auditor.store.selection import EVERYTHING, flagged_frames, selected_flag_counts  # noqa: E402
from auditor.store.trip_summaries import trip_summaries  # noqa: E402
from auditor.store.trips import trips_newest_first  # noqa: E402
from benchmarks.plan import _give_sensors  # noqa: E402
from benchmarks.scan import photographs, write_copies  # noqa: E402
from benchmarks.simulated_logbook import Trip, write  # noqa: E402

FRAMES_AN_ENCOUNTER = 13.3
NEW_FRAMES = 1000
PROGRAM = [sys.executable, "-c", "from auditor.cli.main import main; main()"]
COMMANDS = (
    ["kits"],
    ["kits", "--all-trips"],
    ["flags"],
    ["flags", "--all-trips"],
    ["frames"],
    ["trips"],
    ["plan", "--animal", "heron", "--distance", "40", "--light", "overcast"],
    ["keepers"],
    ["keepers", "--all-trips"],
)
_FILES = """
INSERT INTO files
    (frame_id, role, volume, path, stem, present, size_bytes, modified_at, fingerprint, recorded)
SELECT frame_id, 'jpeg', '/', '/archive/' || trip_id || '/F' || frame_id || '.JPG',
       '/archive/' || trip_id || '/f' || frame_id, 1, 12345678, taken_at || '000+00:00',
       'f' || frame_id, '{}'
FROM membership JOIN inferred USING (frame_id)
"""
_READINGS = """
UPDATE readings SET fingerprint = 'f' || frame_id,
    region = '{"x": 0.5, "y": 0.5, "width": 0.1, "height": 0.15}'
"""
_ENCOUNTERS = """
INSERT INTO encounters
SELECT encounter_id, m.trip_id, min(i.taken_at), max(i.taken_at), count(*), avg(i.light_value_ev), t.stamp
FROM membership AS m JOIN inferred AS i USING (frame_id) JOIN trips AS t ON t.trip_id = m.trip_id
GROUP BY encounter_id
"""
_BURSTS = """
INSERT INTO bursts
SELECT burst_id, encounter_id, min(i.taken_at), max(i.taken_at), count(*), avg(i.light_value_ev), i.stamp
FROM membership JOIN inferred AS i USING (frame_id) GROUP BY burst_id
"""
_LACKING = (_FILES, _READINGS, _ENCOUNTERS, _BURSTS)
"""What a simulated logbook lacks of one that was scanned."""


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames", type=int, default=1_000_000)
    arguments.add_argument("--keep", type=Path, metavar="FILE", help="Keep the logbook there.")
    chosen = arguments.parse_args()
    wanted = chosen.frames
    print(f"Python {platform.python_version()}, SQLite {sqlite3.sqlite_version}, {os.cpu_count()} cores")
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "logbook.sqlite"
        frames = write(path, Trip(encounters=round(wanted / FRAMES_AN_ENCOUNTER)))
        with open_logbook(path) as logbook, logbook.writing():
            for statement in _LACKING:
                logbook.execute(statement)
        _give_sensors(path)
        _timed("sums of every trip, once", lambda: _opened(path))
        with open_logbook(path) as logbook:
            counted = [
                len(trips_newest_first(logbook)),
                logbook.query("SELECT count(*) FROM encounter_sums")[0][0],
            ]
        print(
            f"{frames} frames, {counted[0]} trips, {counted[1]} sums, {path.stat().st_size / 2**20:.0f} MiB"
        )
        if chosen.keep is not None:
            with open_logbook(path) as logbook:
                copies.copy_to(logbook.connection, chosen.keep)
        _steps(path)
        for command in COMMANDS:
            _command(path, command)
        _new_card(path, Path(folder))


def _opened(path: Path) -> None:
    with up_to_date(path):
        pass


def _steps(path: Path) -> None:
    before_mib = _peak_mib()
    whole, cpu = time.perf_counter(), time.process_time()
    with up_to_date(path) as logbook:
        found = _timed("gathering", lambda: evidence(logbook))
        kits = _timed("kit table", lambda: kit_table(logbook, gathered=found.kit_encounters, kits=found.kits))
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
        _timed("list of trips", lambda: trip_summaries(logbook))
        _timed(
            "the line of the newest trip",
            lambda: added_by_trips(logbook, [trips_newest_first(logbook)[0].trip_id]),
        )
    print(f"peak memory {_peak_mib():.0f} MiB, {before_mib:.0f} MiB before")


def _command(path: Path, command: list[str]) -> None:
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    began, before = time.perf_counter(), resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [*PROGRAM, *command, "--logbook", str(path)],
        check=False,  # keepers says that the files are not there
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
        env=kept,
        cwd=PROJECT,
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu_s = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    print(
        f"  auditor {' '.join(command)}: {time.perf_counter() - began:.2f} s ({cpu_s:.2f} s of a processor)"
    )


def _new_card(path: Path, folder: Path) -> None:
    samples = photographs(PROJECT.parent / "shared" / "real_frames") or photographs(PROJECT / "sample_images")
    write_copies(folder / "card", [min(samples, key=lambda sample: sample.stat().st_size)], NEW_FRAMES)
    _command(path, ["scan", str(folder / "card"), "--quiet"])
    _command(path, ["scan", str(folder / "card"), "--quiet"])


def _timed(what: str, work: Callable[[], Any]) -> Any:
    began, cpu = time.perf_counter(), time.process_time()
    found = work()
    print(f"  {what}: {time.perf_counter() - began:.2f} s ({time.process_time() - cpu:.2f} s of a processor)")
    return found


def _peak_mib() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
