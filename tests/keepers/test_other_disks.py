"""Handing over to a disk that takes only names that Windows allows: exFAT, NTFS, shares."""

from __future__ import annotations

import errno
from pathlib import Path

import pytest

from auditor.keepers import files, plan, sidecars
from auditor.keepers.handover import hand_over
from auditor.keepers.undo import take_back
from auditor.store.logbook import Logbook
from tests.keepers.places import listing

CARD = {
    "heron 10:30.JPG": b"one",
    "heron 10:30.xmp": b"<x/>",
    "heron 10_30.JPG": b"two",
    "CON.JPG": b"three",
    "what?.": b"four",
}


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    folder.mkdir()
    for name, data in CARD.items():
        (folder / name).write_bytes(data)
    return folder


@pytest.fixture
def windows_disk(monkeypatch: pytest.MonkeyPatch) -> None:
    for module in (plan, sidecars):
        monkeypatch.setattr(module, "needs_windows_names", lambda _path: True)


def frames(card: Path) -> list[list[Path]]:
    heron = [card / "heron 10:30.JPG", card / "heron 10:30.xmp"]
    return [heron, [card / "heron 10_30.JPG"], [card / "CON.JPG"], [card / "what?."]]


@pytest.mark.usefixtures("windows_disk")
def test_names_that_the_disk_refuses_are_changed_and_a_frame_keeps_its_files_together(
    card: Path, book: Logbook, tmp_path: Path
) -> None:
    target = tmp_path / "keepers"
    done = hand_over(book, plan.plan(frames(card), target))
    assert done.failed == []
    assert listing(target) == {
        "heron 10_30.JPG": b"one",
        "heron 10_30.xmp": b"<x/>",
        "heron 10_30-2.JPG": b"two",
        "CON_.JPG": b"three",
        "what__": b"four",
    }
    again = hand_over(book, plan.plan(frames(card), target))
    assert (len(again.there_already), again.made) == (5, [])
    assert take_back(book, 1).left == []
    assert not target.exists()


def test_on_other_disks_names_stay_as_they_are(card: Path, tmp_path: Path) -> None:
    moves = plan.plan(frames(card), tmp_path / "keepers").moves
    assert [move.target.name for move in moves] == list(CARD)


def test_a_disk_that_refuses_a_name_is_told_in_one_clear_line(
    card: Path, book: Logbook, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As Linux says of a name that exFAT does not take, on a disk whose kind the system does not tell."""
    original = files.name_finally

    def refused(unfinished: Path, target: Path) -> None:
        if ":" in target.name:
            raise OSError(errno.EINVAL, "Invalid argument")
        original(unfinished, target)

    monkeypatch.setattr(files, "name_finally", refused)
    done = hand_over(book, plan.plan(frames(card), tmp_path / "keepers"))
    assert {path.name for path, _reason in done.failed} == {"heron 10:30.JPG", "heron 10:30.xmp"}
    assert {reason for _path, reason in done.failed} == {
        "this disk refused it, most likely for a letter in its name (Invalid argument)"
    }
    assert len(done.made) == 3
