"""The camera's own blur: from a body's sharpest bare frames, by ISO band, never with a converter."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from auditor.derive import camera_blur
from auditor.derive.rebuild import rebuild
from auditor.focus.sharpness import CAMERA_BLUR_PX, SHARP_READS_PX
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import readings
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card
from tests.written_readings import reading

WITH_CONVERTER = Shot(lens="Long 500mm f/5.6 + 2x", focal_mm=1000, f_number=11, iso=6400)


def measured(book: Logbook, sigmas_px: dict[int, float]) -> None:
    """Write readings by file number, and rebuild."""
    ids = {row[1]: row[0] for row in book.query("SELECT frame_id, file_number FROM frames")}
    with book.writing():
        readings.write(book, [reading(sigma, frame_id=ids[number]) for number, sigma in sigmas_px.items()])
    rebuild(book, Settings())


def facts(book: Logbook) -> dict[int, dict[str, Any]]:
    sql = "SELECT f.file_number, v.* FROM frame_facts AS v JOIN frames AS f USING (frame_id)"
    return {row["file_number"]: dict(row) for row in book.query(sql)}


@pytest.fixture
def book_path(tmp_path: Path) -> Path:
    """60 bare frames at ISO 800 and 30 at ISO 6400 over five hours, 60 with a converter at ISO 6400."""
    shots = [Shot(number=n, after_s=n * 300.0) for n in range(1, 61)]
    shots += [Shot(number=n, after_s=n * 300.0 - 18000, iso=6400) for n in range(61, 91)]
    shots += [replace(WITH_CONVERTER, number=n, after_s=n * 300.0 - 27000) for n in range(91, 151)]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    return path


def test_bands_of_iso() -> None:
    assert [camera_blur.iso_band(iso) for iso in (50, 100, 399, 400, 1600, 6400, 25600)] == [
        0, 0, 0, 1, 2, 3, 4,
    ]  # fmt: skip
    assert camera_blur.iso_band(None) is None


def test_what_the_sharpest_frames_read_beyond_a_sharp_one_is_the_cameras() -> None:
    assert camera_blur.from_readings([SHARP_READS_PX] * 50) == pytest.approx(CAMERA_BLUR_PX)
    excess_px = 0.6
    sharpest = np.hypot(SHARP_READS_PX, excess_px)
    told = camera_blur.from_readings([float(sharpest)] * 10 + [3.0] * 40)
    assert_allclose(told, np.hypot(CAMERA_BLUR_PX, excess_px), atol=camera_blur.STEP_PX / 2)
    assert camera_blur.from_readings([4.0] * 50) == camera_blur.LARGEST_PX


def test_blur_of_the_photographer_is_not_taken_for_the_cameras() -> None:
    """A few frames as sharp as any show what the camera can, however many others are a little soft."""
    assert camera_blur.from_readings([0.3] * 12 + [0.6] * 100 + [2.0] * 288) == pytest.approx(CAMERA_BLUR_PX)


def test_too_few_frames_leave_the_default(book_path: Path) -> None:
    with open_logbook(book_path) as book:
        measured(book, dict.fromkeys(range(1, 40), 0.9))
        row = facts(book)[1]
        assert (row["blur_px"], row["camera_blur_px"]) == (0.9, CAMERA_BLUR_PX)
        assert row["blur_px"] == pytest.approx(0.9)


def test_enough_frames_take_it_out_of_blur_but_not_of_system_blur(book_path: Path) -> None:
    with open_logbook(book_path) as book:
        measured(book, {n: 0.8 if n <= 30 else 1.5 for n in range(1, 61)})
        rows = facts(book)
        own_px = rows[1]["camera_blur_px"]
        assert own_px > CAMERA_BLUR_PX
        assert_allclose(rows[60]["blur_px"], np.sqrt(1.5**2 + CAMERA_BLUR_PX**2 - own_px**2))
        assert rows[1]["blur_px"] < 0.8
        assert rows[1]["system_blur_px"] == 1.0


def test_a_later_card_changes_blur_of_old_frames_without_measuring_them_again(book_path: Path) -> None:
    with open_logbook(book_path) as book:
        measured(book, dict.fromkeys(range(1, 31), 0.8))
        assert facts(book)[1]["camera_blur_px"] == CAMERA_BLUR_PX
        measured(book, dict.fromkeys(range(31, 61), 0.8))
        assert facts(book)[1]["camera_blur_px"] > CAMERA_BLUR_PX
        assert facts(book)[1]["blur_px"] < 0.8
        assert [row["blur_px"] for row in facts(book).values() if row["blur_px"]] == [
            pytest.approx(facts(book)[1]["blur_px"])
        ] * 60


def test_blur_of_a_converter_is_not_taken_for_the_cameras(book_path: Path) -> None:
    """At ISO 6400 only frames with the converter are many: what it blurs must stay in their blur."""
    with open_logbook(book_path) as book:
        measured(book, dict.fromkeys(range(61, 151), 0.9))
        rows = facts(book)
        assert rows[100]["converter_factor"] == 2.0
        assert (rows[100]["blur_px"], rows[100]["camera_blur_px"]) == (0.9, CAMERA_BLUR_PX)


def test_noise_reduction_at_high_iso_is_taken_out_in_its_own_band_alone(book_path: Path) -> None:
    with open_logbook(book_path) as book:
        with book.writing():
            book.execute("UPDATE frames SET iso = 6400 WHERE file_number BETWEEN 31 AND 60")
        low = dict.fromkeys(range(1, 31), 0.42)
        high = dict.fromkeys(range(31, 151), 0.9)
        measured(book, low | high)
        rows = facts(book)
        assert rows[1]["camera_blur_px"] == CAMERA_BLUR_PX
        assert rows[100]["camera_blur_px"] > CAMERA_BLUR_PX
        assert rows[100]["blur_px"] == pytest.approx(rows[40]["blur_px"])
        assert rows[100]["blur_px"] < 0.6


def test_frames_that_moved_do_not_calibrate(book_path: Path) -> None:
    with open_logbook(book_path) as book:
        ids = {row[1]: row[0] for row in book.query("SELECT frame_id, file_number FROM frames")}
        with book.writing():
            readings.write(
                book,
                [reading(0.9, frame_id=ids[n], kind="smeared") for n in range(1, 61)],
            )
        rebuild(book, Settings())
        assert facts(book)[1]["camera_blur_px"] == CAMERA_BLUR_PX


def test_frames_without_a_reading_say_why_they_have_no_camera_blur(book_path: Path) -> None:
    import json

    with open_logbook(book_path) as book:
        row = facts(book)[1]
        assert row["camera_blur_px"] is None
        assert json.loads(row["missing"])["camera_blur_px"] == "not_measured"


def test_many_frames_of_one_hour_do_not_calibrate(book_path: Path) -> None:
    """An hour with one animal may hold no sharp frame: 60 are enough only where they are of three hours."""
    with open_logbook(book_path) as book:
        with book.writing():
            book.execute(
                "UPDATE frames SET taken_at = printf('2026-04-18T%02d:%02d:00', 6 + file_number / 31, "
                "file_number % 31) WHERE file_number <= 60"
            )
        measured(book, dict.fromkeys(range(1, 61), 0.8))
        assert facts(book)[1]["camera_blur_px"] == CAMERA_BLUR_PX
        with book.writing():
            book.execute("UPDATE frames SET taken_at = '2026-04-18T08:00:00' WHERE file_number = 60")
        measured(book, dict.fromkeys(range(1, 61), 0.8))
        assert facts(book)[1]["camera_blur_px"] > CAMERA_BLUR_PX


def test_it_is_told_in_steps_so_that_single_frames_do_not_move_it() -> None:
    """Between two steps of .05 px it is one of them; a few frames more or less then change no old verdict."""
    told = {camera_blur.from_readings([sharpest / 1000] * 50) for sharpest in range(400, 1100, 7)}
    assert len(told) > 4
    assert all(px / 0.05 == pytest.approx(round(px / 0.05), abs=1e-6) for px in told)
