"""Frames are listed and chosen as they were taken, kits compared by one angle: it is said beside counts."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.report.text.outcomes import AS_FRAMED
from tests.cli.program import run
from tests.frame_files import Shot, write_card


@pytest.fixture
def logbook(measured_sample: Callable[[Path], Path], tmp_path: Path) -> Path:
    return measured_sample(tmp_path)


def one_line(text: str) -> str:
    return " ".join(text.split())


def test_two_counts_of_misses_that_differ_are_explained_beside_the_first(logbook: Path) -> None:
    """Behind a converter the sensor's limit is the stricter one: by it the sample trip has more misses."""
    kits = json.loads(run("kits", "--json", "--logbook", logbook).stdout)["kits"]
    missed = sum(kit["judged"] - kit["hits"] for kit in kits)
    frames = run("frames", "--verdict", "miss", "--json", "--logbook", logbook).stdout
    assert len(json.loads(frames)) > missed > 0
    assert AS_FRAMED in one_line(run("frames", "--verdict", "miss", "--logbook", logbook).stdout)
    assert AS_FRAMED in one_line(run("keepers", "--logbook", logbook).stderr)


def test_it_is_said_only_beside_counts_by_verdict(logbook: Path) -> None:
    assert AS_FRAMED not in one_line(run("frames", "--logbook", logbook).stdout)
    assert AS_FRAMED not in one_line(run("keepers", "--logbook", logbook, "--quiet").stderr)
    words = ("keepers", "--verdict", "hit", "--verdict", "miss", "--verdict", "unclear", "--logbook", logbook)
    assert AS_FRAMED not in one_line(run(*words).stderr)
    assert AS_FRAMED not in one_line(run("trips", "--logbook", logbook).stdout), "its line is of the kits"


def test_trips_that_show_counts_say_it(logbook: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("auditor.cli.trips.MOST_ANSWERED", 0)
    told = one_line(run("trips", "--logbook", logbook).stdout)
    assert " in focus " in told.partition(AS_FRAMED)[0]
    assert told.endswith(AS_FRAMED)


def test_the_report_says_it_where_its_frames_are_listed(logbook: Path, tmp_path: Path) -> None:
    run("report", "--logbook", logbook, "--into", tmp_path / "report")
    page = (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
    assert page.count(AS_FRAMED) == 1
    assert page.index("All frames</h2>") < page.index(AS_FRAMED)


def test_bare_lenses_alone_have_one_count(tmp_path: Path) -> None:
    write_card(tmp_path / "card", [Shot(number=n + 1, after_s=400.0 * n) for n in range(3)])
    book = tmp_path / "logbook.sqlite"
    run("audit", tmp_path / "card", "--logbook", book, "--into", tmp_path / "report")
    for words in (("trips",), ("frames", "--verdict", "unclear"), ("keepers",)):
        done = run(*words, "--logbook", book)
        assert AS_FRAMED not in one_line(done.stdout + done.stderr)
    assert AS_FRAMED not in (tmp_path / "report" / "report.html").read_text(encoding="utf-8")
