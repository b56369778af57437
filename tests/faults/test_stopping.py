"""One Ctrl-C, or a kill, while a report is written or the desk works: nothing hangs, all is kept."""

from __future__ import annotations

import http.client
import os
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from contextlib import closing, suppress
from pathlib import Path

import pytest

from auditor.report.text.desk import CLOSED
from auditor.store.logbook import open_logbook
from tests.cli.program import run
from tests.desk.conftest import Visitor
from tests.faults import killing
from tests.faults.test_lost_workers import card, readings_kept, wait_for, workers_of
from tests.share import WHOLE

STOPPED = "auditor: Stopped. Run the same command again to go on."
WAITS_S = 40
"""Beyond all that a busy machine takes, and less than a decoder that hangs is given (file_longest_s)."""


@pytest.mark.parametrize("moment", ["loading", "writing"])
def test_ctrl_c_while_a_report_is_written(
    measured_sample: Callable[[Path], Path], tmp_path: Path, moment: str
) -> None:
    book, place = measured_sample(tmp_path / "book"), tmp_path / "report"
    words = ["report", "--logbook", str(book), "--into", str(place), "--format", "html,csv,json"]
    with subprocess.Popen(
        [sys.executable, "-c", "from auditor.cli.main import main; main()", *words],
        cwd=killing.ROOT, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
    ) as process:  # fmt: skip
        if moment == "writing":
            wait_for(place.exists)
        else:
            wait_for(
                lambda: "numpy" in Path(f"/proc/{process.pid}/maps").read_text() or process.poll() is not None
            )
        process.send_signal(signal.SIGINT)
        _out, told = process.communicate(timeout=WAITS_S)
    if process.returncode:  # it may have ended just before
        assert (process.returncode, told.strip()) == (130, STOPPED)
    assert not list(tmp_path.rglob("*.unfinished"))
    assert run(*words).returncode == 0
    assert (place / "report.html").exists()


class Desk:
    """A desk in a process of its own, and someone who looks at it."""

    def __init__(self, place: Path) -> None:
        self.book = place / "logbook.sqlite"
        self.process = subprocess.Popen(
            [sys.executable, "-m", "tests.faults.harmful", "desk", "--no-browser", "--jobs", "2", "--logbook",
             str(self.book)],
            cwd=killing.ROOT, env=dict(os.environ, HARMFUL_SLOW_S="0.3"), text=True,
            stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        )  # fmt: skip
        assert self.process.stdout is not None
        self.visitor = Visitor(self.process.stdout.readline().strip())
        self.visitor.enter()

    def look(self) -> None:
        """Have a page open that is told how the work goes, as long as the desk lives."""
        connection = http.client.HTTPConnection(self.visitor.host, timeout=2 * WAITS_S)
        connection.request("GET", "/progress", headers={"Cookie": self.visitor.cookie})
        answer = connection.getresponse()

        def read() -> None:
            with closing(connection), answer, suppress(OSError, http.client.HTTPException):
                while answer.read(1):
                    pass

        self._reader = threading.Thread(target=read)
        self._reader.start()

    def end(self, how: signal.Signals) -> str:
        self.process.send_signal(how)
        _out, told = self.process.communicate(timeout=WAITS_S)
        self._reader.join()
        return told


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    started = Desk(tmp_path)
    yield started
    started.process.kill()
    started.process.communicate()


def test_ctrl_c_ends_a_desk_that_a_page_is_open_of(desk: Desk) -> None:
    desk.look()
    told = desk.end(signal.SIGINT)
    assert desk.process.returncode == 0
    assert told.strip().splitlines()[-1] == CLOSED
    assert "Traceback" not in told


@pytest.mark.long
@pytest.mark.parametrize("harms", [[], ["HANG"]] if WHOLE else [["HANG"]])
@pytest.mark.parametrize("how", [signal.SIGINT, signal.SIGKILL] if WHOLE else [signal.SIGINT])
def test_a_desk_that_measures_ends_with_its_workers_and_what_was_measured(
    desk: Desk, tmp_path: Path, how: signal.Signals, harms: list[str]
) -> None:
    folder = card(tmp_path / "card", *harms, healthy=12)
    desk.look()
    assert desk.visitor.post("/read", {"folder": str(folder)}).status == 303
    wait_for(lambda: desk.book.exists() and readings_kept(desk.book) > 2)
    workers = workers_of(desk.process.pid)
    assert workers
    told = desk.end(how)
    assert "Traceback" not in told
    wait_for(lambda: not any(worker.is_running() for worker in workers))
    kept = readings_kept(desk.book)
    assert kept > 0
    with open_logbook(desk.book) as book:
        assert book.problems() == []
    for hanging in folder.glob("*HANG*"):
        shutil.copy2(killing.FRAMES[20], hanging.with_name("B" + hanging.name.replace("HANG", "")))
        hanging.unlink()
    assert run("audit", folder, "--logbook", desk.book, "--into", tmp_path / "report").returncode == 0
    assert readings_kept(desk.book) >= 12


def test_a_report_that_is_being_written_keeps_no_desk_from_ending() -> None:
    program = """
import time
from auditor.desk.reports import Reports
page = Reports().begin(1, (), lambda: time.sleep(600))
time.sleep(0.2)
assert page.done() is False
"""
    ended = subprocess.run([sys.executable, "-c", program], cwd=killing.ROOT, timeout=WAITS_S, check=False)
    assert ended.returncode == 0
