"""Copying: names, clashes, verified bytes, full disks, runs that were cut off; originals stay as they are."""

from __future__ import annotations

import errno
import os
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import OutputError
from auditor.keepers import copying


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    for name, data in {
        "a/X_0001.JPG": b"one",
        "a/X_0001.xmp": b"<x/>",
        "b/x_0001.jpg": b"other",
        "b/X_0002.JPG": b"two",
    }.items():
        (folder / name).parent.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(data)
    return folder


def frames(card: Path) -> list[list[Path]]:
    return [
        [card / "a/X_0001.JPG", card / "a/X_0001.xmp"],
        [card / "b/x_0001.jpg"],
        [card / "b/X_0002.JPG"],
    ]


def listing(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()
    }


def test_names_are_kept_and_a_clash_in_case_alone_gets_a_number(card: Path, tmp_path: Path) -> None:
    before, target = listing(card), tmp_path / "keepers"
    done = copying.copy(copying.plan(frames(card), target))
    assert listing(target) == {
        "X_0001.JPG": b"one", "X_0001.xmp": b"<x/>", "x_0001-2.jpg": b"other", "X_0002.JPG": b"two",
    }  # fmt: skip
    assert (len(done.copied), done.failed) == (4, [])
    assert listing(card) == before


def test_files_of_one_frame_get_the_same_number(card: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    target.mkdir()
    (target / "X_0001.xmp").write_bytes(b"another's")
    copying.copy(copying.plan(frames(card)[:1], target))
    assert listing(target) == {
        "X_0001.xmp": b"another's", "X_0001-2.JPG": b"one", "X_0001-2.xmp": b"<x/>",
    }  # fmt: skip


def test_a_second_run_finds_everything_there(card: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    copying.copy(copying.plan(frames(card), target))
    before = listing(target)
    done = copying.copy(copying.plan(frames(card), target))
    assert (len(done.copied), len(done.there_already)) == (0, 4)
    assert listing(target) == before


def test_a_scanned_folder_is_refused(card: Path) -> None:
    with pytest.raises(OutputError, match="never written to"):
        copying.plan(frames(card), card / "keepers", scanned=[str(card)])


def test_a_full_disk_is_told_before_anything_is_written(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        free = 2

    monkeypatch.setattr("shutil.disk_usage", lambda _place: Full)
    with pytest.raises(OutputError, match="are free"):
        copying.plan(frames(card), tmp_path / "keepers")
    assert not (tmp_path / "keepers").exists()


@pytest.mark.parametrize("step", ["fsync", "link"])
def test_cut_off_at_any_step_no_half_file_has_a_final_name_and_the_next_run_finishes(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    target = tmp_path / "keepers"
    original: Any = getattr(os, step)
    calls = iter(range(99))

    def dies_on_the_second(*arguments: Any) -> Any:
        if next(calls) == 1:
            raise KeyboardInterrupt
        return original(*arguments)

    monkeypatch.setattr(os, step, dies_on_the_second)
    with pytest.raises(KeyboardInterrupt):
        copying.copy(copying.plan(frames(card), target))
    assert set(listing(target).values()) <= {b"one", b"<x/>", b"other", b"two"}
    monkeypatch.setattr(os, step, original)
    copying.copy(copying.plan(frames(card), target))
    assert sorted(listing(target).values()) == sorted([b"one", b"<x/>", b"other", b"two"])


def test_one_that_cannot_be_written_is_listed_and_the_others_go_on(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = os.fsync
    calls = iter(range(99))

    def no_room(number: int) -> None:
        if next(calls) == 1:
            raise OSError(errno.ENOSPC, "No space left on device")
        original(number)

    monkeypatch.setattr(os, "fsync", no_room)
    done = copying.copy(copying.plan(frames(card), tmp_path / "keepers"))
    assert [reason for _path, reason in done.failed] == ["No space left on device"]
    assert len(done.copied) == 3
    assert not [name for name in listing(tmp_path / "keepers") if name.startswith(copying.UNFINISHED)]


def test_a_copy_that_reads_back_otherwise_is_not_kept(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(copying, "_digest", lambda _path: b"otherwise")
    done = copying.copy(copying.plan(frames(card)[2:], tmp_path / "keepers"))
    assert "differs from the original" in done.failed[0][1]
    assert listing(tmp_path / "keepers") == {}


def test_a_name_that_was_taken_meanwhile_is_not_overwritten(card: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    moves = copying.plan(frames(card)[2:], target)
    target.mkdir()
    (target / "X_0002.JPG").write_bytes(b"newer")
    done = copying.copy(moves)
    assert "taken this name" in done.failed[0][1]
    assert listing(target) == {"X_0002.JPG": b"newer"}


@pytest.mark.parametrize("name", ["カワセミ.JPG", "a\nb.JPG", "x" * 250 + ".JPG", "no_ending"])
def test_names_of_all_kinds(tmp_path: Path, name: str) -> None:
    source = tmp_path / "card" / name
    source.parent.mkdir()
    source.write_bytes(b"picture")
    copying.copy(copying.plan([[source]], tmp_path / "keepers"))
    assert listing(tmp_path / "keepers") == {name: b"picture"}
