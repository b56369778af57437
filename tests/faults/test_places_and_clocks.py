"""A disk that is full wherever something is written, a clock that goes back, two runs on one logbook."""

from __future__ import annotations

import shutil
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from tests.cli.program import run
from tests.faults import killing
from tests.faults.test_copies import files_at_most
from tests.share import WHOLE

FULL_AT = (500, 30_000, 150_000, 400_000) if WHOLE else (500,)
"""So long may a file grow: on a full disk the first write fails, or a later one."""


def prepared(place: Path) -> Path:
    """A card that is scanned and not measured, and its logbook."""
    killing.write_card(place)
    book = place / "logbook.sqlite"
    scan(book, [place / "card"], Settings())
    return book


def commands(place: Path, book: Path) -> dict[str, list[object]]:
    there: list[object] = ["--logbook", book]
    return {
        "scan": ["scan", place / "more", *there],
        "measure": ["measure", "--jobs", "1", *there],
        "report": ["report", "--into", place / "report", "--format", "html,csv,json", *there],
        "keepers": ["keepers", "copy", place / "keepers", *there],
        "strip": ["keepers", "strip", place / "strip.html", *there],
        "plan": [
            "plan", "--animal", "heron", "--distance", "40", "--light", "12", "--page", place / "p.html",
            *there,
        ],
        "declare": ["declare", "body", "--body", "Saltmark F2", "--iso-ceiling", "3200", *there],
        "target": ["bench", "--target", place / "target.pdf"],
        "backup": ["check", "--backup", place / "copy.sqlite", *there],
    }  # fmt: skip


@pytest.mark.long
@pytest.mark.parametrize("size_bytes", FULL_AT)
@pytest.mark.parametrize("name", list(commands(Path(), Path())) if WHOLE else ["measure", "keepers", "plan"])
def test_a_full_disk_is_one_line_and_the_next_run_does_it(tmp_path: Path, name: str, size_bytes: int) -> None:
    book = prepared(tmp_path)
    (tmp_path / "more").mkdir()
    for number, frame in enumerate(killing.FRAMES[13:40]):
        shutil.copy2(frame, tmp_path / "more" / f"B{number}.JPG")
    if name in ("keepers", "strip"):
        assert run("measure", "--jobs", "1", "--logbook", book).returncode == 3
    words = commands(tmp_path, book)[name]
    with files_at_most(size_bytes):
        done = run(*words)
    if done.returncode == 1:
        *_messages, told = done.stderr.strip().splitlines()
        assert told.startswith("auditor: ")
        assert "Traceback" not in done.stderr
    else:
        assert done.returncode in (0, 3), done.stderr
    assert not [path for path in tmp_path.rglob("*unfinished*") if path.is_file()]
    with open_logbook(book) as opened:
        assert opened.problems() == []
    if done.returncode == 1:
        again = run(*words)
        assert again.returncode in (0, 3), again.stderr


def test_a_clock_that_goes_back_changes_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    book = prepared(tmp_path)
    with monkeypatch.context() as earlier:
        for module in ("jobs.scan", "jobs.measure", "store.declarations"):
            earlier.setattr(f"auditor.{module}.now_utc", lambda: "1999-12-31T23:59:59+00:00")
        (outcome,) = scan(book, [tmp_path / "card"], Settings())
        assert (outcome.read, outcome.gone) == (0, 0)
        declared = run("declare", "body", "--body", "Saltmark F2", "--iso-ceiling", "3200", "--logbook", book)
        assert declared.returncode == 0
    done = run("declare", "list", "--logbook", book)
    assert "the highest ISO that you accept is 3200" in done.stdout
    assert "1999-12-31" in done.stdout, "the clock was set back"


def test_what_was_handed_over_before_the_clock_went_back_is_taken_back(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    book, keepers = prepared(tmp_path), tmp_path / "keepers"
    every = ["--verdict", "hit", "--verdict", "miss", "--unclear", "--logbook", book]
    assert run("keepers", "copy", keepers, *every).returncode == 0
    copied = sorted(path.name for path in keepers.iterdir())
    with monkeypatch.context() as earlier:
        earlier.setattr("auditor.store.receipts.now_utc", lambda: "1999-12-31T23:59:59+00:00")
        again = run("keepers", "copy", keepers, *every)
        assert f"0 files copied and verified, {len(copied)} there already" in again.stdout
        assert run("keepers", "copy", tmp_path / "second", *every).returncode == 0
        for receipt in ("1", "2"):
            done = run("keepers", "undo", receipt, "--logbook", book)
            assert f"{len(copied)} files removed" in done.stdout
    assert not keepers.exists()
    assert not (tmp_path / "second").exists()


def test_two_runs_at_once_make_what_one_makes(tmp_path: Path) -> None:
    killing.write_card(tmp_path)
    book = tmp_path / "logbook.sqlite"
    words = ["audit", str(tmp_path / "card"), "--jobs", "1", "--quiet", "--logbook", str(book), "--into"]
    with ThreadPoolExecutor(2) as runs:
        ended = list(runs.map(lambda name: killing.run([*words, str(tmp_path / name)]), ("one", "two")))
    for code, told in ended:
        # 3: it met the damaged picture; 0: the other had; 1: it was told to wait for the other.
        assert code in (0, 1, 3), told
        assert "Traceback" not in told
    assert 3 in [code for code, _told in ended]
    with open_logbook(book) as opened:
        assert opened.problems() == []
        rows = opened.query("SELECT path, measured_on FROM frame_facts ORDER BY path")
    assert len(rows) == len({row["path"] for row in rows}) == 13
    assert sum(row["measured_on"] is not None for row in rows) == 12


@pytest.mark.parametrize("command", ["audit", "scan"])
def test_a_run_killed_before_its_first_table_leaves_nothing_in_the_way(tmp_path: Path, command: str) -> None:
    """SQLite makes an empty file first."""
    killing.write_card(tmp_path)
    book = tmp_path / "logbook.sqlite"
    book.touch()
    into = ["--into", tmp_path / "report"] if command == "audit" else []
    done = run(command, tmp_path / "card", "--logbook", book, "--jobs", "1", *into)
    assert done.returncode in (0, 3), done.stderr
