"""auditor inspect: what was read, measured and decided, and why, in numbers as people write them."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image
from PIL.ExifTags import IFD

from auditor.words import MissingReason
from tests.cli.program import Done, run

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT"


@pytest.fixture(scope="module")
def logbook(measured_sample: Callable[[Path], Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return measured_sample(tmp_path_factory.mktemp("inspecting"))


def words(text: str) -> str:
    return " ".join(text.split())


def test_a_verdict_comes_with_blur_limit_and_the_cameras_word(logbook: Path) -> None:
    done = run("inspect", SAMPLE / "F2A_0420.JPG", "--logbook", logbook)
    row = json.loads(run("inspect", SAMPLE / "F2A_0420.JPG", "--logbook", logbook, "--json").stdout)[0]
    known = row["in_logbook"]
    # 0.029 mm on full frame (diagonal / 1500), a quarter of it as sigma, in pixels of 5.97 um (D).
    assert known["limit_px"] == pytest.approx(43.27 / 1500 / 4 / 0.00597, rel=0.01)
    told = f"miss: blur {known['blur_px']:.1f} px at the focus area, limit 1.2; the camera said"
    assert told in words(done.stdout)
    for heading in ("Read", "Measured", "Decided"):
        assert heading in done.stdout.splitlines()


def test_numbers_are_as_people_write_them(logbook: Path) -> None:
    told = words(run("inspect", SAMPLE / "F2A_0412.JPG", "--logbook", logbook).stdout)
    assert "500 mm f/5.6 1/250 s ISO 6400 (Auto ISO)" in told
    assert "2026-04-18 05:47:26.12 (UTC+01:00)" in told
    for code in ("exposure_time_s", "0.004", "True", "not_recorded", "T05:47", "not_confirmed"):
        assert code not in told


def test_without_a_logbook_it_tells_what_the_file_tells(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("platformdirs.user_data_path", lambda *_a, **_k: tmp_path)
    done = run("inspect", SAMPLE / "F2A_0412.JPG")
    assert done.returncode == 0
    assert "1/250 s" in done.stdout
    assert "Decided" not in done.stdout
    assert "auditor audit FOLDER" in done.stderr


def test_a_file_that_was_not_scanned_is_told_as_such(logbook: Path, tmp_path: Path) -> None:
    copy = tmp_path / "other.jpg"
    copy.write_bytes((SAMPLE / "F2A_0412.JPG").read_bytes())
    done = run("inspect", copy, "--logbook", logbook)
    assert "Not in the logbook" in done.stderr
    assert json.loads(run("inspect", copy, "--logbook", logbook, "--json").stdout)[0]["in_logbook"] is None


def resized_copy(original: Path, copy: Path, *, stated: bool) -> None:
    """A copy half as large, as an editor writes it: with its own size in its metadata, or the original's."""
    with Image.open(original) as picture:
        exif = picture.getexif()
        width, height = picture.width // 2, picture.height // 2
        if stated:
            exif.get_ifd(IFD.Exif).update({0xA002: width, 0xA003: height})
        exif[0x131] = "Pocket editor 3.1"
        picture.resize((width, height)).save(copy, exif=exif)


def size_told(done: Done) -> str:
    (line,) = re.findall(r"  picture  +(.*(?:\n {18}.*)*)", done.stdout)
    return words(line)


def test_of_a_resized_copy_the_files_own_size_is_told_and_that_of_its_frame(tmp_path: Path) -> None:
    """The frame has the size of its original, 540 x 360 px; the copy holds half of it and says so."""
    original, copy = tmp_path / "card" / "F2A_0412.JPG", tmp_path / "card" / "F2A_0412-small.JPG"
    original.parent.mkdir()
    original.write_bytes((SAMPLE / original.name).read_bytes())
    resized_copy(original, copy, stated=True)
    logbook = tmp_path / "logbook.sqlite"
    run("scan", original.parent, "--logbook", logbook)
    assert size_told(run("inspect", original, "--logbook", logbook)) == "540 x 360 px, 5.97 um a pixel"
    assert size_told(run("inspect", copy, "--logbook", logbook)) == (
        "270 x 180 px; its frame as it was taken: 540 x 360 px, 5.97 um a pixel"
    )


def test_a_size_that_only_the_metadata_states_is_told_apart(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("platformdirs.user_data_path", lambda *_a, **_k: tmp_path / "none")
    copy = tmp_path / "small.JPG"
    resized_copy(SAMPLE / "F2A_0412.JPG", copy, stated=False)
    assert size_told(run("inspect", copy)) == "270 x 180 px; its metadata says 540 x 360 px"


@pytest.mark.parametrize("columns", ["80", "60"])
def test_lines_fit(logbook: Path, columns: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    for name in ("F2A_0413.JPG", "S2B_9977.JPG"):
        lines = run("inspect", SAMPLE / name, "--logbook", logbook).stdout.splitlines()[1:]
        assert max(map(len, lines)) <= int(columns)


def test_every_verdict_of_the_sample_trip_has_its_reason(logbook: Path) -> None:
    paths = sorted(SAMPLE.parent.rglob("*.JPG"))
    done = run("inspect", *paths, "--logbook", logbook)
    reasons = [
        line.split(maxsplit=1)[1] for line in done.stdout.splitlines() if line.startswith("  focus   ")
    ]
    decided = [line for line in reasons if line.startswith(("hit:", "miss:", "unclear:"))]
    assert len(decided) == len(paths)


def test_unclear_frames_say_why_wherever_they_are_listed(
    logbook: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "300")
    rows = json.loads(run("frames", "--logbook", logbook, "--verdict", "unclear", "--json").stdout)
    rows = rows["frames"] if isinstance(rows, dict) else rows
    reasons = {row["path"].rsplit("/", 1)[-1]: MissingReason(row["missing"]["verdict"]) for row in rows}
    assert reasons
    listed = run("frames", "--logbook", logbook, "--verdict", "unclear").stdout.splitlines()
    for name, reason in reasons.items():
        assert any(name in line and reason.description in line for line in listed)
        told = run("inspect", *SAMPLE.parent.rglob(name), "--logbook", logbook).stdout
        assert any(line.startswith("  focus  ") and reason.description in line for line in told.splitlines())
