"""A disk that is really full: one clear line, nothing half-written, and a next run that does it."""

from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from tests.cli.program import Done, error_line, run
from tests.faults import killing
from tests.share import WHOLE

FREE_KIB = (0, 20, 150) if WHOLE else (20,)
DISK_KIB = 6 * 1024
NAMES = (
    "scan", "measure", "audit", "report", "copy", "link", "sidecars", "beside", "undo", "strip", "plan",
    "declare", "drop", "target", "backup", "repair", "new", "demo",
)  # fmt: skip


@pytest.fixture(scope="module")
def before(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A card that is scanned, measured and handed over in part; more frames; a damaged logbook."""
    place = tmp_path_factory.mktemp("before")
    killing.write_card(place)
    book = place / "logbook.sqlite"
    scan(book, [place / "card"], Settings())
    with open_logbook(book) as opened:
        opened.query("PRAGMA wal_checkpoint(TRUNCATE)")
    shutil.copy2(book, place / "scanned.sqlite")
    assert run("measure", "--jobs", "1", "--logbook", book).returncode == 3  # one picture is damaged
    assert run("keepers", "copy", place / "kept", "--logbook", book).returncode == 0
    whole = book.read_bytes()
    (place / "damaged.sqlite").write_bytes(whole[: len(whole) * 8 // 10])
    (place / "more").mkdir()
    for number, frame in enumerate(killing.FRAMES[13:25]):
        shutil.copy2(frame, place / "more" / f"B{number}.JPG")
    return place


def command(name: str, before: Path, disk: Path) -> list[object]:
    book: list[object] = ["--logbook", disk / "logbook.sqlite"]
    rated = ["--write-rating", "4"]
    outing = ["--animal", "heron", "--distance", "40", "--light", "12"]
    formats = ["--format", "html,csv,json,parquet"]
    return {
        "scan": ["scan", before / "more", *book],
        "measure": ["measure", "--jobs", "1", *book],
        "audit": ["audit", before / "more", "--jobs", "1", "--into", disk / "report", *book],
        "report": ["report", "--into", disk / "report", *formats, *book],
        "copy": ["keepers", "copy", disk / "keepers", *book],
        "link": ["keepers", "link", disk / "keepers", "--symbolic", *book],
        "sidecars": ["keepers", "sidecars", disk / "sidecars", *rated, *book],
        "beside": ["keepers", "sidecars", "--beside-originals", *rated, *book],
        "undo": ["keepers", "undo", "1", *book],
        "strip": ["keepers", "strip", disk / "strip.html", *book],
        "plan": ["plan", *outing, "--page", disk / "plan.html", *book],
        "declare": ["declare", "body", "--body", "Saltmark F2", "--iso-ceiling", "3200", *book],
        "drop": ["drop", before / "card", *book],
        "target": ["bench", "--target", disk / "target.pdf"],
        "backup": ["check", "--backup", disk / "copy.sqlite", *book],
        "repair": ["check", "--repair", disk / "new.sqlite", "--logbook", before / "damaged.sqlite"],
        "new": ["scan", before / "more", "--logbook", disk / "fresh" / "logbook.sqlite"],
        "demo": ["demo", disk / "demo"],
    }[name]


def fill(disk: Path, free_kib: int) -> None:
    """Leave so much room."""
    with (disk / "filling").open("wb") as filling:
        filling.write(bytes(max(0, shutil.disk_usage(disk).free - free_kib * 1024)))


def prepared(name: str, before: Path, disk: Path) -> None:
    shutil.copy2(
        before / ("scanned.sqlite" if name == "measure" else "logbook.sqlite"), disk / "logbook.sqlite"
    )
    if name != "measure":
        shutil.copytree(before / "logbook-focus", disk / "logbook-focus")


def attempted(name: str, before: Path, disk: Path, free_kib: int) -> Done:
    prepared(name, before, disk)
    fill(disk, free_kib)
    return run(*command(name, before, disk))


@pytest.mark.long
@pytest.mark.parametrize("free_kib", FREE_KIB)
@pytest.mark.parametrize("name", NAMES if WHOLE else ["copy", "repair", "new"])
def test_a_full_disk_is_one_line_and_the_next_run_does_it(
    disk: Callable[[int], Path], before: Path, name: str, free_kib: int
) -> None:
    place = disk(DISK_KIB)
    done = attempted(name, before, place, free_kib)
    assert done.returncode in (0, 1, 3), done.stderr
    left = [path.name for path in place.rglob("*") if "unfinished" in path.name]
    assert left == []
    with open_logbook(place / "logbook.sqlite") as book:
        assert book.problems() == []
    if done.returncode == 1:
        *_messages, told = done.stderr.strip().splitlines()
        assert told.startswith("auditor: ")
        assert "older auditor" not in told
        assert any(word in told for word in ("full", "No space left", "are free", "room"))
        (place / "filling").unlink()
        if name == "demo":  # its folder is no longer empty, which is told
            shutil.rmtree(place / "demo")
            return
        again = run(*command(name, before, place))
        assert again.returncode in (0, 3), again.stderr


def test_room_is_told_in_a_unit_that_says_something(disk: Callable[[int], Path], before: Path) -> None:
    *_messages, told = attempted("copy", before, disk(DISK_KIB), 20).stderr.splitlines()
    assert " kB are needed and " in told
    assert "0 MB" not in told


def test_no_empty_logbook_is_left_where_there_is_no_room_for_one(
    disk: Callable[[int], Path], before: Path
) -> None:
    place = disk(DISK_KIB)
    told = error_line(attempted("new", before, place, 20))
    assert "The disk is full: make room" in told
    assert not (place / "fresh" / "logbook.sqlite").exists()
