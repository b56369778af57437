"""Workers of a real Dask scheduler here: the same logbook as without them, also when one is killed."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.errors import ClusterError
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from tests.cli.program import run

SAMPLE = Path(__file__).parents[2] / "sample_images"
FRAMES = 24


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    for file in sorted((SAMPLE / "DCIM").rglob("*.JPG"))[:FRAMES]:
        shutil.copy2(file, folder)
    return folder


class Cluster:
    """A scheduler and its workers, as processes of their own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.file = folder / "scheduler.json"
        self.workers: list[subprocess.Popen[bytes]] = []
        self.scheduler = self._start("scheduler", "--port", "0", "--no-show", "--no-jupyter")

    def _start(self, what: str, *options: str) -> subprocess.Popen[bytes]:
        command = [sys.executable, "-m", "distributed.cli.dask_" + what, "--scheduler-file", str(self.file)]
        environment = os.environ | {"DASK_DISTRIBUTED__DASHBOARD__LINK": ""}
        return subprocess.Popen(
            [*command, "--dashboard-address", "127.0.0.1:0", *options],
            cwd=self.folder, env=environment, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
        )  # fmt: skip

    def add_workers(self, number: int) -> None:
        for _worker in range(number):
            self.workers.append(self._start("worker", "--nthreads", "1", "--no-nanny", "--host", "127.0.0.1"))

    @property
    def address(self) -> str:
        import json

        for _try in range(600):
            if self.file.exists() and (text := self.file.read_text()):
                return str(json.loads(text)["address"])
            time.sleep(0.1)
        raise AssertionError("the scheduler did not start")

    def wait_for_workers(self, number: int) -> None:
        from distributed import Client

        with Client(self.address, set_as_default=False) as client:
            client.wait_for_workers(number, timeout=120)

    def close(self) -> None:
        for process in (*self.workers, self.scheduler):
            process.kill()
            process.wait(20)


@pytest.fixture
def cluster(tmp_path: Path) -> Iterator[Cluster]:
    started = Cluster(tmp_path)
    yield started
    started.close()


def filled(logbook: Path, card: Path, cluster: Cluster | None = None, *, kill: bool = False) -> list[object]:
    """What a logbook holds after scanning and measuring."""
    address = None if cluster is None else cluster.address

    def progress(done: int) -> None:
        if kill and cluster is not None and done >= 4 and cluster.workers[0].poll() is None:
            cluster.workers[0].send_signal(signal.SIGKILL)

    scan(logbook, [card], Settings(), cluster=address)
    with open_logbook(logbook) as book:
        measure(book, cluster=address, progress=progress)
        columns = [row[1] for row in book.query("PRAGMA table_info(frame_facts)")]
        rows = book.query(f"SELECT {', '.join(columns)} FROM frame_facts ORDER BY path")
        return [tuple(row) for row in rows]


def test_the_logbook_is_the_same_as_on_one_machine_also_when_a_worker_is_killed(
    tmp_path: Path, card: Path, cluster: Cluster
) -> None:
    cluster.add_workers(2)
    cluster.wait_for_workers(2)
    alone = filled(tmp_path / "alone" / "logbook.sqlite", card)
    together = filled(tmp_path / "together" / "logbook.sqlite", card, cluster, kill=True)
    assert cluster.workers[0].wait(20) == -signal.SIGKILL
    assert together == alone
    assert len(alone) == FRAMES


def test_a_scheduler_that_is_not_there_or_has_no_workers_is_told_in_one_line(
    tmp_path: Path, card: Path, cluster: Cluster, monkeypatch: pytest.MonkeyPatch
) -> None:
    from auditor.jobs import cluster as module

    with pytest.raises(ClusterError, match="has no workers"):
        filled(tmp_path / "a" / "logbook.sqlite", card, cluster)
    monkeypatch.setattr(module, "ANSWERS_WITHIN_S", 1)
    done = run("scan", card, "--workers", "tcp://127.0.0.1:9", "--logbook", tmp_path / "b" / "logbook.sqlite")
    assert done.returncode == 1
    assert "no Dask scheduler answers there" in done.stderr.splitlines()[-1]
