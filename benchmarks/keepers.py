"""How fast keepers are filtered and copied.

    python benchmarks/keepers.py [--frames 20000] [--files 40] [--megabytes 25] [--rounds 7]

Filtering: the logbook of so many frames, invented readings in it; reading the columns that conditions look
at, and seven conditions with the best of each burst. Copying: files of random bytes, each copied, flushed to
the disk, read back and noted in a receipt, against `cp` on the same files, and against `cp` followed by
`sync`, which leaves the files as safe as each of ours is when it gets its name; and the same without
flushing, to tell what that costs. Ways take turns in one run.
"""

from __future__ import annotations

import argparse
import os
import platform
import random
import shutil
import statistics
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from importlib.metadata import version
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parent.parent))


from auditor.derive.rebuild import rebuild
from auditor.jobs.scan import scan
from auditor.keepers.choose import choose
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import plan
from auditor.settings import Settings
from auditor.store.candidates import sifted
from auditor.store.conditions import Conditions
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.selection import selected_frames
from benchmarks.scan import SEED, median_s, photographs, write_copies

PROJECT = Path(__file__).parent.parent
ROUNDS = 7
CONDITIONS = Conditions(
    most_blur_px=1.5, most_iso=6400, most_push_ev=2, from_at="2026-04-18", least_rating=0,
    without_flags=("smeared",), camera_words=("confirmed", "silent"), unclear_in=True,
)  # fmt: skip


def main() -> None:
    arguments = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    arguments.add_argument("--frames", type=int, default=20_000)
    arguments.add_argument("--files", type=int, default=40)
    arguments.add_argument("--megabytes", type=float, default=25)
    arguments.add_argument("--rounds", type=int, default=7)
    chosen = arguments.parse_args()
    print(f"{platform.platform()}, {os.cpu_count()} cores, Python {platform.python_version()}")
    print(", ".join(f"{name} {version(name)}" for name in ("auditor", "xxhash")), end="\n\n")
    (PROJECT / "build").mkdir(exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="keepers-", dir=PROJECT / "build") as place:
        filtering(Path(place), chosen.frames)
    with tempfile.TemporaryDirectory(prefix="copying-", dir=PROJECT / "build") as place:
        copying(Path(place), chosen.files, int(chosen.megabytes * 1e6), chosen.rounds)


def filtering(place: Path, count: int) -> None:
    samples = photographs(PROJECT / "sample_images")
    write_copies(place / "card", [min(samples, key=lambda path: path.stat().st_size)], count)
    path = place / "logbook.sqlite"
    scan(path, [place / "card"], Settings(), jobs=os.cpu_count() or 1)
    with open_logbook(path) as book:
        rebuild(book, Settings())
        invent_readings(book)
        print(f"{sifted(book, CONDITIONS).frames} frames, median of {ROUNDS} rounds:")
        for name, task in {
            "the filter": lambda: sifted(book, CONDITIONS),
            "with their files and the best": lambda: choose(book, CONDITIONS, at_most=2),
            "reading every column": lambda: selected_frames(book),
        }.items():
            print(f"  {name:32} {median_s(task, ROUNDS):6.2f} s")
        print(f"  of these pass: {len(choose(book, CONDITIONS, at_most=2).kept)}\n")


def invent_readings(book: Logbook) -> None:
    chance = random.Random(SEED)
    frame_ids = [row[0] for row in book.query("SELECT frame_id FROM frames")]
    with book.writing():
        book.execute_many(
            "INSERT OR REPLACE INTO readings VALUES "
            "(?, 'jpeg', 'b', '', 1, '{}', ?, 0, 9, ?, 0.01, 9, 'sharp', NULL, '[]', NULL)",
            [(number, chance.uniform(0.3, 4), chance.uniform(0.5, 4)) for number in frame_ids],
        )
        book.execute_many(
            "UPDATE verdicts SET verdict = ? WHERE frame_id = ?",
            [(chance.choice(("hit", "hit", "miss", "unclear")), number) for number in frame_ids],
        )
        book.execute("UPDATE frames SET rating = abs(random()) % 6, keywords = '[\"otter\"]'")


def copying(place: Path, count: int, size_bytes: int, rounds: int) -> None:
    card, target = place / "card", place / "keepers"
    card.mkdir()
    files = [card / f"B{number:07}.NEF" for number in range(count)]
    chance = random.Random(SEED)
    for path in files:
        path.write_bytes(chance.randbytes(size_bytes))
    with open_logbook(place / "logbook.sqlite", create=True) as book:

        def ours() -> None:
            done = hand_over(book, plan([[path] for path in files], target))
            assert len(done.made) == count

        def cp(then: str = "") -> None:
            target.mkdir()
            subprocess.run(f'cp -p "{card}"/* "{target}"/ {then}', shell=True, check=True)

        def not_flushed() -> None:
            with patch("auditor.keepers.files._flush"):
                ours()

        ways: dict[str, Callable[[], None]] = {
            "cp": cp, "cp, then sync": lambda: cp("&& sync"), "auditor": ours, "not flushed": not_flushed,
        }  # fmt: skip
        took: dict[str, list[float]] = {name: [] for name in ways}
        for number in range(rounds):
            for name, task in list(ways.items())[:: 1 if number % 2 else -1]:  # what came before matters
                shutil.rmtree(target, ignore_errors=True)
                os.sync()
                began = time.perf_counter()
                task()
                took[name].append(time.perf_counter() - began)
    print(f"{count} files of {size_bytes / 1e6:.0f} MB, median of {rounds} rounds (least, most):")
    for name, times in took.items():
        mid = statistics.median(times)
        speed = count * size_bytes / 1e6 / mid
        print(f"  {name:14} {mid:5.2f} s ({min(times):.2f}, {max(times):.2f}), {speed:.0f} MB/s")
    for mine, theirs in (("auditor", "cp"), ("auditor", "cp, then sync"), ("not flushed", "cp")):
        ratios = sorted(b / a for a, b in zip(took[mine], took[theirs], strict=True))
        middle = statistics.median(took[theirs]) / statistics.median(took[mine])
        least = min(took[theirs]) / min(took[mine])
        print(
            f"  speed of {mine} against {theirs}: {middle:.2f} of the medians, {least:.2f} of the quickest, "
            f"{ratios[0]:.2f} to {ratios[-1]:.2f} by round"
        )


if __name__ == "__main__":
    main()
