"""Frames that were kept elsewhere: gaps in the file numbers are no deleting, once it is said."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.program import error_line, run
from tests.frame_files import Shot, write_card


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """Numbers 1 to 4, then 9 to 12 a minute later: room for four frames."""
    numbers = [1, 2, 3, 4, 9, 10, 11, 12]
    write_card(tmp_path / "card", [Shot(number=n, after_s=place * 5.0) for place, n in enumerate(numbers)])
    path = tmp_path / "logbook.sqlite"
    assert run("scan", tmp_path / "card", "--logbook", path).returncode == 0
    return path


def deleted(logbook: Path) -> int:
    rows = json.loads(run("kits", "--all-trips", "--json", "--logbook", logbook).stdout)["kits"]
    return sum(row["deleted"] for row in rows)


def test_gaps_count_no_more_and_again_when_it_is_taken_back(logbook: Path) -> None:
    assert deleted(logbook) == 4
    done = run("declare", "elsewhere", "--body", "1001", "--always", "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    assert "Declared as number 1. 8 frames changed." in done.stdout
    assert "gaps beside it may be deleted frames -> frames kept elsewhere" in done.stdout
    assert deleted(logbook) == 0
    assert (
        "More frames of Body One are on another card or disk at all times; "
        in run("declare", "list", "--logbook", logbook).stdout
    )
    undone = run("declare", "undo", "1", "--logbook", logbook)
    assert "Undone: 1. More frames of Body One are on another card or disk" in undone.stdout
    assert deleted(logbook) == 4


def test_it_is_of_a_trip_or_of_a_span(logbook: Path) -> None:
    named = run("declare", "elsewhere", "--body", "1001", "--trip", "1", "--logbook", logbook)
    assert named.returncode == 0, named.stderr
    assert deleted(logbook) == 0
    run("declare", "undo", "1", "--logbook", logbook)
    span = ("--from", "2026-04-19", "--to", "2026-04-20")
    other = run("declare", "elsewhere", "--body", "1001", *span, "--logbook", logbook)
    assert other.returncode == 1
    assert "would change no frame" in error_line(other)
    both = run("declare", "elsewhere", "--body", "1001", "--trip", "1", "--always", "--logbook", logbook)
    assert both.returncode == 2
    neither = run("declare", "elsewhere", "--body", "1001", "--logbook", logbook)
    assert neither.returncode == 2
    assert "give --trip, or --from and --to, or --always" in error_line(neither)
    assert deleted(logbook) == 4
