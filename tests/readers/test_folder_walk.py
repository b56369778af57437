"""The walk through a folder: what it finds, in which order, and what it survives."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.readers.folder import entries, utc_text, utc_texts, walk
from auditor.records import ReadFailure


def names(folder: Path) -> list[str]:
    return [Path(found.path).relative_to(folder).as_posix() for found in walk(folder)]


def touch(folder: Path, *places: str) -> None:
    for place in places:
        (folder / place).parent.mkdir(parents=True, exist_ok=True)
        (folder / place).write_bytes(b"x")


def linked(place: Path, target: Path) -> None:
    try:
        place.symlink_to(target, target_is_directory=True)
    except OSError:
        pytest.skip("this system does not let us make links")


def test_finds_pictures_and_sidecars_of_every_known_kind_and_nothing_else(tmp_path: Path) -> None:
    touch(tmp_path, "a.JPG", "b.cr3", "c.Nef", "d.hif", "e.tiff", "f.NEF.xmp", "notes.txt", "clip.mov", "jpg")
    roles = {Path(found.path).name: found.role for found in walk(tmp_path)}
    assert roles == {
        "a.JPG": "jpeg",
        "b.cr3": "raw",
        "c.Nef": "raw",
        "d.hif": "heif",
        "e.tiff": "tiff",
        "f.NEF.xmp": "sidecar",
    }


def test_what_holds_no_photograph_is_told_of_and_what_cameras_keep_beside_it_is_not(tmp_path: Path) -> None:
    """The folders that cameras make by DCF and AVCHD, and what systems and programs leave in them."""
    touch(
        tmp_path,
        "DCIM/100TEST/a.JPG", "DCIM/100TEST/b.MP4", "DCIM/100TEST/b.THM", "DCIM/100TEST/B.mp4.jpg",
        "PRIVATE/AVCHD/BDMV/STREAM/00000.MTS", "PRIVATE/AVCHD/BDMV/INDEX.BDM", "DCIM/100TEST/c.WAV",
        "DCIM/100TEST/._b.MP4", "System Volume Information/d.mov", "Thumbs.db", "a.JPG.xmp", "mp4", "Mov",
        "notes.txt", "e.mp4",
    )  # fmt: skip
    (tmp_path / "folder.mov").mkdir()
    told: list[str] = []
    read = list(entries(tmp_path, on_passed_over=told.append))
    assert sorted(told) == ["mp4", "mp4", "mts", "wav"]
    assert len(read) == 3


def test_order_is_by_name_byte_by_byte_files_before_the_folders_below(tmp_path: Path) -> None:
    touch(tmp_path, "b/2.jpg", "b/10.jpg", "a/é.jpg", "a/z.jpg", "Z.jpg", "B/1.jpg")
    expected = ["Z.jpg", "B/1.jpg", "a/z.jpg", "a/é.jpg", "b/10.jpg", "b/2.jpg"]
    if (tmp_path / "A").exists():
        pytest.skip("this disk does not tell B from b")
    assert names(tmp_path) == expected


def test_hidden_and_system_places_are_left_out(tmp_path: Path) -> None:
    touch(
        tmp_path,
        "._frame.jpg",
        ".Trashes/1.jpg",
        "System Volume Information/2.jpg",
        "$RECYCLE.BIN/3.jpg",
        "__MACOSX/4.jpg",
        "trip/5.jpg",
    )
    assert names(tmp_path) == ["trip/5.jpg"]


def test_no_folder_is_entered_twice_whatever_links_lead_to_it(tmp_path: Path) -> None:
    touch(tmp_path, "card/1.jpg", "card/deep/2.jpg")
    linked(tmp_path / "card" / "deep" / "up", tmp_path)
    linked(tmp_path / "again", tmp_path / "card")
    # By their own names, though "again" comes first.
    assert names(tmp_path) == ["card/1.jpg", "card/deep/2.jpg"]


def test_a_linked_folder_elsewhere_is_followed(tmp_path: Path) -> None:
    touch(tmp_path, "other/1.jpg", "trip/2.jpg")
    linked(tmp_path / "trip" / "more", tmp_path / "other")
    assert names(tmp_path / "trip") == ["2.jpg", "more/1.jpg"]


def test_a_folder_that_cannot_be_listed_is_told_and_the_walk_goes_on(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    touch(tmp_path, "a/1.jpg", "b/2.jpg", "c/3.jpg")
    listing = os.scandir

    def refused(path: str) -> Iterator[os.DirEntry[str]]:
        if Path(path).name == "b":
            raise PermissionError(13, "Permission denied")
        return listing(path)

    monkeypatch.setattr(os, "scandir", refused)
    problems: list[ReadFailure] = []
    found = [Path(file.path).name for file in walk(tmp_path, on_problem=problems.append)]
    assert found == ["1.jpg", "3.jpg"]
    assert [(Path(problem.path).name, problem.stage) for problem in problems] == [("b", "open")]
    assert "cannot be listed" in problems[0].reason


def test_a_link_to_nothing_is_told(tmp_path: Path) -> None:
    touch(tmp_path, "1.jpg")
    linked(tmp_path / "gone.jpg", tmp_path / "nowhere")
    problems: list[ReadFailure] = []
    assert [Path(file.path).name for file in walk(tmp_path, on_problem=problems.append)] == ["1.jpg"]
    assert [Path(problem.path).name for problem in problems] == ["gone.jpg"]


@pytest.mark.skipif(sys.platform == "win32", reason="Windows has no such files")
def test_a_pipe_with_the_name_of_a_picture_is_not_opened(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.jpg")
    assert names(tmp_path) == []


def test_size_and_time_are_those_of_the_file(tmp_path: Path) -> None:
    (tmp_path / "1.jpg").write_bytes(b"12345")
    # 2026-05-03T06:41:09 UTC is 1777790469 s after 1970 (date -u -d @1777790469).
    os.utime(tmp_path / "1.jpg", ns=(0, 1_777_790_469_250_001_000))
    (found,) = walk(tmp_path)
    assert found.size_bytes == 5
    assert found.modified_at == "2026-05-03T06:41:09.250001+00:00"
    assert Path(found.path).is_absolute()


@pytest.mark.parametrize(
    ("time_ns", "text"),
    [
        (0, "1970-01-01T00:00:00.000000+00:00"),
        (-1_000_000_000, "1969-12-31T23:59:59.000000+00:00"),
        (10**22, "1970-01-01T00:00:00.000000+00:00"),
    ],
)
def test_odd_times_of_a_damaged_disk_are_still_text(time_ns: int, text: str) -> None:
    assert utc_text(time_ns) == text
    assert utc_texts([1_000, time_ns]) == ["1970-01-01T00:00:00.000001+00:00", text]


def test_a_large_folder_is_walked_some_files_at_a_time(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    names = ["B1.JPG", "B2.JPG", "B3.JPG", "B4.JPG", "B5.JPG"]
    for name in names:
        (tmp_path / name).write_bytes(b"x")
    (tmp_path / "A").mkdir()
    (tmp_path / "A" / "B6.JPG").write_bytes(b"x")
    monkeypatch.setattr("auditor.readers.folder.AT_ONCE", 2)
    assert [Path(file.path).name for file in walk(tmp_path)] == [*names, "B6.JPG"]
