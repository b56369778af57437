"""Frames of a scene are read together, and what it told is taken back when its ground changes."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import numpy as np
import pytest

from auditor.derive.rebuild import rebuild
from auditor.focus.ring_spectrum import packed, unpacked
from auditor.frames.declared import ForFrame
from auditor.frames.facts import frame_facts
from auditor.frames.kit import Kit
from auditor.jobs.scan import scan
from auditor.records import Inferred, Recorded
from auditor.settings import Settings
from auditor.store import readings
from auditor.store.best_frames import best_of
from auditor.store.logbook import Logbook, open_logbook
from tests.focus.test_scene_blur import content, seen
from tests.frame_files import Shot, write_card
from tests.written_readings import reading

WEEK_S = 7 * 86_400.0


@pytest.fixture
def book_path(tmp_path: Path) -> Path:
    """Two trips of three frames each."""
    shots = [Shot(number=n, after_s=n * 0.5) for n in (1, 2, 3)]
    shots += [Shot(number=n, after_s=WEEK_S + n * 0.5) for n in (4, 5, 6)]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    return path


def write(book: Logbook, number: int, read_px: float, true_px: float, **more: Any) -> None:
    """A reading, and the spectrum of a frame that is as blurred as it truly is."""
    (row,) = book.query("SELECT frame_id FROM frames WHERE file_number = ?", (number,))
    rings = packed(seen(content(7), true_px))
    with book.writing():
        readings.write(book, [reading(read_px, frame_id=row[0], rings=rings, **more)])


def verdicts(book: Logbook) -> list[tuple[str, str]]:
    sql = "SELECT verdict, verdict_source FROM verdicts JOIN frames USING (frame_id) ORDER BY file_number"
    return [(row[0], row[1]) for row in book.query(sql)]


def blurs(book: Logbook) -> list[float]:
    sql = "SELECT v.blur_px FROM frame_facts AS v JOIN frames AS f USING (frame_id) ORDER BY f.file_number"
    return [row[0] for row in book.query(sql)]


@pytest.fixture
def told(book_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """In each trip a sharp frame, one that reads near the criterion but is as sharp, and a blurred one."""

    def with_pixels(recorded: Recorded, declared: ForFrame, **seen: bool) -> tuple[Kit, Inferred]:
        kit, facts = frame_facts(recorded, declared, **seen)
        return kit, facts._replace(pixel_pitch_um=5.97, sensor_diagonal_mm=43.267)

    monkeypatch.setattr("auditor.derive.rebuild.frame_facts", with_pixels)
    with open_logbook(book_path) as book:
        for first in (1, 4):
            write(book, first, 0.6, 0.6)
            write(book, first + 1, 1.1, 0.75)
            write(book, first + 2, 3.0, 3.0)
        rebuild(book, Settings())
    return book_path


def test_the_scene_decides_a_frame_near_the_criterion(told: Path) -> None:
    with open_logbook(told) as book:
        assert verdicts(book) == [("hit", "pixels"), ("hit", "scene"), ("miss", "pixels")] * 2
        assert blurs(book)[1] == pytest.approx(0.75, rel=0.2)


def test_frames_of_another_subject_are_left_alone(told: Path) -> None:
    with open_logbook(told) as book:
        (row,) = book.query("SELECT frame_id FROM frames WHERE file_number = 2")
        other = packed(seen(content(8), 0.75))
        with book.writing():
            readings.write(book, [reading(1.1, frame_id=row[0], rings=other)])
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("unclear", "pixels")
        assert blurs(book)[1] == pytest.approx(1.1)


def test_the_best_of_a_burst_is_chosen_by_ratios(told: Path) -> None:
    """It reads sharpest by itself, and the camera confirms it; beside the others it is plainly smeared."""
    with open_logbook(told) as book:
        write(book, 3, 0.5, 3.0, flags=("readings_disagree",))
        rebuild(book, Settings())
        ids = [row[0] for row in book.query("SELECT frame_id FROM frames ORDER BY file_number LIMIT 3")]
        assert best_of(book, ids) == [ids[0]]
        assert verdicts(book)[2] == ("miss", "scene")


def test_what_a_scene_told_is_taken_back_when_its_ground_goes(told: Path) -> None:
    with open_logbook(told) as book:
        for number in (1, 3):
            (row,) = book.query("SELECT frame_id FROM frames WHERE file_number = ?", (number,))
            with book.writing():
                readings.write(book, [reading(0.6, frame_id=row[0])])
        rebuild(book, Settings())
        assert verdicts(book)[:3] == [("hit", "pixels"), ("unclear", "pixels"), ("hit", "pixels")]
        assert blurs(book)[1] == pytest.approx(1.1)
        assert verdicts(book)[3:] == [("hit", "pixels"), ("hit", "scene"), ("miss", "pixels")]
        assert book.query("SELECT count(*) FROM scene_blur")[0][0] == 3


def test_a_scene_is_read_anew_when_a_frame_leaves_it(told: Path) -> None:
    with open_logbook(told) as book:
        with book.writing():
            book.execute("UPDATE frames SET taken_at = '2026-04-18T12:00:00.500' WHERE file_number IN (1, 3)")
            book.execute(
                "INSERT OR IGNORE INTO touched SELECT frame_id FROM frames WHERE file_number IN (1, 3)"
            )
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("unclear", "pixels")


def test_rings_survive_the_logbook(told: Path) -> None:
    with open_logbook(told) as book:
        stored = book.query("SELECT rings FROM readings")[0][0]
        assert len(stored) < 400
        rings = unpacked(stored)
        assert rings is not None
        assert np.isfinite(rings).all()


@pytest.mark.parametrize(
    "otherwise", ["iso = 4 * iso", "f_number = 1.4 * f_number", "focal_length_mm = 1.4 * focal_length_mm"]
)
def test_frames_taken_otherwise_are_not_compared(told: Path, otherwise: str) -> None:
    """Two stops of ISO are other noise reduction, another aperture or focal length another blur."""
    with open_logbook(told) as book:
        with book.writing():
            book.execute(f"UPDATE frames SET {otherwise} WHERE file_number = 2")
            book.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames WHERE file_number = 2")
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("unclear", "pixels")


def test_a_third_of_a_stop_of_iso_is_alike(told: Path) -> None:
    with open_logbook(told) as book:
        with book.writing():
            book.execute("UPDATE frames SET iso = iso * 1.25 WHERE file_number = 2")
            book.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames WHERE file_number = 2")
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("hit", "scene")


def test_readings_that_may_be_of_the_background_do_not_pull_at_their_scene(told: Path) -> None:
    """What was read beside the animal is 4 px soft; the animal is nearly as sharp as in the frame before."""
    with open_logbook(told) as book:
        for number in (2, 3):
            write(book, number, 4.0, 0.75, flags=("sharp_beside_area",))
        rebuild(book, Settings())
        assert blurs(book)[:3] == pytest.approx([0.6, 0.75, 0.75], rel=0.2)


@pytest.mark.parametrize(("later_s", "verdict"), [(28, ("hit", "scene")), (32, ("unclear", "pixels"))])
def test_frames_more_than_half_a_minute_apart_are_not_compared(
    told: Path, later_s: int, verdict: tuple[str, str]
) -> None:
    """As README says it; the frame that is moved comes half a second after the others at first."""
    with open_logbook(told) as book:
        with book.writing():
            moved = f"strftime('%Y-%m-%dT%H:%M:%f', taken_at, '+{later_s} seconds')"
            book.execute(f"UPDATE frames SET taken_at = {moved} WHERE file_number = 2")
            book.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames WHERE file_number = 2")
        rebuild(book, Settings())
        assert verdicts(book)[1] == verdict


def test_a_raws_preview_and_a_jpeg_are_not_compared(told: Path) -> None:
    """The camera sharpens one more than the other."""
    with open_logbook(told) as book:
        write(book, 2, 1.1, 0.75, measured_on="embedded")
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("unclear", "pixels")


def test_a_frame_that_its_scene_calls_sharp_is_not_sharper_elsewhere(told: Path) -> None:
    with open_logbook(told) as book:
        write(book, 2, 3.0, 0.6, kind="elsewhere")
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("hit", "scene")
        (row,) = book.query(
            "SELECT v.flags FROM frame_facts AS v JOIN frames USING (frame_id) WHERE file_number = 2"
        )
        assert "focus_elsewhere" not in row[0]
