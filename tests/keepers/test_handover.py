"""Handing over: verified bytes, links, full and read-only disks, names of all kinds."""

from __future__ import annotations

import errno
import os
import shutil
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import LogbookError, StoppedError
from auditor.keepers import files, handover
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import plan
from auditor.keepers.undo import take_back
from auditor.store import receipts
from auditor.store.logbook import Logbook
from tests.keepers.places import CARD, frames, listing, planned, write_place

WHOLE = {"X_0001.JPG": b"one", "X_0001.xmp": b"<x/>", "x_0001-2.jpg": b"other", "X_0002.JPG": b"two"}


@pytest.fixture
def small_disk(disk: Callable[[int], Path]) -> Path:
    return disk(64)


def test_every_file_has_its_name_its_bytes_and_its_time(card: Path, book: Logbook, tmp_path: Path) -> None:
    os.utime(card / "b/X_0002.JPG", (1_700_000_000, 1_700_000_000))
    done = hand_over(book, plan(frames(card), tmp_path / "keepers"))
    assert listing(tmp_path / "keepers") == WHOLE
    assert (len(done.made), done.failed, done.receipt_id) == (4, [], 1)
    assert (tmp_path / "keepers" / "X_0002.JPG").stat().st_mtime == 1_700_000_000
    assert {name: what for name, what in listing(card).items() if what is not None} == CARD


def test_a_receipt_says_what_where_hash_and_when(card: Path, book: Logbook, tmp_path: Path) -> None:
    from xxhash import xxh3_128_hexdigest

    hand_over(book, plan(frames(card)[2:], tmp_path / "keepers"))
    (receipt,) = receipts.all_receipts(book)
    assert (receipt.what, receipt.folder, receipt.files) == ("copy", str(tmp_path / "keepers"), 1)
    assert receipt.finished_at is not None
    file, folder = receipts.still_there(book, 1)
    assert (file.path, file.source) == (tmp_path / "keepers" / "X_0002.JPG", card / "b/X_0002.JPG")
    assert file.hash == xxh3_128_hexdigest(b"two")
    assert file.made_at is not None
    assert (folder.path, folder.is_folder) == (tmp_path / "keepers", True)


def test_a_second_run_finds_everything_there_and_keeps_no_receipt(
    card: Path, book: Logbook, tmp_path: Path
) -> None:
    hand_over(book, plan(frames(card), tmp_path / "keepers"))
    done = hand_over(book, plan(frames(card), tmp_path / "keepers"))
    assert (done.made, len(done.there_already), done.receipt_id) == ([], 4, None)
    assert listing(tmp_path / "keepers") == WHOLE
    assert len(receipts.all_receipts(book)) == 1


def test_hard_links_are_the_same_file_and_symbolic_links_lead_to_it(
    card: Path, book: Logbook, tmp_path: Path
) -> None:
    for way in ("hard_link", "symbolic_link"):
        target = tmp_path / way
        assert hand_over(book, plan(frames(card), target, way=way)).failed == []
        assert {name: (target / name).read_bytes() for name in WHOLE} == WHOLE
        for path in target.iterdir():
            assert path.is_symlink() is (way == "symbolic_link")
            assert any(path.samefile(original) for files in frames(card) for original in files)
        again = hand_over(book, plan(frames(card), target, way=way))
        assert (again.made, len(again.there_already)) == ([], 4)


@pytest.mark.parametrize(
    ("way", "call", "number", "told"),
    [
        ("hard_link", "link", errno.EXDEV, "another disk"),
        ("hard_link", "link", errno.EPERM, "cannot make a hard link"),
        ("symbolic_link", "symlink", errno.EOPNOTSUPP, "cannot make a symbolic link"),
    ],
)
def test_a_disk_that_cannot_link_is_told_in_one_clear_line_and_nothing_is_left(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Any, call: str,
    number: int, told: str,
) -> None:  # fmt: skip
    def refuse(*_arguments: Any, **_more: Any) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, call, refuse)
    done = hand_over(book, plan(frames(card), tmp_path / "keepers", way=way))
    assert len(done.failed) == 4
    assert all(told in reason for _path, reason in done.failed)
    assert not (tmp_path / "keepers").exists()
    assert receipts.all_receipts(book) == []


def test_a_disk_without_links_gets_copies_all_the_same(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refuse(*_arguments: Any) -> None:
        raise OSError(errno.EPERM, "Operation not permitted")

    monkeypatch.setattr(os, "link", refuse)
    assert hand_over(book, plan(frames(card), tmp_path / "keepers")).failed == []
    assert listing(tmp_path / "keepers") == WHOLE


def test_stopped_by_the_photographer_it_keeps_its_receipt_and_goes_on(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original, calls = files.name_finally, iter(range(99))

    def stopped(*arguments: Any) -> None:
        if next(calls) == 2:
            raise KeyboardInterrupt
        original(*arguments)

    monkeypatch.setattr(files, "name_finally", stopped)
    with pytest.raises(StoppedError, match="Stopped after 2 files"):
        hand_over(book, plan(frames(card), tmp_path / "keepers"))
    assert not [name for name in listing(tmp_path / "keepers") if name.startswith(files.UNFINISHED)]
    monkeypatch.undo()
    assert hand_over(book, plan(frames(card), tmp_path / "keepers")).receipt_id == 1
    assert listing(tmp_path / "keepers") == WHOLE
    take_back(book, 1)
    assert not (tmp_path / "keepers").exists()


def test_one_that_cannot_be_read_is_listed_and_the_others_go_on(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = files._copy_hashed

    def torn(source: Path, target: Path) -> str:
        result = original(source, target)
        if source.name == "X_0001.xmp":
            raise OSError(errno.EIO, "Input/output error")
        return result

    monkeypatch.setattr(files, "_copy_hashed", torn)
    done = hand_over(book, plan(frames(card), tmp_path / "keepers"))
    assert done.failed == [(card / "a/X_0001.xmp", "Input/output error")]
    assert listing(tmp_path / "keepers") == {n: w for n, w in WHOLE.items() if n != "X_0001.xmp"}
    assert receipts.all_receipts(book)[0].files == 3


@pytest.mark.parametrize("way", ["copy", "sidecar"])
@pytest.mark.parametrize("step", range(4))
def test_a_disk_that_fills_up_at_any_write_stops_the_run_and_names_no_half_file(
    book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, way: Any, step: int
) -> None:
    write_place(tmp_path)
    before = listing(tmp_path / "keepers")
    original, calls = os.fsync, iter(range(99))

    def no_room(number: int) -> None:
        if next(calls) >= step:
            os.ftruncate(number, 1)  # what a full disk leaves
            raise OSError(errno.ENOSPC, "No space left on device")
        original(number)

    monkeypatch.setattr(os, "fsync", no_room)
    monkeypatch.setattr(handover, "AT_ONCE", 1)
    made = planned(tmp_path, way)
    done = hand_over(book, made)
    wanted = len(made.moves)
    assert len(done.made) == min(step, wanted)
    assert [reason for _path, reason in done.failed] == ["No space left on device"] * (
        wanted - len(done.made)
    )
    named = listing(tmp_path / "keepers")
    assert not [name for name in named if files.UNFINISHED in name]
    assert {name for name, what in named.items() if what is not None and len(what) < 2} == set()
    monkeypatch.undo()
    assert hand_over(book, planned(tmp_path, way)).failed == []
    for receipt in reversed(receipts.all_receipts(book)):
        assert take_back(book, receipt.receipt_id).left == []
    assert listing(tmp_path / "keepers") == before


def test_a_real_disk_that_is_full(book: Logbook, tmp_path: Path, small_disk: Path) -> None:
    sources = []
    for number in range(8):
        sources.append([tmp_path / "card" / f"{number}.JPG"])
        sources[-1][0].parent.mkdir(exist_ok=True)
        sources[-1][0].write_bytes(bytes([number]) * 12_000)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(
            "auditor.keepers.plan.check_room", lambda *_: None
        )  # it filled up after it was looked at
        made = plan(sources, small_disk / "keepers")
    done = hand_over(book, made)
    assert done.made
    assert done.failed
    assert {reason for _path, reason in done.failed} == {"No space left on device"}
    assert {path.stat().st_size for path in (small_disk / "keepers").iterdir()} == {12_000}
    take_back(book, 1)
    assert listing(small_disk) == {}


def test_a_read_only_disk_gets_nothing_and_everything_is_listed(
    card: Path, book: Logbook, small_disk: Path
) -> None:
    made = plan(frames(card), small_disk / "keepers")
    subprocess.run(["mount", "-o", "remount,ro", str(small_disk)], check=True)
    done = hand_over(book, made)
    assert [path for path, _reason in done.failed] == [path for one in frames(card) for path in one]
    assert listing(small_disk) == {}
    assert receipts.all_receipts(book) == []


def test_a_folder_that_is_unplugged_meanwhile_leaves_a_receipt_of_what_was_done(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original, target = files.name_finally, tmp_path / "keepers"

    def unplugged(unfinished: Path, name: Path) -> None:
        original(unfinished, name)
        target.rename(tmp_path / "away")

    monkeypatch.setattr(files, "name_finally", unplugged)
    monkeypatch.setattr(handover, "AT_ONCE", 1)
    done = hand_over(book, plan(frames(card), target))
    assert (len(done.made), len(done.failed)) == (1, 3)
    monkeypatch.undo()
    (tmp_path / "away").rename(target)
    assert len(hand_over(book, plan(frames(card), target)).made) == 3
    assert {name: what for name, what in listing(target).items() if files.UNFINISHED not in name} == WHOLE


def test_a_copy_that_reads_back_otherwise_is_not_kept(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original = files._copy_hashed

    def flipped(source: Path, target: Path) -> str:
        result = original(source, target)
        target.write_bytes(b"tw0")
        return result

    monkeypatch.setattr(files, "_copy_hashed", flipped)
    done = hand_over(book, plan(frames(card)[2:], tmp_path / "keepers"))
    assert "differs from the original" in done.failed[0][1]
    assert "keepers" not in listing(tmp_path)


def test_a_name_that_was_taken_meanwhile_is_not_overwritten(
    card: Path, book: Logbook, tmp_path: Path
) -> None:
    target = tmp_path / "keepers"
    for way in ("copy", "hard_link", "symbolic_link"):
        shutil.rmtree(target, ignore_errors=True)
        made = plan(frames(card)[2:], target, way=way)
        target.mkdir()
        (target / "X_0002.JPG").write_bytes(b"newer")
        done = hand_over(book, made)
        assert "taken this name" in done.failed[0][1]
        assert listing(target) == {"X_0002.JPG": b"newer"}


def test_nothing_is_made_without_a_receipt(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_room(*_arguments: Any) -> None:
        raise LogbookError("the disk is full")

    monkeypatch.setattr(receipts, "note_made", no_room)
    with pytest.raises(LogbookError, match="full"):
        hand_over(book, plan(frames(card), tmp_path / "keepers"))
    assert listing(tmp_path / "keepers") == {}


def test_two_runs_into_one_folder_the_second_is_told(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    original, calls = files.name_finally, iter(range(99))

    def another_begins(*arguments: Any) -> None:
        original(*arguments)
        if next(calls) == 0:
            receipts.begin(book, "copy", str(tmp_path / "keepers"))

    monkeypatch.setattr(files, "name_finally", another_begins)
    with pytest.raises(LogbookError, match="Another run"):
        hand_over(book, plan(frames(card), tmp_path / "keepers"))
    assert list(listing(tmp_path / "keepers")) == ["X_0001.JPG"]
    assert receipts.all_receipts(book)[0].files == 1


@pytest.mark.parametrize("way", ["copy", "hard_link", "symbolic_link"])
@pytest.mark.parametrize(
    "name", ["カワセミ.JPG", "зимородок.JPG", "a\nb.JPG", "x" * 246 + ".JPG", "no_ending"]
)
def test_names_of_all_kinds_there_and_back(book: Logbook, tmp_path: Path, name: str, way: Any) -> None:
    source = tmp_path / "card" / name
    source.parent.mkdir()
    source.write_bytes(b"picture")
    hand_over(book, plan([[source]], tmp_path / "keepers", way=way))
    assert (tmp_path / "keepers" / name).read_bytes() == b"picture"
    take_back(book, 1)
    assert listing(tmp_path).keys() >= {f"card/{name}"}
    assert not (tmp_path / "keepers").exists()


def test_a_name_that_gets_too_long_by_its_number_is_listed(book: Logbook, tmp_path: Path) -> None:
    sources = [tmp_path / folder / ("x" * 251 + ".JPG") for folder in ("a", "b")]
    for number, source in enumerate(sources):
        source.parent.mkdir()
        source.write_bytes(b"%d" % number)
    done = hand_over(book, plan([[source] for source in sources], tmp_path / "keepers"))
    assert done.failed == [(sources[1], "its name, with a number, is too long for this disk")]
    assert list(listing(tmp_path / "keepers").values()) == [b"0"]


def test_a_path_of_many_folders(card: Path, book: Logbook, tmp_path: Path) -> None:
    target = tmp_path.joinpath(*["long_folder_name"] * 15)
    assert len(str(target)) > 250
    assert hand_over(book, plan(frames(card), target)).failed == []
    assert listing(target) == WHOLE
    take_back(book, 1)
    assert "long_folder_name" not in listing(tmp_path)
