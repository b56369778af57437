"""Faults put in, and what they cost: each function gives the lines of a table (benchmarks/reliability.py)."""

from __future__ import annotations

import io
import os
import platform
import random
import shutil
import signal
import subprocess
import sys
import time
from collections import Counter
from pathlib import Path
from statistics import median
from unittest import mock

import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))

from auditor.errors import AuditorError, LogbookError, UnreadableFileError
from auditor.jobs import measure as measuring
from auditor.jobs import workers
from auditor.jobs.crew import Limits, Loss
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.readers.pixels import decode
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.repair import repair
from tests.desk.conftest import Visitor
from tests.faults import harmful, killing
from tests.faults.test_bombs import drawn_over, jpeg, stating
from tests.faults.test_lost_workers import workers_of
from tests.fuzz.fuzz import NAMES, corpus_of, fuzzed
from tests.jobs.test_cluster import Cluster
from tests.readers.mutation import mutated

ROOT = Path(__file__).resolve().parents[1]
FRAMES = killing.FRAMES
LIMITS = Settings(file_longest_s=8, file_memory_gib=1)
FEW = 20
DOING = {"measure": "measuring", "report": "a report is written", "desk": "the desk measures"}
HARMS = ("CRASH", "ABORT", "LEAVE", "HANG", "GROW")
LOAD_CHANGES = 25
"""After so many runs the load of the machine may be another."""
PEAK_UNIT = 1024 if platform.system() == "Linux" else 1


def card(folder: Path, names: list[str]) -> Path:
    folder.mkdir(parents=True)
    for name, frame in zip(names, FRAMES, strict=False):
        shutil.copy2(frame, folder / name)
    return folder


def kills(number: int, place: Path) -> list[str]:
    """Runs killed at random moments, then finished."""
    whole, took_s = killing.undisturbed(place / "whole")
    struck: Counter[str] = Counter()
    lost = 0
    for seed in range(number):
        here = place / f"{seed}"
        if seed % LOAD_CHANGES == LOAD_CHANGES - 1:  # so that kills still come at any moment of a run
            _again, took_s = killing.undisturbed(here / "whole")
        try:
            lost += killing.killed_and_finished(here / "killed", seed, took_s, struck) != whole
        except AssertionError as error:
            print(seed, error, file=sys.stderr)
            lost += 1
        shutil.rmtree(here)
    at = ", ".join(f"{count} in {what}" for what, count in sorted(struck.items(), key=lambda item: -item[1]))
    return [
        f"| killed (SIGKILL) at a random moment, then finished; {struck.total()} kills came before the end: "
        f"{at} "
        f"| {number} | {number - lost} | {lost} |"
    ]


def logbooks(number: int, place: Path) -> list[str]:
    """Logbooks cut short or overwritten: told in one line, then saved and scanned anew."""
    source = place / "logbook.sqlite"
    folder = card(place / "card", [frame.name for frame in FRAMES[:20]])
    scan(source, [folder], Settings())
    with open_logbook(source) as book:
        book.query("PRAGMA wal_checkpoint(TRUNCATE)")
    data, in_one_line, nothing, back, kept = source.read_bytes(), 0, 0, 0, []
    for seed in range(number):
        chance = random.Random(seed)
        broken = place / "broken.sqlite"
        cut = bytearray(data)
        if seed % 2:
            del cut[chance.randrange(4096, len(cut)) :]
        else:
            at = chance.randrange(4096, len(cut) - 4096)
            cut[at : at + 4096] = chance.randbytes(4096)
        broken.write_bytes(cut)
        code, said = killing.run(["check", "--logbook", str(broken)])
        in_one_line += "Traceback" not in said and (code == 1 or not seed % 2)
        new = place / f"new{seed}.sqlite"
        try:
            saved = repair(broken, new)
        except LogbookError:
            nothing += 1
        else:
            kept.append(next(row.rows for row in saved.tables if row.table == "frames") / 20)
        scan(new, [folder], Settings())
        with open_logbook(new) as book:
            back += len(book.query("SELECT 1 FROM frame_facts WHERE path IS NOT NULL")) == 20
        new.unlink()
    return [
        "| logbook cut short, or a page of it overwritten: one line, no traceback "
        f"| {number} | {in_one_line} | {number - in_one_line} |",
        f"| the same, saved with --repair (median {100 * median(kept):.0f} % of frames) or begun anew "
        f"({nothing}), and scanned: all frames back | {number} | {back} | {number - back} |",
    ]


def decoders(most_jobs: int, place: Path) -> list[str]:
    """What each kind of harmful decoder costs."""
    lines = []
    for jobs in range(1, most_jobs + 1):
        for harm in HARMS:
            here = place / f"{harm.lower()}{jobs}"
            folder = card(here / "card", [f"A{number}.JPG" for number in range(8)] + [f"A3_{harm}.JPG"])
            scan(here / "logbook.sqlite", [folder], Settings())
            with (
                mock.patch.object(measuring, "measure_chunk", harmful.measured),
                open_logbook(here / "logbook.sqlite") as book,
            ):
                began = time.monotonic()
                outcome = measure(book, LIMITS, jobs=jobs)
                took_s = time.monotonic() - began
            (reason,) = [reason for _path, reason in outcome.unreadable]
            left = len(workers_of(os.getpid()))
            lines.append(
                f"| {harm.lower()} | {jobs} | {outcome.measured} of 8 | 1: {reason} "
                f"| {took_s:.1f} s | {left} |"
            )
    return lines


def stops(number: int, place: Path) -> list[str]:
    """Ctrl-C and kill -9 while measuring, while a report is written, and while the desk measures."""
    lines = []
    for how, what in ((signal.SIGINT, "one Ctrl-C"), (signal.SIGKILL, "kill -9")):
        for doing in ("measure", "report", "desk"):
            ends_s, kept, lost = stopped(place, number, how, doing)
            lines.append(
                f"| {what} while {DOING[doing]} | {number} | {median(ends_s):.1f} s | {max(ends_s):.1f} s "
                f"| {kept} | {lost} |"
            )
    return lines


def stopped(place: Path, number: int, how: signal.Signals, doing: str) -> tuple[list[float], int, int]:
    """Runs stopped in the middle: seconds to their end with their workers; frames kept and lost."""
    ends_s, kept, lost = [], 0, 0
    for run in range(number):
        here = place / f"{doing}{how.name}{run}"
        folder = card(here / "card", [f"A{number}.JPG" for number in range(FEW)])
        book = here / "logbook.sqlite"
        if doing != "desk":
            scan(book, [folder], Settings())
        words: dict[str, list[str]] = {
            "measure": ["measure", "--jobs", "2"],
            "report": ["report", "--into", str(here / "report")],
            "desk": ["desk", "--no-browser", "--jobs", "2"],
        }
        if doing == "report":
            with open_logbook(book) as opened:
                measure(opened)
        environment = dict(os.environ, HARMFUL_SLOW_S="0.3")
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.harmful", *words[doing], "--logbook", str(book)], cwd=ROOT,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, env=environment,
        )  # fmt: skip
        if doing == "desk":
            assert process.stdout is not None
            visitor = Visitor(process.stdout.readline().strip())
            visitor.enter()
            visitor.post("/read", {"folder": str(folder)})
        while not ((here / "report").exists() if doing == "report" else readings(here)):
            time.sleep(0.05)
        own = workers_of(process.pid)
        began = time.monotonic()
        process.send_signal(how)
        process.wait()
        while any(worker.is_running() for worker in own):
            time.sleep(0.02)
        ends_s.append(time.monotonic() - began)
        process.communicate()
        done = readings(here)
        with open_logbook(book) as opened:
            lost += FEW - done - measure(opened).measured
        kept += done
    return ends_s, kept, lost


def readings(place: Path) -> int:
    if not (place / "logbook.sqlite").exists():
        return 0
    with open_logbook(place / "logbook.sqlite") as book:
        return len(book.query("SELECT 1 FROM readings"))


def picture(kind: str) -> bytes:
    from PIL import Image

    noise = np.random.default_rng(7).integers(0, 255, (600, 800, 3), dtype=np.uint8)
    file = io.BytesIO()
    if kind == "HEIF":
        import pillow_heif

        pillow_heif.register_heif_opener()
    options: dict[str, object] = {"compression": "tiff_lzw"} if kind == "TIFF" else {"quality": 60}
    if kind == "progressive JPEG":
        options["progressive"] = True
    Image.fromarray(noise // 2 + 60).save(file, kind.split()[-1], **options)
    return file.getvalue()


def tried(paths: list[str]) -> list[tuple[str, str, float, float]]:
    """Path, how decoding ended, seconds, and the most memory that the worker took so far, MiB."""
    import resource

    results = []
    for path in paths:
        began = time.monotonic()
        try:
            decode(path)
            ended = "decoded"
        except UnreadableFileError as error:
            ended = type(error).__name__
        except Exception as error:  # noqa: BLE001 - counted: there must be none
            ended = f"OTHER {error!r}"
        peak_mib = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * PEAK_UNIT / 2**20
        results.append((path, ended, time.monotonic() - began, peak_mib))
    return results


def lost_picture(path: str, loss: Loss) -> tuple[str, str, float, float]:
    return path, f"LOST {loss}", 0.0, 0.0


def pictures(number: int, place: Path) -> list[str]:
    """Mutated pictures decoded in workers, as measuring does it."""
    lines = []
    endings = {"JPEG": "jpg", "progressive JPEG": "jpg", "TIFF": "tif", "HEIF": "heic"}
    for kind, ending in endings.items():
        here, data = place / kind, picture(kind)
        here.mkdir(parents=True)
        chance = random.Random(kind)
        paths = []
        for count in range(number // len(endings)):
            paths.append(str(here / f"{count}.{ending}"))
            Path(paths[-1]).write_bytes(mutated(data, chance))
        ended: Counter[str] = Counter()
        slowest_s = peak_mib = 0.0
        batches = workers.run(
            tried, paths, jobs=2, chunk=8, one_by_one=True, lost=lost_picture, limits=Limits(longest_s=60)
        )
        for batch in batches:
            for _path, how, took_s, peak in batch:
                ended[how.split()[0]] += 1
                slowest_s, peak_mib = max(slowest_s, took_s), max(peak_mib, peak)
        refused = len(paths) - ended["decoded"] - ended["OTHER"] - ended["LOST"]
        lines.append(
            f"| {kind} | {len(paths)} | {ended['decoded']} | {refused} | {ended['OTHER']} "
            f"| {ended['LOST']} | {slowest_s:.2f} s | {peak_mib:.0f} MiB |"
        )
    return lines


def empty() -> bytes:
    from PIL import Image

    file = io.BytesIO()
    Image.new("L", (2000, 2000), 90).save(file, "JPEG", progressive=True)
    return file.getvalue()


def bombs(_once: int, place: Path) -> list[str]:
    lines = []
    small = jpeg(8, 8)
    made: dict[str, bytes] = {
        "a JPEG of 2,000 x 2,000 px drawn over 1,000 times": drawn_over(1000, data=empty()),
        "a header that states 20,000 x 20,000 px": stating(small, 20_000, 20_000),
        "a header that states 30,000 x 30,000 px": stating(small, 30_000, 30_000),
    }
    for what, data in made.items():
        path = place / "bomb.jpg"
        path.write_bytes(data)
        began = time.monotonic()
        try:
            decode(str(path))
            said = "decoded"
        except AuditorError as error:
            said = str(error).partition(": ")[2]
        lines.append(f"| {what} | {len(data):,} | {said} | {1000 * (time.monotonic() - began):.0f} ms |")
    return lines


def fuzzing(seconds: int, place: Path) -> list[str]:
    """Input that is led by what it reaches (tests/fuzz)."""
    lines = []
    for name in NAMES:
        corpus = corpus_of(name, place)
        result = fuzzed(name, seconds, corpus, place)
        lines.append(
            f"| {name} | {result.runs:,} | {result.reached} | {len(result.met)} | {result.slowest_s:.2f} s "
            f"| {result.peak_mib} MiB | {len(result.crashes)} |"
        )
    return lines


def speed(copies: int, place: Path) -> list[str]:
    """Frames a second by one process, by two, and by two workers of a scheduler."""
    frames = copies * len(FRAMES)
    for copy in range(copies):
        shutil.copytree(FRAMES[0].parent, place / "card" / str(copy))
    cluster = Cluster(place)
    rates: dict[str, list[float]] = {}
    try:
        cluster.add_workers(2)
        cluster.wait_for_workers(2)
        for round_ in range(2):  # the first one warms everything up
            for name, jobs, address in (("one", 1, None), ("two", 2, None), ("workers", 2, cluster.address)):
                book = place / f"{name}{round_}.sqlite"
                began = time.perf_counter()
                scan(book, [place / "card"], Settings(), jobs=jobs, cluster=address)
                scanned = time.perf_counter()
                with open_logbook(book) as opened:
                    measure(opened, jobs=jobs, cluster=address)
                measured = time.perf_counter()
                rates[name] = [frames / (scanned - began), frames / (measured - scanned)]
    finally:
        cluster.close()
    lines = []
    for place_, what in enumerate(("scan", "measure")):
        one, two, workers_ = (rates[name][place_] for name in ("one", "two", "workers"))
        lines.append(
            f"| {what} | {one:.0f} | {two:.0f} | {two / one:.2f} | {workers_:.0f} | {workers_ / two:.2f} |"
        )
    return lines
