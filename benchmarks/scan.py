"""How fast metadata is read, files are scanned, and nothing-new is told: as ratios in one run.

    python benchmarks/scan.py [--frames 20000] [--entries 100000] [--photographs FOLDER] [--only-many]

One file: reading it whole, maker's note included, against the exifread library reading the standard
tags alone (details=False) and with the maker's note (details=True). Many: copies of the JPEG files of
a folder, each with other bytes and another time, scanned into a new logbook; and again as they are shot:
one kit for some time, each frame with an f-number, a shutter speed and an ISO of its own. Nothing new: the
second scan of many small files against a bare os.walk and stat of them.

Workers load this module, too: what takes long to load is loaded where it is used.
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
import struct
import sys
import tempfile
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from dataclasses import dataclass
from functools import partial
from importlib.metadata import version
from pathlib import Path

import psutil

from auditor.records import FoundFile
from auditor.settings import Settings

SEED = 20260418
PROJECT = Path(__file__).parent.parent
ROUNDS = 15
LOOKED_EVERY_S = 1.0
PAUSE_S = 60
"""After such a pause another kit is in hand."""
SETTINGS: dict[int, list[tuple[int, ...]]] = {
    0x829A: [(1, speed) for speed in (60, 125, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 3200)],
    0x829D: [(tenths, 10) for tenths in (28, 40, 45, 50, 56, 63, 71, 80, 90, 100, 110)],
    0x8827: [(iso,) for iso in (100, 200, 400, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 5000, 6400)],
}
"""ExposureTime, FNumber and ISO of frames, by the number of their tag (Exif 2.3)."""
EXIF_POINTER, SHORT, RATIONAL = 0x8769, 3, 5


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames", type=int, default=20_000)
    arguments.add_argument("--entries", type=int, default=100_000)
    arguments.add_argument("--photographs", type=Path, default=PROJECT.parent / "shared" / "real_frames")
    arguments.add_argument("--only-many", action="store_true", help="not one file against exifread")
    chosen = arguments.parse_args()
    # exifread complains of real maker's notes at length.
    logging.getLogger("exifread").setLevel(logging.CRITICAL)
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(
        ", ".join(f"{name} {version(name)}" for name in ("auditor", "exifread", "sqlite-utils")), end="\n\n"
    )
    samples = photographs(chosen.photographs) or photographs(PROJECT / "sample_images")
    if not chosen.only_many:
        one_file(samples)
    parts = ((many_frames, chosen.frames), (frames_as_shot, chosen.frames), (nothing_new, chosen.entries))
    for part, count in parts:
        if count:
            with tempfile.TemporaryDirectory(prefix="scan-", dir=PROJECT / "build") as place:
                part(Path(place), samples, count)


def photographs(folder: Path) -> list[Path]:
    """Every JPEG with Exif in a folder."""
    files = sorted(path for path in folder.rglob("*") if path.suffix.lower() in (".jpg", ".jpeg"))
    return [path for path in files if b"Exif\0\0" in path.read_bytes()[:65536]]


def one_file(samples: list[Path]) -> None:
    """Reading one JPEG: each file in turn by all three ways, so that noise hits them alike."""
    from auditor.readers.frame import found_file, read_file

    print(f"One JPEG's metadata, median of {ROUNDS} rounds over {len(samples)} files:")
    ours: list[float] = []
    plain: list[float] = []
    full: list[float] = []
    for path in samples:
        found = found_file(path)
        data = path.read_bytes()
        ours.append(median_s(partial(read_file, found), ROUNDS))
        for details, times in ((False, plain), (True, full)):
            times.append(median_s(partial(_by_exifread, data, details=details), ROUNDS))
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


def _by_exifread(data: bytes, *, details: bool) -> None:
    import exifread

    exifread.process_file(io.BytesIO(data), details=details)


def many_frames(place: Path, samples: list[Path], count: int) -> None:
    """So many frames, all kits in turn: most groups that can be, and settings that are all alike."""
    print("Kits in turn, settings alike:", end=" ")
    write_copies(place / "card", samples, count)
    against_reading(place, count)


def frames_as_shot(place: Path, samples: list[Path], count: int) -> None:
    """So many frames of one kit after the other, with settings of their own: what is kept serves seldom."""
    print("One kit for some time, settings of each frame:", end=" ")
    write_copies(place / "card", samples, count, as_shot=True)
    against_reading(place, count)


def against_reading(place: Path, count: int) -> None:
    """A card, scanned for the first time on all cores, against reading it and no more."""
    from auditor.jobs import workers
    from auditor.jobs.scan import scan
    from auditor.readers.folder import walk

    card = place / "card"
    jobs = os.cpu_count() or 1
    start = Used.now()
    assert sum(len(part) for part in workers.run(read_alone, walk(card), jobs=jobs)) == count
    alone = Used.now() - start
    start = Used.now()
    with Watched() as watched:
        (outcome,) = scan(place / "logbook.sqlite", [card], Settings(), jobs=jobs)
    whole = Used.now() - start
    assert outcome.read == count
    print(f"{count} frames on {jobs} cores, load {os.getloadavg()[0]:.1f}; ms of a processor a frame:")
    for name, used in (("reading alone", alone), ("into a new logbook", whole)):
        print(
            f"  {name:18} {1e3 * used.workers_s / count:.3f} of the workers, "
            f"{1e3 * used.own_s / count:.3f} of this process; {count / used.passed_s:.0f} frames/s"
        )
    of_it = f"{alone.in_all_s / whole.in_all_s:.0%} by the processor, {alone.passed_s / whole.passed_s:.0%}"
    print(f"  of what reading alone gives: {of_it} by the clock")
    print(f"  {watched}\n")


def read_alone(found_files: list[FoundFile]) -> list[None]:
    """What a worker does that reads, and hands on nothing."""
    from auditor.readers.frame import read_file

    for found in found_files:
        read_file(found)
    return [None] * len(found_files)


@dataclass(frozen=True)
class Used:
    """Seconds of the processor by this process and by workers that have ended, and by the clock."""

    own_s: float
    workers_s: float
    passed_s: float

    @classmethod
    def now(cls) -> Used:
        workers = resource.getrusage(resource.RUSAGE_CHILDREN)
        return cls(time.process_time(), workers.ru_utime + workers.ru_stime, time.perf_counter())

    def __sub__(self, other: Used) -> Used:
        return Used(
            self.own_s - other.own_s, self.workers_s - other.workers_s, self.passed_s - other.passed_s
        )

    @property
    def in_all_s(self) -> float:
        return self.own_s + self.workers_s


class Watched:
    """The most memory of this process and its workers at one moment, looked at some times a second.

    What several of them share counts once in the proportional set size (Linux), and each time in the resident
    one.
    """

    def __enter__(self) -> Watched:
        self.most = {"rss": 0.0, "pss": 0.0}
        self._ended = threading.Event()
        self._looking = threading.Thread(target=self._look, daemon=True)
        self._looking.start()
        return self

    def __exit__(self, *_error: object) -> None:
        self._ended.set()
        self._looking.join()

    def __str__(self) -> str:
        return (
            f"memory of all processes at one moment: {self.most['rss']:.0f} MiB resident, "
            f"{self.most['pss']:.0f} with what they share counted once; this one alone {memory_mib():.0f}"
        )

    def _look(self) -> None:
        own = psutil.Process()
        while not self._ended.wait(LOOKED_EVERY_S):
            held = dict.fromkeys(self.most, 0.0)
            for process in (own, *own.children()):
                with suppress(psutil.Error):
                    found = process.memory_full_info()
                    for name in held:
                        held[name] += getattr(found, name, 0) / 2**20
            self.most = {name: max(self.most[name], held[name]) for name in held}


def nothing_new(place: Path, samples: list[Path], count: int) -> None:
    """The second scan of a folder of so many files, against looking at each of them once."""
    from auditor.jobs.scan import scan

    card = place / "card"
    write_copies(card, [min(samples, key=lambda path: path.stat().st_size)], count)
    logbook = place / "logbook.sqlite"
    with Watched() as watched:
        scan(logbook, [card], Settings(), jobs=os.cpu_count() or 1)
    print(f"{count} frames into a new logbook: {watched}")
    bare, again = [], []
    for _round in range(5):
        start = Used.now()
        look_at_each(card)
        bare.append((Used.now() - start).own_s)
        start = Used.now()
        (outcome,) = scan(logbook, [card], Settings(), jobs=1)
        again.append((Used.now() - start).own_s)
        assert outcome.read == 0
    print(
        f"{count} entries, nothing new: {min(again):.2f} s of a processor against {min(bare):.2f} s of "
        f"os.walk and stat: {min(again) / min(bare):.2f} times as long, load {os.getloadavg()[0]:.1f}"
    )


def look_at_each(folder: Path) -> None:
    for here, _folders, names in os.walk(folder):
        for name in names:
            os.stat(os.path.join(here, name))  # noqa: PTH116, PTH118  # the bare calls are what is measured


def write_copies(card: Path, samples: list[Path], count: int, *, as_shot: bool = False) -> None:
    """Copies with a number in a trailing comment, times some seconds apart, 1,000 files a folder."""
    chance = random.Random(SEED)
    contents = [path.read_bytes() for path in samples]
    places = [places_of_settings(data) for data in contents]
    clock, kit = 1_776_470_400, 0
    for number in range(count):
        folder = card / f"{100 + number // 1000}BENCH"
        folder.mkdir(parents=True, exist_ok=True)
        after_s = chance.choice((0, 0, 0, 1, 1, 2, 5, 60, 600))
        clock += after_s
        if not as_shot:
            kit = number % len(contents)
        elif after_s >= PAUSE_S:
            kit = chance.randrange(len(contents))
        data = with_settings(contents[kit], places[kit], chance) if as_shot else contents[kit]
        stamp = time.strftime("%Y:%m:%d %H:%M:%S", time.gmtime(clock)).encode()
        (folder / f"B{number:07}.JPG").write_bytes(with_other_time(data, stamp) + b"%d" % number)


Places = list[tuple[int, int, str]]
"""Of settings: the tag, where its value stands, and how it is written (for struct)."""


def places_of_settings(data: bytes) -> Places:
    """Where a JPEG's Exif block holds the settings of the frame (TIFF 6.0, section 2; Exif 2.3, 4.6)."""
    base = data.index(b"Exif\0\0") + 6
    order = "<" if data[base : base + 2] == b"II" else ">"

    def entries(start: int) -> dict[int, tuple[int, int]]:
        """Kind and place of each value of a directory."""
        (count,) = struct.unpack_from(order + "H", data, base + start)
        offsets = [base + start + 2 + 12 * number for number in range(count)]
        heads = [struct.unpack_from(order + "HH", data, offset) for offset in offsets]
        return {tag: (kind, offset + 8) for (tag, kind), offset in zip(heads, offsets, strict=True)}

    def pointed_at(place: int) -> int:
        return int(struct.unpack_from(order + "I", data, place)[0])

    inside = entries(pointed_at(entries(pointed_at(base + 4))[EXIF_POINTER][1]))
    found = [(tag, *inside[tag]) for tag in SETTINGS if tag in inside]
    return [(tag, place, order + "H") for tag, kind, place in found if kind == SHORT] + [
        (tag, base + pointed_at(place), order + "II") for tag, kind, place in found if kind == RATIONAL
    ]


def with_settings(data: bytes, places: Places, chance: random.Random) -> bytes:
    """The same file with other settings of the frame."""
    changed = bytearray(data)
    for tag, place, how in places:
        struct.pack_into(how, changed, place, *chance.choice(SETTINGS[tag]))
    return bytes(changed)


def with_other_time(data: bytes, stamp: bytes) -> bytes:
    """The same file with every Exif time replaced: another exposure."""
    head, rest = data[:65536], data[65536:]
    return re.sub(rb"(?:19|20)\d\d:\d\d:\d\d \d\d:\d\d:\d\d", stamp, head) + rest


def median_s(task: Callable[[], object], rounds: int) -> float:
    times = []
    for _round in range(rounds):
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
