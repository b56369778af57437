"""Names that are not UTF-8: stored so that they can be opened again, and shown without harm."""

from __future__ import annotations

import json
import os
import shutil
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.errors import OutputError
from auditor.file_names import as_path, as_text
from auditor.keepers.handover import hand_over
from auditor.keepers.plan import check_outside, plan_keepers
from auditor.keepers.undo import take_back
from auditor.store.frame_files import files_of
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from tests.cli.program import run
from tests.keepers.places import every_frame

SAMPLE = Path(__file__).parents[1] / "sample_images" / "DCIM" / "100SALT"
FOLDER = b"Urlaub_\xe4\xf6"
"""Umlauts in ISO 8859-1, as cards and archives of the nineties have them."""


@given(st.binary(min_size=1, max_size=40).filter(lambda name: b"\0" not in name))
def test_any_name_comes_back_and_its_text_is_unicode(name: bytes) -> None:
    path = os.fsdecode(name)
    text = as_text(path)
    assert text.encode("utf-8")
    assert str(as_path(text)) == str(Path(path))


@given(st.text(max_size=40))
def test_names_that_are_unicode_are_their_own_text(name: str) -> None:
    printable = name.encode("utf-8", "ignore").decode().replace("\N{REPLACEMENT CHARACTER}", "")
    assert as_text(printable) == printable


def test_a_byte_is_written_as_its_number() -> None:
    assert as_text(os.fsdecode(b"a\xe9.jpg")) == "a\N{REPLACEMENT CHARACTER}e9.jpg"
    assert as_text("\N{REPLACEMENT CHARACTER}e9") != as_text(os.fsdecode(b"\xe9"))


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    if sys.platform == "darwin" or os.name == "nt":
        pytest.skip("this system has no names that are not UTF-8")
    folder = Path(os.fsdecode(os.fsencode(tmp_path_factory.mktemp("card")) + b"/" + FOLDER))
    folder.mkdir()
    for number, path in enumerate(sorted(SAMPLE.glob("*.JPG"))[:8]):
        stem = os.fsencode(path.stem) if number else b"F\xfc_0412"
        shutil.copy2(path, Path(os.fsdecode(os.fsencode(folder) + b"/" + stem + b".JPG")))
    broken = os.fsencode(folder) + b"/kaputt_\xdf.JPG"
    Path(os.fsdecode(broken)).write_bytes(b"nothing")
    return folder


@pytest.fixture(scope="module")
def logbook(card: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("book")
    path = place / "logbook.sqlite"
    audited = ("audit", card.parent, "--logbook", path, "--into", place / "report", "--jobs", "1")
    done = run(*audited)
    assert done.returncode == 3, done.stderr  # the broken one
    return path


def test_every_frame_is_stored_measured_and_can_be_opened_again(card: Path, logbook: Path) -> None:
    with open_logbook(logbook) as book:
        rows = selected_frames(book)
        assert len(rows) == 8
        assert all(row.measured_on == "jpeg" for row in rows)
        assert all(as_path(str(row.path)).is_file() for row in rows)
        ((path,),) = files_of(book, [next(row.frame_id for row in rows if "_0412" in str(row.path))])
        assert path.read_bytes() == (SAMPLE / "F2A_0412.JPG").read_bytes()
    outcome = json.loads(run("scan", card, "--logbook", logbook, "--json").stdout)["folders"][0]
    assert (outcome["read"], outcome["gone"], len(outcome["unreadable"])) == (0, 0, 1)


@pytest.mark.parametrize(
    "arguments",
    [
        ["frames"], ["frames", "--json"], ["frames", "--csv"], ["flags"], ["flags", "--json"], ["kits"],
        ["check"], ["check", "--json"], ["keepers"], ["keepers", "--json"],
        ["report", "--format", "html,csv,json"], ["declare", "list"],
    ],
)  # fmt: skip
def test_commands_show_such_names(logbook: Path, tmp_path: Path, arguments: list[str]) -> None:
    more = ["--into", tmp_path / "report"] if arguments[0] == "report" else []
    done = run(*arguments, *more, "--logbook", logbook)
    assert done.returncode in (0, 3), done.stderr
    for page in tmp_path.rglob("*.*"):
        assert page.read_text(encoding="utf-8") or page.suffix == ".parquet"


def test_inspect_takes_such_a_name(card: Path) -> None:
    path = next(path for path in card.iterdir() if "_0412" in str(path))
    for more in ([], ["--json"]):
        done = run("inspect", path, *more)
        assert done.returncode == 0, done.stderr


def test_keepers_copies_such_a_file_under_its_own_name(card: Path, logbook: Path, tmp_path: Path) -> None:
    target = tmp_path / "kept"
    with open_logbook(Path(shutil.copy2(logbook, tmp_path / "logbook.sqlite"))) as book:
        copying = plan_keepers(book, every_frame(book), target)
        done = hand_over(book, copying)
        assert (len(done.made), done.failed) == (8, [])
        made = {path.name: path for path in target.iterdir()}
        assert any("�" not in name and "_0412" in name for name in made)
        assert all(path.read_bytes() == (card / name).read_bytes() for name, path in made.items())
        assert done.receipt_id is not None
        taken = take_back(book, done.receipt_id)
        assert len(taken.removed) == 8
    assert not target.exists()


def test_nothing_is_handed_over_into_such_a_scanned_folder(card: Path) -> None:
    with pytest.raises(OutputError, match="never written to"):
        check_outside(card / "kept", [as_text(card)])


def test_excluding_and_dropping_such_a_folder(card: Path, logbook: Path, tmp_path: Path) -> None:
    book = Path(shutil.copy2(logbook, tmp_path / "logbook.sqlite"))
    done = run("declare", "exclude", card, "--logbook", book)
    assert done.returncode == 0, done.stderr
    with open_logbook(book) as opened:
        assert opened.query("SELECT count(*) FROM inferred WHERE excluded")[0][0] == 8
    done = run("drop", card, "--logbook", book)
    assert done.returncode == 0, done.stderr
    with open_logbook(book) as opened:
        assert selected_frames(opened) == []
