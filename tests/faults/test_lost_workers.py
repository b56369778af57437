"""A picture over which a worker dies, hangs or grows costs itself; nothing outlives a run."""

from __future__ import annotations

import json
import os
import shutil
import signal
import sqlite3
import subprocess
import sys
import time
from contextlib import closing
from pathlib import Path
from typing import Any

import psutil
import pytest

from auditor.jobs import colour_cuts
from auditor.jobs import measure as measuring
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.report.frame_pictures import frame_pictures
from auditor.settings import Settings
from auditor.store.crops import colour_path
from auditor.store.listed_frames import to_show
from auditor.store.logbook import open_logbook
from auditor.store.unreadable import unreadable_files
from tests.faults import harmful

ROOT = Path(__file__).parents[2]
FRAMES = sorted((ROOT / "sample_images" / "DCIM" / "100SALT").glob("*.JPG"))
LIMITS = Settings(file_longest_s=4)
"""Short waits; a healthy frame of the sample takes a fiftieth of a second."""


def card(folder: Path, *harms: str, healthy: int = 6) -> Path:
    """Healthy frames, and between them one for each harm."""
    folder.mkdir()
    names = [f"A{number}.JPG" for number in range(healthy)]
    names += [f"A{number}_{harm}.JPG" for number, harm in enumerate(harms)]
    for name, frame in zip(names, FRAMES, strict=False):
        shutil.copy2(frame, folder / name)
    return folder


@pytest.mark.parametrize("jobs", [1, 2])
@pytest.mark.parametrize(
    ("limits", "harms"),
    [
        (
            LIMITS,
            {
                "CRASH": "its decoder crashed (signal SIGSEGV)",
                "ABORT": "its decoder crashed (signal SIGABRT)",
                "LEAVE": "its decoder crashed (exit code 3)",
                "HANG": "decoding it took more than 4 s (file_longest_s in auditor.toml)",
            },
        ),
        (
            Settings(file_memory_gib=0.5),  # in its own time: on a busy machine memory comes slowly
            {"GROW": "decoding it took more than 0.5 GiB of memory (file_memory_gib in auditor.toml)"},
        ),
    ],
    ids=["ends or hangs", "grows"],
)
def test_each_harmful_picture_costs_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, limits: Settings, harms: dict[str, str], jobs: int
) -> None:
    monkeypatch.setattr(measuring, "measure_chunk", harmful.measured)
    path = tmp_path / "logbook.sqlite"
    scan(path, [card(tmp_path / "card", *harms)], Settings())
    with open_logbook(path) as book:
        outcome = measure(book, limits, jobs=jobs)
        assert outcome.measured == 6
        told = {Path(name).stem.partition("_")[2]: reason for name, reason in outcome.unreadable}
        assert told == harms
        assert {file.error_class for file in unreadable_files(book)} == {"DecoderLostError"}
        second = measure(book, limits, jobs=jobs)
        assert (second.measured, second.unreadable, second.not_tried_again) == (0, [], len(harms))
    assert workers_of(os.getpid()) == []


def test_a_file_that_changed_is_tried_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path, folder = tmp_path / "logbook.sqlite", card(tmp_path / "card", "CRASH", healthy=1)
    scan(path, [folder], Settings())
    with open_logbook(path) as book, monkeypatch.context() as patched:
        patched.setattr(measuring, "measure_chunk", harmful.measured)
        assert len(measure(book, LIMITS, jobs=1).unreadable) == 1
    (crashing,) = folder.glob("*CRASH*")
    os.utime(crashing, (1, 1))
    scan(path, [folder], Settings())
    with open_logbook(path) as book:
        outcome = measure(book, LIMITS, jobs=1)
        assert (outcome.measured, outcome.unreadable) == (1, [])
        assert unreadable_files(book) == []


def test_a_picture_over_which_a_decoder_dies_costs_itself_and_not_the_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Measured well before, and damaged since: its grey picture stays."""
    monkeypatch.setattr(colour_cuts, "cut_frames", harmful.cut)
    path = tmp_path / "logbook.sqlite"
    scan(path, [card(tmp_path / "card", "CRASH", "HANG", healthy=3)], Settings())
    with open_logbook(path) as book:
        assert measure(book, jobs=1).measured == 5
        shown = to_show(book, [row["frame_id"] for row in book.query("SELECT frame_id FROM frames")])
    pictures = frame_pictures(path, shown, colour_cuts.by_workers(LIMITS))
    for frame in shown:
        found, harmed = pictures[frame.frame_id], "_" in Path(frame.path or "").stem
        assert found.area is not None
        assert (found.whole is None) is harmed
        assert colour_path(path, frame.frame_id, "area").exists() is not harmed
    assert workers_of(os.getpid()) == []


def killed_once(frames: list[Any], **options: Any) -> list[Any]:
    """Ended from outside at its first frame, as by a system without memory; then as ever."""
    for frame in frames:
        mark = Path(frame.path + ".tried")
        if "OTHER" in frame.path and not (mark.exists() and mark.stat().st_size > 1):
            with mark.open("a") as file:
                file.write("x")
            os.kill(os.getpid(), signal.SIGKILL)
    return harmful.measured(frames, **options)


def test_a_worker_that_was_ended_from_outside_says_nothing_of_its_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(measuring, "measure_chunk", killed_once)
    path = tmp_path / "logbook.sqlite"
    scan(path, [card(tmp_path / "card", "OTHER", healthy=2)], Settings())
    with open_logbook(path) as book:
        outcome = measure(book, LIMITS, jobs=1)
        assert (outcome.measured, outcome.unreadable, len(outcome.out_of_reach)) == (2, [], 1)
        assert measure(book, LIMITS, jobs=1).measured == 1, "it is tried again each time"


def workers_of(pid: int) -> list[psutil.Process]:
    """Its worker processes; the one that Python itself keeps to clean up behind it is none."""
    return [
        child
        for child in psutil.Process(pid).children(recursive=True)
        if "spawn_main" in " ".join(child.cmdline())
    ]


def started(path: Path, *, slow_s: float) -> subprocess.Popen[str]:
    """`auditor measure` as a process of its own, each frame taking so long."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.faults.harmful", "measure", "--logbook", str(path), "--jobs", "2"],
        cwd=ROOT, env=dict(os.environ, HARMFUL_SLOW_S=str(slow_s)), text=True,
        stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    )  # fmt: skip


def readings_kept(path: Path) -> int:
    with closing(sqlite3.connect(path)) as connection:
        return int(connection.execute("SELECT count(*) FROM readings").fetchone()[0])


def wait_for(what: Any) -> Any:
    """Until something holds; a minute is beyond all that a busy machine takes."""
    until = time.monotonic() + 60
    while not (found := what()):
        assert time.monotonic() < until, "it never came"
        time.sleep(0.05)
    return found


def test_one_ctrl_c_ends_a_run_with_all_that_was_measured_kept(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [card(tmp_path / "card", healthy=20)], Settings())
    with started(path, slow_s=0.3) as run:
        wait_for(lambda: readings_kept(path))
        workers = workers_of(run.pid)
        run.send_signal(signal.SIGINT)
        _out, told = run.communicate(timeout=60)
    assert run.returncode == 1
    assert told.strip() == (
        "auditor: Stopped. What was measured so far is kept; "
        f"auditor measure --logbook {path} goes on from there."
    )
    assert not any(worker.is_running() for worker in workers)
    kept = readings_kept(path)
    assert 0 < kept < 20
    with open_logbook(path) as book:
        assert measure(book).measured == 20 - kept


def test_workers_end_with_a_run_that_is_killed(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [card(tmp_path / "card", "HANG", healthy=8)], Settings())
    with started(path, slow_s=0.3) as run:
        wait_for(lambda: readings_kept(path))
        workers = wait_for(lambda: workers_of(run.pid))
        run.kill()
        run.communicate(timeout=60)  # whoever called holds the other end of a pipe that nobody has any more
    assert workers
    wait_for(lambda: not any(worker.is_running() for worker in workers))


def test_without_a_terminal_the_exit_code_and_the_list_tell(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [card(tmp_path / "card", "CRASH", healthy=1)], Settings())
    words = ["measure", "--logbook", str(path), "--jobs", "1", "--json"]
    done = subprocess.run(
        [sys.executable, "-m", "tests.faults.harmful", *words],
        cwd=ROOT, text=True, capture_output=True, check=False,
    )  # fmt: skip
    assert done.returncode == 3
    document = json.loads(done.stdout)
    assert document["measured"] == 1
    assert [row["reason"] for row in document["unreadable"]] == ["its decoder crashed (signal SIGSEGV)"]
    assert done.stderr == f"Next: auditor report --logbook {path}\n"  # no bar, no list
