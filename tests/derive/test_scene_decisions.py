"""What a scene decided is taken back when the frame that it rested on changes, in other trips left alone."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from auditor.derive.rebuild import rebuild
from auditor.frames.declared import ForFrame
from auditor.frames.facts import frame_facts
from auditor.frames.kit import Kit
from auditor.jobs.scan import scan
from auditor.records import Recorded
from auditor.settings import Settings
from auditor.store import readings
from auditor.store.logbook import Logbook, open_logbook
from tests.derive.test_camera_blur import reading
from tests.frame_files import Shot, write_card

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


def write(book: Logbook, number: int, sigma_px: float, system_px: float) -> None:
    (row,) = book.query("SELECT frame_id FROM frames WHERE file_number = ?", (number,))
    with book.writing():
        readings.write(book, [reading(row[0], sigma_px, system_sigma_px=system_px)])


def verdicts(book: Logbook) -> list[tuple[str, str]]:
    sql = "SELECT verdict, verdict_source FROM verdicts JOIN frames USING (frame_id) ORDER BY file_number"
    return [(row[0], row[1]) for row in book.query(sql)]


@pytest.fixture
def decided(book_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """In each trip a sure hit, a frame near the criterion that is sharper by its whole blur, and a miss."""

    def with_pixels(recorded: Recorded, declared: ForFrame, **seen: bool) -> tuple[Kit, dict[str, Any]]:
        kit, facts = frame_facts(recorded, declared, **seen)
        return kit, facts | {"pixel_pitch_um": 5.97, "sensor_diagonal_mm": 43.267}

    monkeypatch.setattr("auditor.derive.rebuild.frame_facts", with_pixels)
    with open_logbook(book_path) as book:
        for first in (1, 4):
            write(book, first, 0.6, 1.0)
            write(book, first + 1, 1.2, 0.9)
            write(book, first + 2, 3.0, 3.0)
        rebuild(book, Settings())
    return book_path


def test_the_scene_decides_a_frame_near_the_criterion(decided: Path) -> None:
    with open_logbook(decided) as book:
        assert verdicts(book) == [("hit", "pixels"), ("hit", "scene"), ("miss", "pixels")] * 2


def test_a_decision_is_taken_back_when_its_ground_goes(decided: Path) -> None:
    with open_logbook(decided) as book:
        write(book, 1, 3.0, 3.0)
        rebuild(book, Settings())
        assert verdicts(book)[:3] == [("miss", "pixels"), ("unclear", "pixels"), ("miss", "pixels")]
        assert verdicts(book)[3:] == [("hit", "pixels"), ("hit", "scene"), ("miss", "pixels")]


def test_a_decision_is_made_anew_when_its_frame_leaves_the_scene(decided: Path) -> None:
    with open_logbook(decided) as book:
        with book.writing():
            book.execute("UPDATE frames SET taken_at = '2026-04-18T12:00:00.500' WHERE file_number = 1")
            book.execute("INSERT OR IGNORE INTO touched SELECT frame_id FROM frames WHERE file_number = 1")
        rebuild(book, Settings())
        assert verdicts(book)[1] == ("unclear", "pixels")
