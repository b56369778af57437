"""Pictures beside the logbook: what no frame has goes, the rest stays within its room; all else stays."""

from __future__ import annotations

import os
import shutil
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.crops import colour_path, crop_path, pictures_folder
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.tidying import tidy
from benchmarks.simulated_logbook import Trip, write
from tests.cli.program import run

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT"
PICTURE = b"x" * 1000
"""A thousandth of a MB."""


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """60 frames with a picture each; frames 1 to 10 are flagged, 11 is chosen, 12 has one in colour too."""
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=20))
    with open_logbook(path) as logbook:
        with logbook.writing():
            logbook.execute("DELETE FROM frames WHERE frame_id > 60")
            logbook.execute("UPDATE inferred SET flags = '[\"smeared\"]' WHERE frame_id <= 10")
            logbook.execute("INSERT INTO choices VALUES (11, 'keep', '2026-01-01T00:00:00')")
        for frame_id in range(1, 61):
            picture(crop_path(path, frame_id))
        picture(colour_path(path, 12, "whole"))
        yield logbook


def picture(path: Path, age_s: float = 0.0) -> Path:
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(PICTURE)
    os.utime(path, (time.time() - age_s,) * 2)
    return path


def with_pictures(book: Logbook) -> list[int]:
    return [frame_id for frame_id in range(1, 100) if crop_path(book.path, frame_id).exists()]


def sizes(logbook_path: Path) -> list[int]:
    """Of all files in the folders of pictures."""
    return [path.stat().st_size for path in pictures_folder(logbook_path).glob("*/*")]


def test_pictures_of_frames_that_are_gone_go_and_the_others_stay(book: Logbook) -> None:
    gone = [
        picture(crop_path(book.path, 77)),
        picture(colour_path(book.path, 77, "area")),
        picture(crop_path(book.path, 5).with_suffix(".1-1.unfinished"), age_s=7200),
    ]
    stays = [
        picture(crop_path(book.path, 5).with_suffix(".2-2.unfinished")),  # a run may be writing it
        picture(crop_path(book.path, 5).with_name("notes.txt")),
        picture(crop_path(book.path, 5).with_name("5 copy.jpg")),
        picture(pictures_folder(book.path) / "cover.jpg"),
        picture(book.path.with_name("77.jpg")),
    ]
    found = tidy(book, 1.0)
    assert (found.of_no_frame.pictures, found.of_no_frame.size_bytes) == (3, 3000)
    assert found.beyond_room.pictures == 0
    assert (found.kept.pictures, found.kept.size_bytes) == (61, 61_000)
    assert not any(path.exists() for path in gone)
    assert all(path.exists() for path in stays)
    assert with_pictures(book) == list(range(1, 61))
    assert sum(sizes(book.path)) == 64_000  # three that stay lie among them


def test_beyond_the_room_what_pages_show_least_goes_first_and_the_oldest_of_it(book: Logbook) -> None:
    found = tidy(book, 0.051)
    assert found.beyond_room.pictures == 10
    assert found.kept.size_bytes == 51_000
    assert not colour_path(book.path, 12, "whole").exists()  # made anew when a page shows it
    assert with_pictures(book) == [*range(1, 12), *range(21, 61)]  # 12 to 20 are the oldest of the others
    tidy(book, 0.005)
    assert with_pictures(book) == [7, 8, 9, 10, 11]  # flagged and chosen ones go last
    assert tidy(book, 0.005).beyond_room.pictures == 0


def test_links_are_not_followed(book: Logbook, tmp_path: Path) -> None:
    elsewhere = tmp_path / "card"
    originals = [picture(elsewhere / "77.jpg"), picture(elsewhere / "0000" / "78.jpg")]
    crop_path(book.path, 77).symlink_to(originals[0])
    (pictures_folder(book.path) / "0001").symlink_to(elsewhere / "0000")
    tidy(book, 0.0)
    assert all(path.exists() for path in originals)
    shutil.rmtree(pictures_folder(book.path))
    pictures_folder(book.path).symlink_to(elsewhere)
    assert tidy(book, 0.0).kept.pictures == 0
    assert all(path.exists() for path in originals)


def test_a_picture_that_is_finished_or_taken_away_meanwhile_is_no_fault(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As while a desk measures: names are read a folder at a time, and looked at afterwards."""
    listed = os.scandir

    @contextmanager
    def listed_just_before(place: str) -> Iterator[list[os.DirEntry[str]]]:
        with listed(place) as entries:
            there = list(entries)
        if unfinished in map(Path, there):
            unfinished.unlink()
            crop_path(book.path, 60).unlink()
        yield there

    unfinished = picture(crop_path(book.path, 5).with_suffix(".1-1.unfinished"), age_s=7200)
    monkeypatch.setattr("auditor.store.tidying.os.scandir", listed_just_before)
    tidied = tidy(book, 1.0)
    assert (tidied.of_no_frame.pictures, tidied.beyond_room.pictures, tidied.kept.pictures) == (0, 0, 60)


def test_a_logbook_without_pictures_has_nothing_to_tidy(book: Logbook) -> None:
    shutil.rmtree(pictures_folder(book.path))
    found = tidy(book, 1.0)
    assert (found.of_no_frame.pictures, found.beyond_room.pictures, found.kept.pictures) == (0, 0, 0)


def test_check_says_how_many_and_how_much(measured_sample: Callable[[Path], Path], tmp_path: Path) -> None:
    logbook = measured_sample(tmp_path)
    before = sizes(logbook)
    picture(crop_path(logbook, 987_654))
    told = " ".join(run("check", "--tidy", "--logbook", logbook).stdout.split())
    assert "Removed 1 picture, 0.0 MB: of a frame that is no longer in the logbook" in told
    assert f"{len(before):,} pictures stay: {sum(before) / 1e6:,.1f} MB of 5,000 MB." in told
    (tmp_path / "auditor.toml").write_text("focus_pictures_mb = 1\n", encoding="utf-8")
    for frame_id in range(1, 1200):
        path = crop_path(logbook, frame_id)
        if path.exists():
            path.write_bytes(b"x" * 50_000)
    told = " ".join(run("check", "--tidy", "--logbook", logbook).stdout.split())
    assert "the oldest" in told
    assert sum(sizes(logbook)) <= 1_000_000
    with open_logbook(logbook) as book:
        assert len(book.query("SELECT 1 FROM readings")) > 20  # nothing but pictures went


def test_measuring_keeps_to_the_room_for_pictures(tmp_path: Path) -> None:
    path, card = tmp_path / "book" / "logbook.sqlite", tmp_path / "card"
    card.mkdir()
    for frame in sorted(SAMPLE.glob("*.JPG"))[:4]:
        shutil.copy2(frame, card)
    scan(path, [card], Settings())
    with open_logbook(path) as book:
        measure(book, Settings(focus_pictures_mb=0.03))
    assert 0 < sum(sizes(path)) <= 30_000
