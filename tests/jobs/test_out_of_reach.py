"""What cannot be reached now is tried again; what cannot be read for its content is not, until asked."""

from __future__ import annotations

import errno
import os
import shutil
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import CorruptFileError, FolderError
from auditor.jobs import measure as measure_job
from auditor.jobs import scan as scan_job
from auditor.jobs.measure import measure
from auditor.jobs.reading import read_chunk
from auditor.jobs.scan import scan
from auditor.readers.folder import entries
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from auditor.store.unreadable import unreadable_files
from tests.frame_files import Shot, write_card

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT"


@pytest.fixture
def pictures(tmp_path: Path) -> Path:
    """A card with real pictures, so that they can be measured."""
    folder = tmp_path / "pictures"
    folder.mkdir()
    for path in sorted(SAMPLE.glob("*.JPG"))[:4]:
        shutil.copy2(path, folder / path.name)
    return folder


def refusing(monkeypatch: pytest.MonkeyPatch, number: int, *names: str) -> pytest.MonkeyPatch:
    """Have the system refuse to open files: these, or all pictures.

    Permission bits do not bind the user who runs tests in a container, so the refusal is put in.
    """
    original = open

    def refuse(file: Any, *arguments: Any, **options: Any) -> Any:
        name = os.fspath(file) if isinstance(file, str | os.PathLike) else ""
        if str(name).upper().endswith(".JPG") and (not names or Path(str(name)).name in names):
            raise OSError(number, os.strerror(number), name)
        return original(file, *arguments, **options)

    monkeypatch.setattr("builtins.open", refuse)
    return monkeypatch


def present(logbook: Path) -> list[int]:
    with open_logbook(logbook) as book:
        return [row[0] for row in book.query("SELECT present FROM files ORDER BY path")]


@pytest.mark.parametrize("number", [errno.EACCES, errno.EIO, errno.ENOENT, errno.ENODEV, errno.EMFILE])
def test_a_file_that_could_not_be_opened_is_read_by_the_next_scan(
    card: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch, number: int
) -> None:
    with monkeypatch.context() as patch:
        refusing(patch, number, "TST_0003.JPG")
        (outcome,) = scan(logbook, [card], Settings())
        assert (outcome.read, len(outcome.unreadable)) == (5, 1)
    (outcome,) = scan(logbook, [card], Settings())
    assert (outcome.read, outcome.unreadable) == (1, [])
    with open_logbook(logbook) as book:
        assert len(selected_frames(book)) == 6
        assert unreadable_files(book) == []


def test_damaged_content_is_read_again_when_the_file_or_the_auditor_has_changed(
    card: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A newer auditor may read what an older one could not."""
    broken = card / "DCIM" / "100TEST" / "TST_0002.JPG"
    broken.write_bytes(b"not a picture")
    tried: list[str] = []

    def noted(found: list[Any]) -> list[Any]:
        tried.extend(Path(file.path).name for file in found)
        return read_chunk(found)

    def tried_by_scan() -> list[str]:
        tried.clear()
        (outcome,) = scan(logbook, [card], Settings())
        assert len(outcome.unreadable) == 1
        return list(tried)

    monkeypatch.setattr(scan_job, "read_chunk", noted)
    assert len(tried_by_scan()) == 6
    assert tried_by_scan() == []
    broken.write_bytes(b"not a picture either")
    assert tried_by_scan() == [broken.name]
    monkeypatch.setattr("auditor.jobs.scan.__version__", "of tomorrow")
    assert tried_by_scan() == [broken.name]


def test_a_scan_whose_folder_vanishes_midway_says_so_and_marks_nothing(
    card: Path, logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan(logbook, [card], Settings())
    write_card(card, [Shot(number=n, after_s=n * 0.2) for n in range(7, 13)])
    original = read_chunk
    monkeypatch.setattr("auditor.jobs.workers.CHUNK", 2)
    aside = tmp_path / "aside"

    def pulled_out(found: list[Any]) -> list[Any]:
        if not aside.exists() and found[0].path.endswith("TST_0009.JPG"):
            card.rename(aside)
        return original(found)

    monkeypatch.setattr(scan_job, "read_chunk", pulled_out)
    with pytest.raises(FolderError, match="no longer there") as told:
        scan(logbook, [card], Settings())
    assert "2 files that were read are kept" in str(told.value)
    assert present(logbook) == [1] * 8  # the six from before, and the two that were read in time
    with open_logbook(logbook) as book:
        assert unreadable_files(book) == []
        assert len(selected_frames(book)) == 8  # what was read is grouped and can be viewed
    aside.rename(card)
    monkeypatch.setattr(scan_job, "read_chunk", original)
    (outcome,) = scan(logbook, [card], Settings())
    assert (outcome.read, outcome.gone, outcome.unreadable) == (4, 0, [])
    assert present(logbook) == [1] * 12


def test_a_scan_whose_folder_vanishes_with_nothing_new_to_read_marks_nothing(
    card: Path, logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan(logbook, [card], Settings())

    def pulled_out(folder: Path, **options: Any) -> Any:
        card.rename(tmp_path / "aside")
        card.mkdir()  # as a mount point stays behind
        yield from entries(folder, **options)

    monkeypatch.setattr(scan_job, "entries", pulled_out)
    with pytest.raises(FolderError, match="no longer there"):
        scan(logbook, [card], Settings())
    assert present(logbook) == [1] * 6


def test_frames_moved_aside_during_measure_are_measured_when_they_are_back(
    pictures: Path, logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan(logbook, [pictures], Settings())
    original, calls = measure_job.measure_chunk, iter(range(9))
    monkeypatch.setattr(measure_job, "CHUNK", 1)

    def moved(frames: list[Any], **options: Any) -> list[Any]:
        if next(calls) == 1:
            pictures.rename(tmp_path / "aside")
        return original(frames, **options)

    monkeypatch.setattr(measure_job, "measure_chunk", moved)
    with open_logbook(logbook) as book:
        outcome = measure(book, Settings())
        assert (outcome.measured, len(outcome.out_of_reach), outcome.unreadable) == (1, 3, [])
        assert unreadable_files(book) == []  # the files are not at fault
        (tmp_path / "aside").rename(pictures)
        outcome = measure(book, Settings())
        assert (outcome.measured, outcome.out_of_reach) == (3, [])
        assert {row.measured_on for row in selected_frames(book)} == {"jpeg"}


def test_a_picture_without_permission_for_a_moment_is_measured_later(
    pictures: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    scan(logbook, [pictures], Settings())
    with open_logbook(logbook) as book:
        with monkeypatch.context() as patch:
            refusing(patch, errno.EACCES)
            outcome = measure(book, Settings())
            assert (outcome.measured, len(outcome.out_of_reach)) == (0, 4)
        assert measure(book, Settings()).measured == 4
        assert unreadable_files(book) == []


def test_a_picture_that_went_away_while_it_was_decoded_is_not_called_damaged(
    pictures: Path, logbook: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A card that is pulled out hands over a part of the bytes: what follows is no fault of the file."""
    from auditor.readers import pixels

    scan(logbook, [pictures], Settings())
    original = pixels.decode

    def pulled_out(path: str, **options: Any) -> Any:
        if pictures.exists():
            pictures.rename(tmp_path / "aside")
        raise CorruptFileError(path, "its picture is damaged", stage="pixels")

    monkeypatch.setattr(pixels, "decode", pulled_out)
    with open_logbook(logbook) as book:
        assert len(measure(book, Settings()).out_of_reach) == 4
    (tmp_path / "aside").rename(pictures)
    monkeypatch.setattr(pixels, "decode", original)
    with open_logbook(logbook) as book:
        assert measure(book, Settings()).measured == 4


def test_measuring_again_tries_damaged_pictures_too(
    pictures: Path, logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from auditor.readers import pixels

    scan(logbook, [pictures], Settings())

    def fails(path: str, **_options: Any) -> Any:
        raise CorruptFileError(path, "its picture is damaged", stage="pixels")

    with open_logbook(logbook) as book:
        with monkeypatch.context() as patch:
            patch.setattr(pixels, "decode", fails)
            assert len(measure(book, Settings()).unreadable) == 4
        outcome = measure(book, Settings())
        assert (outcome.measured, outcome.not_tried_again) == (0, 4)
        outcome = measure(book, Settings(), again=True)
        assert (outcome.measured, outcome.not_tried_again) == (4, 0)
        assert unreadable_files(book) == []


def test_a_damaged_picture_that_was_replaced_is_measured(pictures: Path, logbook: Path) -> None:
    whole = sorted(SAMPLE.glob("*.JPG"))[0]
    broken = pictures / whole.name
    broken.write_bytes(whole.read_bytes()[:9000])
    scan(logbook, [pictures], Settings())
    with open_logbook(logbook) as book:
        assert measure(book, Settings()).measured == 3
    shutil.copy2(whole, broken)
    scan(logbook, [pictures], Settings())
    with open_logbook(logbook) as book:
        assert measure(book, Settings()).measured == 1
        assert unreadable_files(book) == []


def test_measuring_brings_the_view_up_to_date(pictures: Path, logbook: Path) -> None:
    scan(logbook, [pictures], Settings())
    with open_logbook(logbook) as book:
        assert all(row.verdict_source != "pixels" for row in selected_frames(book))
        measure(book, Settings())
        assert any(row.verdict_source == "pixels" for row in selected_frames(book))
        assert book.query("SELECT count(*) FROM touched")[0][0] == 0
