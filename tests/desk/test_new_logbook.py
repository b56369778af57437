"""A desk begins no logbook where frames lie: what is read is never written to."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.errors import LogbookError
from auditor.jobs import cards
from tests.cli.program import run


def refused(logbook: Path, *folders: Path) -> str:
    """What is said in place of a desk; nothing is written."""
    before = sorted(path for folder in folders for path in folder.rglob("*"))
    ended = run("desk", "--no-browser", "--logbook", logbook)
    assert ended.returncode == 1
    assert sorted(path for folder in folders for path in folder.rglob("*")) == before
    return ended.stderr


@pytest.mark.parametrize("place", ["", "DCIM", "DCIM/100SALT", "DCIM/100SALT/book"])
def test_a_card_gets_no_logbook(tmp_path: Path, place: str) -> None:
    card = tmp_path / "card"
    (card / "DCIM" / "100SALT").mkdir(parents=True)
    (card / "DCIM" / "100SALT" / "A1.JPG").write_bytes(b"x")
    said = refused(card / place / "logbook.sqlite", card)
    assert "a new logbook would lie among the pictures in" in said
    assert said.count("\n") == 1


def test_a_folder_of_frames_gets_none(tmp_path: Path) -> None:
    folder = tmp_path / "trip"
    folder.mkdir()
    (folder / "A1.NEF").write_bytes(b"x")
    assert f"among the pictures in {folder}," in refused(folder / "logbook.sqlite", folder)


def test_a_folder_beside_frames_may_have_one(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "trip").mkdir()
    (tmp_path / "trip" / "A1.JPG").write_bytes(b"x")
    (tmp_path / "notes.xmp").write_bytes(b"x")
    monkeypatch.setattr(cards, "cards", list)
    cards.refuse_among_pictures(tmp_path / "book" / "logbook.sqlite")
    cards.refuse_among_pictures(tmp_path / "logbook.sqlite")


def test_a_card_that_is_plugged_in_gets_none_anywhere_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "DCIM").mkdir()
    monkeypatch.setattr(cards, "cards", lambda: [tmp_path])
    with pytest.raises(LogbookError, match="among the pictures"):
        cards.refuse_among_pictures(tmp_path / "mine" / "book" / "logbook.sqlite")
