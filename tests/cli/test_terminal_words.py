"""What a person reads in a terminal: lines that break well, counts in words, what disagrees by name."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.cli.common import counted, filled
from auditor.store.logbook import open_logbook
from tests.cli.program import run
from tests.frame_files import Shot, write_card


def test_a_number_stays_with_its_unit() -> None:
    text = "The interval is from 6 % to 95 % and the blur 2.5 px at ISO 10240 with 500 mm."
    for columns in range(20, 60):
        broken = filled(text, columns)
        assert broken.replace("\n", " ") == text
        assert not re.search(r"(?<=\d)\n(?:%|px|mm)|ISO\n", broken)
        assert max(map(len, broken.splitlines())) <= columns


def test_counts_are_said_in_words_and_thousands_apart() -> None:
    assert counted(1, "encounter") == "1 encounter"
    assert counted(14959, "frame") == "14,959 frames"


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Twelve frames that the photographer likes and that miss, and one that is a hit and is liked."""
    folder = tmp_path_factory.mktemp("rated")
    write_card(folder / "card", [Shot(number=n, after_s=n * 5.0) for n in range(1, 14)])
    path = folder / "logbook.sqlite"
    assert run("scan", folder / "card", "--logbook", path).returncode == 0
    with open_logbook(path) as logbook, logbook.writing():
        logbook.execute("UPDATE frames SET rating = 4")
        logbook.execute("UPDATE verdicts SET verdict = 'miss'")
        logbook.execute("UPDATE verdicts SET verdict = 'hit' WHERE frame_id = 1")
    return path


def test_check_names_the_frames_where_rating_and_verdict_disagree(rated: Path) -> None:
    done = run("check", "--logbook", rated)
    assert "12 frames where your rating and the verdict disagree" in done.stdout
    named = re.findall(r"^    (\S+): miss, you rated it 4$", done.stdout, re.MULTILINE)
    assert len(named) == 10
    assert "and 2 more; all of them: auditor check --json" in done.stdout
    document = json.loads(run("check", "--json", "--logbook", rated).stdout)
    disagreeing = document["ratings"]["rated_otherwise"]
    assert len(disagreeing) == 12
    assert {(one["verdict"], one["rating"]) for one in disagreeing} == {("miss", 4)}


def test_check_fits_80_columns_where_there_are_hints_too(
    measured_sample: Callable[[Path], Path], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    path = measured_sample(tmp_path)
    lines = run("check", "--logbook", path.name, cwd=path.parent).stdout.splitlines()
    assert any(line.startswith("Hints: 3") for line in lines)
    # A command, or a path, stands on one line however long it is, so that it can be copied.
    assert f"To see them: auditor declare hints --logbook {path.name}" in lines
    assert max(len(line) for line in lines if str(path) not in line) <= 80


def test_kits_tells_the_full_name_once(rated: Path) -> None:
    told = run("kits", "--kit", 1, "--logbook", rated).stdout
    head, _, full = told.partition("Kits in full:\n")
    short, _, name = full.strip().partition(": ")
    assert short in head
    assert name not in head
    assert told.count(name) == 1


@pytest.mark.parametrize("columns", [60, 80])
def test_the_tables_fit_the_terminal_and_names_stay_whole(
    rated: Path, monkeypatch: pytest.MonkeyPatch, columns: int
) -> None:
    monkeypatch.setenv("COLUMNS", str(columns))
    for command in (["kits"], ["kits", "--by", "light"], ["flags"], ["frames"], ["trips"]):
        told = run(*command, "--logbook", rated.name, cwd=rated.parent).stdout
        assert max(map(len, told.splitlines())) <= columns, command
    told = run("kits", "--logbook", rated).stdout
    (head,) = (line for line in told.splitlines() if line.startswith("Kit "))
    assert all(word in head for word in ("Kit", "Frames", "In focus", "ISO"))
