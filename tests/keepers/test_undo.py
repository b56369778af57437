"""Taking back: exactly what was made; what was changed since, or is the only one left, stays."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from auditor.errors import LogbookError
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import plan
from auditor.keepers.undo import take_back
from auditor.store import receipts
from auditor.store.logbook import Logbook
from tests.keepers.places import frames, listing, sidecars, write_place


def reasons(result: Any) -> dict[str, str]:
    return {path.name: reason for path, reason in result.left}


@pytest.mark.parametrize("way", ["copy", "hard_link", "symbolic_link"])
def test_files_of_others_stay_and_so_does_their_folder(
    card: Path, book: Logbook, tmp_path: Path, way: Any
) -> None:
    hand_over(book, plan(frames(card), tmp_path / "keepers", way=way))
    (tmp_path / "keepers" / "notes.txt").write_bytes(b"mine")
    result = take_back(book, 1)
    assert (len(result.removed), result.left, result.folders_left) == (4, [], [tmp_path / "keepers"])
    assert listing(tmp_path / "keepers") == {"notes.txt": b"mine"}
    (tmp_path / "keepers" / "notes.txt").unlink()
    take_back(book, 1)
    assert not (tmp_path / "keepers").exists()
    with pytest.raises(LogbookError, match="was taken back"):
        take_back(book, 1)


def test_a_copy_changed_since_stays_until_that_is_settled(card: Path, book: Logbook, tmp_path: Path) -> None:
    hand_over(book, plan(frames(card), tmp_path / "keepers"))
    edited = tmp_path / "keepers" / "X_0001.JPG"
    edited.write_bytes(b"One")  # of the same length
    assert reasons(take_back(book, 1)) == {"X_0001.JPG": "changed since it was made"}
    assert listing(tmp_path / "keepers") == {"X_0001.JPG": b"One"}
    assert receipts.find(book, 1).files == 1
    edited.rename(tmp_path / "edited.JPG")
    assert take_back(book, 1).left == []
    assert not (tmp_path / "keepers").exists()


@pytest.mark.parametrize("way", ["copy", "hard_link"])
def test_a_file_whose_original_has_gone_is_never_removed(
    card: Path, book: Logbook, tmp_path: Path, way: Any
) -> None:
    hand_over(book, plan(frames(card), tmp_path / "keepers", way=way))
    (card / "b/X_0002.JPG").unlink()
    (card / "b/x_0001.jpg").unlink()
    (card / "b/x_0001.jpg").write_bytes(b"OTHER")
    left = reasons(take_back(book, 1))
    assert "may be the only one" in left["X_0002.JPG"]
    assert set(left) == {"X_0002.JPG", "x_0001-2.jpg"}
    assert listing(tmp_path / "keepers") == {"X_0002.JPG": b"two", "x_0001-2.jpg": b"other"}


def test_a_link_that_was_replaced_by_a_file_stays(card: Path, book: Logbook, tmp_path: Path) -> None:
    hand_over(book, plan(frames(card)[2:], tmp_path / "keepers", way="symbolic_link"))
    link = tmp_path / "keepers" / "X_0002.JPG"
    link.unlink()
    link.write_bytes(b"two")
    assert reasons(take_back(book, 1)) == {"X_0002.JPG": "changed since it was made"}


def test_a_link_whose_original_has_gone_is_removed(card: Path, book: Logbook, tmp_path: Path) -> None:
    hand_over(book, plan(frames(card)[2:], tmp_path / "keepers", way="symbolic_link"))
    (card / "b/X_0002.JPG").unlink()
    assert take_back(book, 1).left == []
    assert not (tmp_path / "keepers").exists()


def test_files_that_were_removed_by_hand_are_told(card: Path, book: Logbook, tmp_path: Path) -> None:
    hand_over(book, plan(frames(card), tmp_path / "keepers"))
    (tmp_path / "keepers" / "X_0002.JPG").unlink()
    result = take_back(book, 1)
    assert (len(result.removed), [path.name for path in result.gone_already]) == (3, ["X_0002.JPG"])


def test_what_a_later_receipt_made_anew_is_taken_back_with_that_one(
    card: Path, book: Logbook, tmp_path: Path
) -> None:
    hand_over(book, plan(frames(card)[2:], tmp_path / "keepers"))
    (tmp_path / "keepers" / "X_0002.JPG").unlink()
    hand_over(book, plan(frames(card)[2:], tmp_path / "keepers"))
    assert "receipt 2" in reasons(take_back(book, 1))["X_0002.JPG"]
    assert listing(tmp_path / "keepers") == {"X_0002.JPG": b"two"}
    take_back(book, 2)
    take_back(book, 1)
    assert not (tmp_path / "keepers").exists()


def test_a_sidecar_is_again_as_it_was_and_one_that_was_changed_since_stays(
    book: Logbook, tmp_path: Path
) -> None:
    write_place(tmp_path)
    before = listing(tmp_path / "keepers")
    hand_over(book, sidecars(tmp_path / "keepers"))
    after = listing(tmp_path / "keepers")
    assert after["old.xmp.before-1"] == before["old.xmp"] != after["old.xmp"]
    written = after["old.xmp"]
    assert isinstance(written, bytes)
    (tmp_path / "keepers" / "old.xmp").write_bytes(b"mine now")
    assert "old.xmp.before-1" in reasons(take_back(book, 1))["old.xmp"]
    (tmp_path / "keepers" / "old.xmp").write_bytes(written)
    result = take_back(book, 1)
    assert ([path.name for path in result.restored], result.left) == (["old.xmp"], [])
    assert listing(tmp_path / "keepers") == before


def test_a_backup_that_is_gone_or_was_changed_restores_nothing(book: Logbook, tmp_path: Path) -> None:
    write_place(tmp_path)
    hand_over(book, sidecars(tmp_path / "keepers"))
    written = (tmp_path / "keepers" / "old.xmp").read_bytes()
    (tmp_path / "keepers" / "old.xmp.before-1").write_bytes(b"otherwise")
    assert "cannot be restored" in reasons(take_back(book, 1))["old.xmp"]
    (tmp_path / "keepers" / "old.xmp.before-1").unlink()
    assert "cannot be restored" in reasons(take_back(book, 1))["old.xmp"]
    assert (tmp_path / "keepers" / "old.xmp").read_bytes() == written


def test_no_receipt_of_that_number(book: Logbook) -> None:
    with pytest.raises(LogbookError, match="keepers receipts"):
        take_back(book, 7)
