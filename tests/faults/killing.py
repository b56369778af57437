"""Whole runs of the auditor killed (SIGKILL) at a random moment, and finished afterwards."""

from __future__ import annotations

import os
import random
import shutil
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from auditor.store.logbook import open_logbook

ROOT = Path(__file__).parents[2]
FRAMES = sorted((ROOT / "sample_images" / "DCIM" / "100SALT").glob("*.JPG"))
IDS = {"frame_id", "trip_id", "encounter_id", "scene_id", "burst_id", "kit_id"}
"""Numbers of rows: they may differ, what they stand for may not."""
SHORT = 12
"""Frames on the card: a run takes a few seconds, most of it spent measuring."""


@dataclass(frozen=True)
class Outcome:
    """What a place holds once a run has ended."""

    frames: list[dict[str, Any]]
    files: list[dict[str, Any]]
    handed_over: list[tuple[str, int]]
    tables_of_report: bytes


def write_card(place: Path) -> None:
    """A card with some frames, one of them damaged."""
    card = place / "card"
    card.mkdir(parents=True)
    for frame in FRAMES[:SHORT]:
        shutil.copy2(frame, card / frame.name)
    damaged = card / "DAMAGED.JPG"
    whole = FRAMES[SHORT].read_bytes()
    damaged.write_bytes(whole[: len(whole) * 6 // 10])
    os.utime(damaged, (1_700_000_000, 1_700_000_000))


def commands(place: Path) -> list[list[str]]:
    """Scan, measure and report; then hand over."""
    book = ["--logbook", str(place / "logbook.sqlite")]
    return [
        ["audit", str(place / "card"), "--into", str(place / "report"), "--jobs", "2", "--quiet", *book],
        ["keepers", "copy", str(place / "keepers"), *book],
    ]


def run(words: list[str], *, kill_after_s: float | None = None) -> tuple[int, str]:
    """Run a command as a process of its own, killed after so long; its exit code and what it said of it."""
    process = subprocess.Popen(
        [sys.executable, "-c", "from auditor.cli.main import main; main()", *words],
        cwd=ROOT, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, start_new_session=True,
    )  # fmt: skip
    try:
        _out, told = process.communicate(timeout=kill_after_s)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        _out, told = process.communicate()
    return process.returncode, told


def finished(place: Path) -> Outcome:
    """Run everything to its end, and read what came of it."""
    for words in commands(place):
        _to_its_end(words)
    return _outcome(place)


def _to_its_end(words: list[str]) -> None:
    code, told = run(words)
    assert code in (0, 3), told
    assert "Traceback" not in told, told


def _outcome(place: Path) -> Outcome:
    with open_logbook(place / "logbook.sqlite") as book:
        assert book.problems() == []
        frames = [dict(row) for row in book.query("SELECT * FROM frame_facts ORDER BY path")]
        files = [dict(row) for row in book.query("SELECT * FROM frame_files ORDER BY path")]
    assert not list(place.rglob("*unfinished*")), "half-written files are left"
    return Outcome(
        frames=[_without_place(row, place) for row in frames],
        files=[_without_place(row, place) for row in files],
        handed_over=sorted((path.name, path.stat().st_size) for path in (place / "keepers").rglob("*.JPG")),
        tables_of_report=(place / "report" / "kits.csv").read_bytes(),
    )


def killed_and_finished(
    place: Path, seed: int, longest_s: list[float], struck: Counter[str] | None = None
) -> Outcome:
    """One run of each command killed at a random moment, some of them twice, then everything finished.

    Parameters
    ----------
    longest_s
        How long each command takes undisturbed.
    struck
        Counts the kills that came before the end of their run, by what was being done.
    """
    chance = random.Random(seed)
    struck = Counter() if struck is None else struck
    write_card(place)
    for words, whole_s in zip(commands(place), longest_s, strict=True):
        for _time in range(chance.choice((1, 1, 2))):
            code, _told = run(words, kill_after_s=chance.uniform(0.2, 1.05) * whole_s)
            if code == -signal.SIGKILL:
                struck[_at(place) if words[0] == "audit" else "handing over"] += 1
        if words[0] == "audit":
            run(words)  # what is handed over follows from a finished audit
    return finished(place)


def undisturbed(place: Path) -> tuple[Outcome, list[float]]:
    """What a place holds without faults, and how long each command takes."""
    write_card(place)
    took_s = []
    for words in commands(place):
        began = time.monotonic()
        _to_its_end(words)
        took_s.append(time.monotonic() - began)
    return _outcome(place), took_s


def _at(place: Path) -> str:
    """What an audit had come to when it was killed, by what it left; looked at in a copy."""
    with tempfile.TemporaryDirectory() as folder:
        for left in place.glob("logbook.sqlite*"):
            shutil.copy2(left, folder)
        with closing(sqlite3.connect(Path(folder) / "logbook.sqlite")) as book:
            try:
                frames, readings = (
                    book.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
                    for table in ("frames", "readings")
                )
            except sqlite3.OperationalError:  # no tables yet
                return "scan"
    if frames < SHORT:
        return "scan"
    return "measure" if readings < SHORT else "report"


def _without_place(row: dict[str, Any], place: Path) -> dict[str, Any]:
    kept = {name: value for name, value in row.items() if name not in IDS}
    return kept | {"path": Path(row["path"]).relative_to(place.resolve()).as_posix()}
