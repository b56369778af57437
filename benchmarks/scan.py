"""How fast metadata is read, files are scanned, and nothing-new is told: as ratios in one run.

    python benchmarks/scan.py [--frames 20000] [--entries 100000] [--photographs FOLDER]

One file: reading it whole, maker's note included, against the exifread library reading the standard
tags alone (details=False) and with the maker's note (details=True). Many: copies of the JPEG files of
a folder, each with other bytes and another time, scanned into a new logbook. Nothing new: the second
scan of many small files against a bare os.walk and stat of them.
"""

from __future__ import annotations

import argparse
import io
import logging
import os
import platform
import random
import re
import resource
import statistics
import sys
import tempfile
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path

import exifread

from auditor.jobs.scan import scan
from auditor.readers.frame import found_file, read_file
from auditor.settings import Settings

SEED = 20260418
PROJECT = Path(__file__).parent.parent
ROUNDS = 15


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames", type=int, default=20_000)
    arguments.add_argument("--entries", type=int, default=100_000)
    arguments.add_argument("--photographs", type=Path, default=PROJECT.parent / "shared" / "real_frames")
    chosen = arguments.parse_args()
    # exifread complains of real maker's notes at length.
    logging.getLogger("exifread").setLevel(logging.CRITICAL)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(
        ", ".join(f"{name} {version(name)}" for name in ("auditor", "exifread", "sqlite-utils")), end="\n\n"
    )
    samples = photographs(chosen.photographs) or photographs(PROJECT / "sample_images")
    one_file(samples)
    with tempfile.TemporaryDirectory(prefix="scan-", dir=PROJECT / "build") as place:
        many_frames(Path(place), samples, chosen.frames)
    with tempfile.TemporaryDirectory(prefix="rescan-", dir=PROJECT / "build") as place:
        nothing_new(Path(place), samples, chosen.entries)


def photographs(folder: Path) -> list[Path]:
    """Every JPEG with Exif in a folder."""
    files = sorted(path for path in folder.rglob("*") if path.suffix.lower() in (".jpg", ".jpeg"))
    return [path for path in files if b"Exif\0\0" in path.read_bytes()[:65536]]


def one_file(samples: list[Path]) -> None:
    """Reading one JPEG: each file in turn by all three ways, so that noise hits them alike."""
    print(f"One JPEG's metadata, median of {ROUNDS} rounds over {len(samples)} files:")
    ours, plain, full = [], [], []
    for path in samples:
        found = found_file(path)
        data = path.read_bytes()
        ours.append(median_s(lambda found=found: read_file(found)))  # type: ignore[misc]
        plain.append(median_s(lambda data=data: exifread.process_file(io.BytesIO(data), details=False)))  # type: ignore[misc]
        full.append(median_s(lambda data=data: exifread.process_file(io.BytesIO(data), details=True)))  # type: ignore[misc]
    for name, times in (("auditor", ours), ("details=False", plain), ("details=True", full)):
        print(f"  {name:14} {1e3 * sum(times) / len(times):7.2f} ms a file")
    ratios = sorted(a / b for a, b in zip(ours, plain, strict=True))
    faster = sorted(b / a for a, b in zip(ours, full, strict=True))
    for name, in_all, each in (
        ("auditor / details=False", sum(ours) / sum(plain), ratios),
        ("details=True / auditor", sum(full) / sum(ours), faster),
    ):
        print(f"  {name}: {in_all:.2f} in all, {each[0]:.2f} to {each[-1]:.2f} by file")
    print()


def many_frames(place: Path, samples: list[Path], count: int) -> None:
    """A card of so many frames, scanned for the first time on all cores."""
    card = place / "card"
    write_copies(card, samples, count)
    began = time.perf_counter()
    (outcome,) = scan(place / "logbook.sqlite", [card], Settings(), jobs=os.cpu_count() or 1)
    took_s = time.perf_counter() - began
    print(f"{count} frames into a new logbook: {took_s:.1f} s, {outcome.read / took_s:.0f} frames/s")
    print(f"  memory of the scanning process: {memory_mib():.0f} MiB at most\n")


def nothing_new(place: Path, samples: list[Path], count: int) -> None:
    """The second scan of a folder of so many files, against looking at each of them once."""
    card = place / "card"
    write_copies(card, [min(samples, key=lambda path: path.stat().st_size)], count)
    logbook = place / "logbook.sqlite"
    scan(logbook, [card], Settings(), jobs=os.cpu_count() or 1)
    bare, again = [], []
    for _round in range(3):
        began = time.perf_counter()
        look_at_each(card)
        bare.append(time.perf_counter() - began)
        began = time.perf_counter()
        (outcome,) = scan(logbook, [card], Settings(), jobs=1)
        again.append(time.perf_counter() - began)
        assert outcome.read == 0
    print(f"{count} entries, nothing new: {min(again):.2f} s against {min(bare):.2f} s of os.walk and stat")
    print(f"  ratio {min(again) / min(bare):.2f}; memory {memory_mib():.0f} MiB at most")


def look_at_each(folder: Path) -> None:
    for here, _folders, names in os.walk(folder):
        for name in names:
            os.stat(os.path.join(here, name))  # noqa: PTH116, PTH118  # the bare calls are what is measured


def write_copies(card: Path, samples: list[Path], count: int) -> None:
    """Copies with a number in a trailing comment, times some seconds apart, 1,000 files a folder."""
    chance = random.Random(SEED)
    contents = [path.read_bytes() for path in samples]
    clock = 1_776_470_400
    for number in range(count):
        folder = card / f"{100 + number // 1000}BENCH"
        folder.mkdir(parents=True, exist_ok=True)
        data = contents[number % len(contents)]
        clock += chance.choice((0, 0, 0, 1, 1, 2, 5, 60, 600))
        stamp = time.strftime("%Y:%m:%d %H:%M:%S", time.gmtime(clock)).encode()
        (folder / f"B{number:07}.JPG").write_bytes(with_other_time(data, stamp) + b"%d" % number)


def with_other_time(data: bytes, stamp: bytes) -> bytes:
    """The same file with every Exif time replaced: another exposure."""
    head, rest = data[:65536], data[65536:]
    return re.sub(rb"(?:19|20)\d\d:\d\d:\d\d \d\d:\d\d:\d\d", stamp, head) + rest


def median_s(task: Callable[[], object]) -> float:
    times = []
    for _round in range(ROUNDS):
        began = time.perf_counter()
        task()
        times.append(time.perf_counter() - began)
    return statistics.median(times)


def memory_mib() -> float:
    """The most that this process ever held; its workers are not counted."""
    most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    return most / (1024 * 1024 if sys.platform == "darwin" else 1024)


if __name__ == "__main__":
    main()
