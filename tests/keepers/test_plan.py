"""The plan: names, clashes, room, and places that are never written to."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from auditor.errors import OutputError
from auditor.keepers.plan import plan
from tests.keepers.places import frames, listing, write_card


@pytest.fixture
def card(tmp_path: Path) -> Path:
    return write_card(tmp_path / "card")


def names(card: Path, folder: Path) -> list[str]:
    return [move.target.name for move in plan(frames(card), folder).moves]


def test_names_are_kept_and_a_clash_in_case_alone_gets_a_number(card: Path, tmp_path: Path) -> None:
    assert names(card, tmp_path / "keepers") == ["X_0001.JPG", "X_0001.xmp", "x_0001-2.jpg", "X_0002.JPG"]


def test_an_accent_written_in_two_ways_is_one_name(tmp_path: Path) -> None:
    composed, apart = tmp_path / "a" / "\u00e9.JPG", tmp_path / "b" / "e\u0301.JPG"
    for path in (composed, apart):
        path.parent.mkdir()
        path.write_bytes(path.parent.name.encode())
    moves = plan([[composed], [apart]], tmp_path / "keepers").moves
    assert [move.target.name for move in moves] == ["\u00e9.JPG", "e\u0301-2.JPG"]


def test_files_of_one_frame_get_the_same_number(card: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    target.mkdir()
    (target / "X_0001.xmp").write_bytes(b"another's")
    assert names(card, target)[:2] == ["X_0001-2.JPG", "X_0001-2.xmp"]


def test_two_files_of_one_name_in_a_frame_are_both_handed_over(card: Path, tmp_path: Path) -> None:
    pair = [card / "a/X_0001.JPG", card / "a/X_0001.xmp", card / "b/x_0001.jpg"]
    equal = card / "c/X_0001.JPG"
    equal.parent.mkdir()
    equal.write_bytes(b"one")
    moves = plan([[*pair, equal]], tmp_path / "keepers").moves
    assert [(move.target.name, move.there_already) for move in moves] == [
        ("X_0001.JPG", False), ("X_0001.xmp", False), ("x_0001-2.jpg", False), ("X_0001.JPG", True),
    ]  # fmt: skip


def test_what_is_a_link_to_the_original_is_no_copy_of_it(card: Path, tmp_path: Path) -> None:
    target = tmp_path / "keepers"
    target.mkdir()
    (target / "X_0002.JPG").symlink_to(card / "b/X_0002.JPG")
    (target / "x_0001.jpg").hardlink_to(card / "b/x_0001.jpg")
    moves = plan(frames(card)[1:], target).moves
    assert [(move.target.name, move.there_already) for move in moves] == [
        ("x_0001-2.jpg", False), ("X_0002-2.JPG", False),
    ]  # fmt: skip
    links = plan(frames(card)[1:], target, way="hard_link").moves
    assert [(move.target.name, move.there_already) for move in links] == [
        ("x_0001.jpg", True), ("X_0002-2.JPG", False),
    ]  # fmt: skip


def test_a_file_that_has_gone_is_listed_and_the_others_are_planned(card: Path, tmp_path: Path) -> None:
    gone = card / "a/X_0001.xmp"
    gone.unlink()
    made = plan(frames(card), tmp_path / "keepers")
    assert [path for path, _reason in made.left_out] == [gone]
    assert len(made.moves) == 3


def test_a_scanned_folder_is_refused_by_whatever_way_it_is_reached(card: Path, tmp_path: Path) -> None:
    (tmp_path / "link_to_card").symlink_to(card, target_is_directory=True)
    (tmp_path / "way").symlink_to(card / "a", target_is_directory=True)
    places = [card, card / "keepers", card / "a" / ".." / "keepers", tmp_path / "link_to_card" / "keepers"]
    for place in (*places, tmp_path / "way"):
        with pytest.raises(OutputError, match="never written to"):
            plan(frames(card), place, scanned=[str(card)])
    # Scanned by the name of a link, and reached by the folder's own name.
    with pytest.raises(OutputError, match="never written to"):
        plan([], card / "keepers", scanned=[str(tmp_path / "link_to_card")])
    # A folder that a link leads to was scanned with the folder that holds the link.
    with pytest.raises(OutputError, match="never written to"):
        plan(frames(card), card / "b" / "keepers")


def test_a_file_or_a_circle_is_no_folder(card: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_bytes(b"")
    (tmp_path / "circle").symlink_to(tmp_path / "circle")
    for name in ("file", "circle"):
        with pytest.raises(OutputError, match=name):
            plan(frames(card), tmp_path / name)


@pytest.mark.skipif(os.name == "nt", reason="names are text there")
def test_a_folder_whose_name_the_logbook_cannot_keep_is_refused(card: Path, tmp_path: Path) -> None:
    with pytest.raises(OutputError, match="UTF-8"):
        plan(frames(card), Path(os.fsdecode(os.fsencode(tmp_path) + b"/\xff")))


def test_a_full_disk_is_told_before_anything_is_written(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    class Full:
        free = 2

    monkeypatch.setattr("shutil.disk_usage", lambda _place: Full)
    with pytest.raises(OutputError, match="are free"):
        plan(frames(card), tmp_path / "keepers")
    assert len(plan(frames(card), tmp_path / "keepers", way="symbolic_link").moves) == 4
    assert "keepers" not in listing(tmp_path)


def test_what_is_there_from_a_run_before_needs_no_room(
    card: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A run that was cut off is finished by running it again, also where it has nearly filled the disk."""
    (tmp_path / "keepers").mkdir()
    for name in ("X_0001.JPG", "X_0001.xmp"):
        (tmp_path / "keepers" / name).write_bytes((card / "a" / name).read_bytes())

    class NearlyFull:
        free = len(b"other") + len(b"two")

    monkeypatch.setattr("shutil.disk_usage", lambda _place: NearlyFull)
    planned = plan(frames(card), tmp_path / "keepers")
    assert [move.there_already for move in planned.moves] == [True, True, False, False]
