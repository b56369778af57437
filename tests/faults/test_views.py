"""A decoder that crashes or hangs over a frame that somebody looks at costs that view, not the desk."""

from __future__ import annotations

import shutil
from collections.abc import Iterator
from multiprocessing import active_children
from multiprocessing.process import BaseProcess
from pathlib import Path
from threading import Thread

import pytest

from auditor.jobs import views
from auditor.jobs.crew import Limits
from auditor.jobs.views import View, Views
from tests.faults import harmful
from tests.faults.test_lost_workers import FRAMES, wait_for


@pytest.fixture
def looking(monkeypatch: pytest.MonkeyPatch) -> Iterator[Views]:
    monkeypatch.setattr(views, "show", harmful.shown)
    started = Views(lambda: Limits(longest_s=4, memory_gib=1))
    yield started
    started.close()


def new_worker(before: list[BaseProcess]) -> BaseProcess:
    (worker,) = (worker for worker in active_children() if worker not in before)
    return worker


def view(path: Path) -> View:
    return View(str(path), 1, 200, 300, (0.5, 0.5))


def test_the_process_that_shows_frames_is_no_other_than_a_worker(looking: Views, tmp_path: Path) -> None:
    healthy = tmp_path / "A1.JPG"
    shutil.copy2(FRAMES[0], healthy)
    before = active_children()
    first = looking.seen(view(healthy))
    worker = new_worker(before)
    assert first.why_not == ""
    assert first.jpeg.startswith(b"\xff\xd8")
    assert looking.seen(view(healthy)) == first
    assert new_worker(before) == worker


@pytest.mark.parametrize(
    ("harm", "said"),
    [("CRASH", "its decoder crashed"), ("LEAVE", "its decoder crashed"), ("HANG", "more than 4 s")],
)
def test_one_view_is_lost_and_the_next_is_there(looking: Views, tmp_path: Path, harm: str, said: str) -> None:
    harmed, healthy = tmp_path / f"A1_{harm}.JPG", tmp_path / "A2.JPG"
    for path in (harmed, healthy):
        shutil.copy2(FRAMES[0], path)
    lost = looking.seen(view(harmed))
    assert said in lost.why_not
    assert lost.jpeg == b""
    assert looking.seen(view(healthy)).jpeg.startswith(b"\xff\xd8")


def test_a_worker_that_was_ended_between_two_views_is_started_anew(looking: Views, tmp_path: Path) -> None:
    healthy = tmp_path / "A1.JPG"
    shutil.copy2(FRAMES[0], healthy)
    before = active_children()
    first = looking.seen(view(healthy))
    worker = new_worker(before)
    worker.kill()
    worker.join(10)
    assert looking.seen(view(healthy)) == first


def test_closing_ends_a_worker_that_hangs(looking: Views, tmp_path: Path) -> None:
    hanging = tmp_path / "A1_HANG.JPG"
    shutil.copy2(FRAMES[0], hanging)
    before = active_children()
    looking.get_ready()
    waiting = Thread(target=lambda: looking.seen(view(hanging)))
    waiting.start()
    wait_for(lambda: bool(set(active_children()) - set(before)))
    worker = new_worker(before)
    looking.close()
    waiting.join(30)
    assert not waiting.is_alive()
    wait_for(lambda: not worker.is_alive())
