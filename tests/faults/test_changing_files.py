"""Files that change while they are read, measured and copied; cards that can only be read, or go away."""

from __future__ import annotations

import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from auditor.jobs import measure as measuring
from auditor.jobs import scan as scanning
from auditor.jobs.failures import CHANGED_SINCE
from auditor.jobs.measure import measure
from auditor.jobs.reading import read_chunk
from auditor.jobs.scan import scan
from auditor.keepers import files, handover
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import plan
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from tests.cli.program import run
from tests.faults.killing import FRAMES

Rows = list[tuple[Any, ...]]


def card(folder: Path, count: int = 3) -> Path:
    folder.mkdir()
    for number in range(count):
        shutil.copy2(FRAMES[number], folder / f"A{number}.JPG")
    return folder


def rewritten(path: Path, frame: Path) -> None:
    """Another exposure under the same name, as when a card is formatted and used again meanwhile."""
    path.write_bytes(frame.read_bytes())
    os.utime(path, (1_800_000_000, 1_800_000_000))


def told(book: Path) -> Rows:
    """What is known of the frames that are there."""
    sql = (
        "SELECT path, taken_at, width_px, measured_on, blur_px, verdict FROM frame_facts WHERE frame_id IN "
        "(SELECT frame_id FROM frame_files WHERE present) ORDER BY path"
    )
    with open_logbook(book) as opened:
        return [tuple(row) for row in opened.query(sql)]


def as_if_it_had_been_so_from_the_start(folder: Path, place: Path) -> Rows:
    place.mkdir()
    scan(place / "logbook.sqlite", [folder], Settings())
    with open_logbook(place / "logbook.sqlite") as book:
        measure(book)
    return told(place / "logbook.sqlite")


def test_a_file_that_changes_after_it_was_found_is_read_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, book = card(tmp_path / "card"), tmp_path / "logbook.sqlite"
    original = read_chunk

    def changing(found: list[Any]) -> list[Any]:
        rewritten(folder / "A1.JPG", FRAMES[40])
        return original(found)

    with monkeypatch.context() as patched:
        patched.setattr(scanning, "read_chunk", changing)
        scan(book, [folder], Settings())
    (outcome,) = scan(book, [folder], Settings())
    assert (outcome.read, outcome.unreadable) == (1, [])
    with open_logbook(book) as opened:
        measure(opened)
    assert told(book) == as_if_it_had_been_so_from_the_start(folder, tmp_path / "other")


def test_a_file_that_changes_before_it_is_measured_is_measured_again_once_it_was_scanned(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    folder, book = card(tmp_path / "card"), tmp_path / "logbook.sqlite"
    scan(book, [folder], Settings())
    original = measuring.measure_chunk

    def changing(frames: list[Any], **options: Any) -> list[Any]:
        rewritten(folder / "A1.JPG", FRAMES[40])
        return original(frames, **options)

    with monkeypatch.context() as patched, open_logbook(book) as opened:
        patched.setattr(measuring, "measure_chunk", changing)
        outcome = measure(opened)
        assert outcome.out_of_reach == [(str(folder / "A1.JPG"), CHANGED_SINCE)]
    scan(book, [folder], Settings())
    with open_logbook(book) as opened:
        assert measure(opened).measured == 1
    assert told(book) == as_if_it_had_been_so_from_the_start(folder, tmp_path / "other")


@pytest.mark.parametrize("longer", [True, False])
def test_a_file_that_changes_while_it_is_copied_is_no_keeper(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, longer: bool
) -> None:
    """The copy is what was read, and may be half of the one and half of the other."""
    folder = card(tmp_path / "card")
    original = files._copy_hashed

    def changing(source: Path, unfinished: Path) -> str:
        copied = original(source, unfinished)
        if source.name == "A1.JPG":
            if longer:
                source.write_bytes(source.read_bytes() + b"more")
            else:
                rewritten(source, FRAMES[0])
        return copied

    monkeypatch.setattr(handover, "AT_ONCE", 1)
    monkeypatch.setattr(files, "_copy_hashed", changing)
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        done = hand_over(book, plan([[path] for path in sorted(folder.iterdir())], tmp_path / "keepers"))
    assert [(path.name, reason) for path, reason in done.failed] == [
        ("A1.JPG", "it changed while it was copied: run it again")
    ]
    assert sorted(path.name for path in (tmp_path / "keepers").iterdir()) == ["A0.JPG", "A2.JPG"]


def test_a_card_that_can_only_be_read_is_audited_and_its_sidecars_are_told(
    tmp_path: Path, disk: Callable[[int], Path]
) -> None:
    place, book = disk(2048), tmp_path / "logbook.sqlite"
    card(place / "DCIM", count=8)
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
    done = run("audit", place, "--logbook", book, "--into", tmp_path / "report", "--jobs", "1")
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "report").is_dir()
    every = ["--verdict", "hit", "--verdict", "miss", "--unclear", "--logbook", book]
    copied = run("keepers", "copy", tmp_path / "keepers", *every)
    assert copied.returncode == 0
    done = run("keepers", "sidecars", "--beside-originals", "--write-rating", "3", *every)
    assert done.returncode == 3
    assert "Read-only file system:" in done.stdout
    assert "Traceback" not in done.stderr


def test_a_card_that_has_gone_can_still_be_reported_on(tmp_path: Path) -> None:
    folder, book = card(tmp_path / "card", count=6), tmp_path / "logbook.sqlite"
    assert run("scan", folder, "--logbook", book).returncode == 0
    assert run("measure", "--jobs", "1", "--logbook", book).returncode == 0
    folder.rename(tmp_path / "away")
    assert run("report", "--into", tmp_path / "report", "--logbook", book).returncode == 0
    every = ["--verdict", "hit", "--verdict", "miss", "--unclear", "--logbook", book]
    done = run("keepers", "copy", tmp_path / "keepers", *every)
    assert done.returncode == 3
    assert done.stdout == "Nothing to hand over.\n"
    assert "no longer where they were: 6" in done.stderr
    assert not (tmp_path / "keepers").exists()
    done = run("audit", folder, "--logbook", book, "--into", tmp_path / "report")
    assert done.returncode == 1
    assert "there is no such folder" in done.stderr
    (tmp_path / "away").rename(folder)
    assert run("keepers", "copy", tmp_path / "keepers", *every).returncode == 0
