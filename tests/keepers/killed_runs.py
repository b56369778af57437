"""Runs killed (SIGKILL) at one step after another: python -m tests.keepers.killed_runs

Each line of input is a JSON list of a folder, a way, a task and EVERY; a line answers that it is done.
For each step (every third with EVERY 3) a new place is made in the folder, and a child of this process hands
over there (or takes back) and kills itself before that step. A step is whatever touches the target folder (by
Python's audit events), a flush to the disk, or the beginning or end of a transaction of the logbook. This
process stays as it was and serves one line after another: to start it takes longer than a dozen steps.
"""

from __future__ import annotations

import json
import os
import shutil
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from auditor.keepers.handover import hand_over
from auditor.keepers.undo import take_back
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.receipts import Way
from tests.keepers.places import planned, write_place

_EVENTS = (
    "open",
    "os.link",
    "os.rename",
    "os.remove",
    "os.mkdir",
    "os.symlink",
    "os.rmdir",
    "os.chmod",
    "os.utime",
)


def main() -> None:
    with TemporaryDirectory() as made:
        empty = Path(made) / "empty.sqlite"
        with open_logbook(empty, create=True):
            pass
        for line in sys.stdin:
            folder, way, task, every = json.loads(line)
            kill_at_each_step(Path(folder), way, task, every, empty)
            print("done", flush=True)


def kill_at_each_step(folder: Path, way: Way, task: str, every: int, empty: Path) -> None:
    step = 1
    while True:
        place = folder / f"{step:03}"
        write_place(place)
        shutil.copyfile(empty, place / "logbook.sqlite")
        child = os.fork()
        if child == 0:
            run(place, way, task, step)
            os._exit(0)
        _pid, status = os.waitpid(child, 0)
        if os.WIFEXITED(status):
            assert os.WEXITSTATUS(status) == 0, status
            return
        assert os.WTERMSIG(status) == signal.SIGKILL
        step += every


def run(place: Path, way: Way, task: str, step: int) -> None:
    if task.endswith("without links"):
        os.link = no_links
    with open_logbook(place / "logbook.sqlite") as book:
        plan = planned(place, way)
        if task == "undo":
            hand_over(book, plan)
        die_before(step, str(place / "keepers"))
        if task == "undo":
            take_back(book, 1)
        else:
            hand_over(book, plan)


def no_links(*_arguments: object, **_more: object) -> None:
    """As on disks such as FAT."""
    raise PermissionError("Operation not permitted")


def die_before(step: int, folder: str) -> None:
    left = [step]

    def count() -> None:
        left[0] -= 1
        if left[0] == 0:
            os.kill(os.getpid(), signal.SIGKILL)

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        if event in _EVENTS and any(folder in str(one) for one in arguments):
            count()

    flush, writing = os.fsync, Logbook.writing

    def counted_flush(fd: Any) -> None:
        count()
        flush(fd)

    @contextmanager
    def counted_writing(book: Logbook) -> Iterator[None]:
        count()
        with writing(book):
            yield
            count()
        count()

    os.fsync = counted_flush
    setattr(Logbook, "writing", counted_writing)  # noqa: B010  # a method, which mypy does not let be set
    sys.addaudithook(hook)


if __name__ == "__main__":
    main()
