"""A newcomer's odd cards and places: each gives one clear line, or the right answer."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.cli.program import error_line, run
from tests.faults.killing import FRAMES, ROOT
from tests.frame_files import Shot, write_frame


@pytest.fixture
def one(tmp_path: Path) -> Path:
    """A card with one frame."""
    folder = tmp_path / "one"
    folder.mkdir()
    shutil.copy2(FRAMES[0], folder / FRAMES[0].name)
    return folder


def audit(folder: object, tmp_path: Path) -> list[object]:
    book = ["--logbook", tmp_path / "book" / "logbook.sqlite"]
    return ["audit", folder, *book, "--into", tmp_path / "report", "--jobs", "1"]


@pytest.mark.parametrize("content", ["nothing", "videos"])
def test_a_card_without_pictures_is_one_line_and_promises_no_report(tmp_path: Path, content: str) -> None:
    folder = tmp_path / "card"
    folder.mkdir()
    if content == "videos":
        (folder / "MVI_0001.MP4").write_bytes(bytes(1000))
    done = run(*audit(folder, tmp_path))
    assert done.returncode == 1
    assert error_line(done) == (
        f"auditor: {folder}: no pictures in this folder or below it. Check the name, or mount the card."
    )
    assert not (tmp_path / "book").exists()


@pytest.mark.parametrize("command", ["audit", "scan", "inspect", "bench"])
def test_an_empty_name_is_not_the_current_folder(tmp_path: Path, command: str) -> None:
    done = run(command, "", "--logbook", tmp_path / "logbook.sqlite")
    assert done.returncode == 2
    assert "it is empty: name a file or a folder" in error_line(done)


def test_a_folder_named_twice_is_read_once(one: Path, tmp_path: Path) -> None:
    done = run("scan", one, one, one / ".." / "one", "--logbook", tmp_path / "logbook.sqlite")
    assert done.returncode == 0
    assert done.stdout == f"{one}: 1 file, 1 read, 0 unchanged\n"


def test_a_link_that_leads_in_a_circle_is_no_file_that_cannot_be_read(one: Path, tmp_path: Path) -> None:
    (one / "self").symlink_to("self")
    (one / "up").symlink_to("..")
    (one / "again").symlink_to(one)
    (one / "LOST.JPG").symlink_to("LOST.JPG")
    done = run("scan", one, "--logbook", tmp_path / "logbook.sqlite")
    assert done.returncode == 3
    *_counts, listed = done.stdout.strip().splitlines()
    assert listed == "  LOST.JPG: this file cannot be looked at (Too many levels of symbolic links)"


UNLIKE_ROOT = ["setpriv", "--bounding-set", "-dac_override,-dac_read_search"]
"""Permissions do not bind the user of a container, unless that right is taken from him: setpriv(1)."""


def bound(*words: object) -> subprocess.CompletedProcess[str]:
    if os.name == "nt" or (os.getuid() == 0 and shutil.which("setpriv") is None):
        pytest.skip("permissions do not bind here")
    command = [sys.executable, "-c", "from auditor.cli.main import main; main()", *map(str, words)]
    unlike_root = UNLIKE_ROOT if os.getuid() == 0 else []
    return subprocess.run([*unlike_root, *command], cwd=ROOT, capture_output=True, text=True, check=False)


def test_a_folder_that_may_not_be_read_says_so(one: Path, tmp_path: Path) -> None:
    one.chmod(0)
    try:
        done = bound(*audit(one, tmp_path))
    finally:
        one.chmod(0o700)
    assert done.returncode == 1
    assert error_line(done) == (
        f"auditor: {one}: cannot be listed (Permission denied). Check its permissions."
    )


def test_keepers_for_a_disk_that_can_only_be_read_is_one_line(
    one: Path, tmp_path: Path, disk: Callable[[int], Path]
) -> None:
    book = tmp_path / "logbook.sqlite"
    assert run("scan", one, "--logbook", book).returncode == 0
    place = disk(64)
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
    for words in (["copy"], ["link"], ["sidecars", "--write-rating", "3"]):
        every = ["--verdict", "miss", "--verdict", "hit", "--unclear", "--logbook", book]
        done = run("keepers", words[0], place / "keepers", *words[1:], *every)
        assert done.returncode == 1
        assert done.stderr.strip().splitlines()[-1] == (
            f"auditor: {place}/keepers: nothing can be written there (Read-only file system). "
            "Choose another folder."
        )


def test_where_no_frame_is_a_keeper_nothing_is_said_of_files(one: Path, tmp_path: Path) -> None:
    book = tmp_path / "logbook.sqlite"
    assert run("scan", one, "--logbook", book).returncode == 0
    done = run("keepers", "copy", tmp_path / "keepers", "--iso", "50", "--logbook", book)
    assert done.returncode == 0
    assert done.stdout == "Nothing to hand over.\n"
    assert not (tmp_path / "keepers").exists()


def test_a_frame_of_every_odd_name_is_handed_over(tmp_path: Path) -> None:
    names = [
        "it's \"a\" `heron`.JPG", "line\nbreak.JPG", "\U0001f985 emoji.JPG", "x" * 240 + ".JPG", " blank.JPG",
        "--option.JPG", "a;rm -rf $HOME.JPG", "<b>html&amp;.JPG", "100%s%d{}.JPG",
        "\u0639\u0631\u0628\u0649.JPG",
    ]  # fmt: skip
    folder, book = tmp_path / "card", tmp_path / "logbook.sqlite"
    folder.mkdir()
    for name, frame in zip(names, FRAMES, strict=False):
        shutil.copy2(frame, folder / name)
    assert run("scan", folder, "--logbook", book).returncode == 0
    done = run("keepers", "copy", tmp_path / "keepers", "--unclear", "--verdict", "miss", "--verdict", "hit",
               "--verdict", "unclear", "--logbook", book)  # fmt: skip
    assert done.returncode == 0
    assert sorted(path.name for path in (tmp_path / "keepers").iterdir()) == sorted(names)


def test_without_a_home_folder_a_logbook_must_be_named(
    one: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Python leaves "~" as it is where the system knows no home; a folder of that name would be made here."""
    monkeypatch.setattr(os.path, "expanduser", lambda path: path)
    for name in ("HOME", "XDG_DATA_HOME", "AUDITOR_LOGBOOK"):
        monkeypatch.delenv(name, raising=False)
    done = run("scan", one, cwd=tmp_path)
    assert done.returncode == 1
    assert error_line(done) == (
        "auditor: Your home folder is not known here, so there is no place for the logbook. "
        "Name one with --logbook."
    )
    assert not (tmp_path / "~").exists()


def test_a_picture_cut_short_is_told_alike_when_the_card_is_read_again(one: Path, tmp_path: Path) -> None:
    """Its metadata was read, so it is no file that could not be read, the second time either."""
    (one / FRAMES[1].name).write_bytes(FRAMES[1].read_bytes()[:9000])
    counts = ["2 files, 2 read, 0 unchanged", "2 files, 0 read, 2 unchanged"]
    for counted in counts:
        done = run(*audit(one, tmp_path))
        assert done.returncode == 3
        assert done.stdout.startswith(
            f"{one}: {counted}\n1 picture could not be decoded; metadata was read\n  {FRAMES[1].name}: "
        )
    scanned = run("scan", one, "--logbook", tmp_path / "book" / "logbook.sqlite")
    assert scanned.returncode == 3
    assert "1 picture could not be decoded; metadata was read" in scanned.stdout


def test_flags_of_a_card_without_a_converter_speak_of_none(one: Path, tmp_path: Path) -> None:
    assert run(*audit(one, tmp_path)).returncode == 0
    told = run("flags", "--logbook", tmp_path / "book" / "logbook.sqlite").stdout
    assert "Against the bare lens\n  No frame is known to be behind a converter.\n" in told


def test_a_very_long_folder_does_not_break_the_table(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    deep = "/".join(f"sorted in the tent by the light of a head torch {n}" for n in range(4))
    write_frame(tmp_path / "card" / deep / "100TEST" / "A_0001.JPG", Shot())
    run("scan", tmp_path / "card", "--logbook", tmp_path / "book.sqlite")
    # The logbook by a short name: a command that names it by a long one cannot be cut.
    lines = run("frames", "--logbook", "book.sqlite", cwd=tmp_path).stdout.splitlines()
    assert lines[0].startswith("2026-04-18, sorted in the tent")
    assert lines[0].endswith("head torch 3/100TEST")
    assert [line for line in lines if len(line) > 80] == []
