"""Trips in the terminal, and where reports go: said and checked before the work begins."""

from __future__ import annotations

import contextlib
import io
import itertools
import json
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from PIL import Image

from auditor.cli.audit import _print_trips
from auditor.demo.record import LOGBOOK, write_record
from auditor.store.logbook import open_logbook
from auditor.store.trips import trips_newest_first
from tests.cli.program import error_line, run
from tests.frame_files import Shot, write_card, write_frame

DAY_S = 86_400.0


@pytest.fixture
def archive(tmp_path: Path) -> Path:
    """A folder of five trips, ten days apart."""
    write_card(tmp_path / "old", [Shot(number=n + 1, after_s=n * 10 * DAY_S) for n in range(5)])
    return tmp_path / "old"


def test_many_trips_have_one_page_and_a_line_each(archive: Path, tmp_path: Path) -> None:
    done = run("audit", archive, "--logbook", "book.sqlite", cwd=tmp_path)
    assert done.returncode == 0, done.stderr
    assert [path.name for path in (tmp_path / "reports").iterdir()] == ["all-trips"]
    assert "These frames are of 5 trips" in done.stdout
    assert "auditor trips" in done.stdout
    assert len(done.stdout.splitlines()) < 60


def test_each_trip_has_a_page_where_it_is_asked_for(archive: Path, tmp_path: Path) -> None:
    assert run("audit", archive, "--logbook", "book.sqlite", "--each-trip", cwd=tmp_path).returncode == 0
    assert len(list((tmp_path / "reports").iterdir())) == 5


def test_trips_are_listed_with_what_selects_them(archive: Path, tmp_path: Path) -> None:
    run("scan", archive, "--logbook", "book.sqlite", cwd=tmp_path)
    lines = run("trips", "--logbook", "book.sqlite", cwd=tmp_path).stdout.splitlines()
    assert len(lines) == 6
    number, name = lines[1].split()[:2]
    for wanted in (number, name):
        done = run("frames", "--trip", wanted, "--logbook", "book.sqlite", "--json", cwd=tmp_path)
        assert len(json.loads(done.stdout)) == 1
    assert len(json.loads(run("trips", "--logbook", "book.sqlite", "--json", cwd=tmp_path).stdout)) == 5


def test_a_trip_without_a_picture_that_can_be_read_is_said_to_be_one(tmp_path: Path) -> None:
    """Ten days apart: one damaged picture, two, one that waits beside a damaged one, one that waits."""
    days = (0, 10, 10, 20, 20, 30)
    files = write_card(
        tmp_path / "card", [Shot(number=n, after_s=day * DAY_S + 60 * n) for n, day in enumerate(days)]
    )
    for file in files[:4]:
        content = file.read_bytes()
        file.write_bytes(content[: content.rfind(b"\xff\xda") + 4])  # no pixels after the head of the scan
    book = tmp_path / "book.sqlite"
    run("audit", tmp_path / "card", "--logbook", book, "--into", tmp_path / "out")
    with open_logbook(book) as opened, opened.writing():
        opened.execute("DELETE FROM readings")  # as where measuring was stopped
    told = run("trips", "--logbook", book).stdout.splitlines()
    assert [line.split("  ")[-1].strip() for line in reversed(told[1:])] == [
        "its picture could not be read",
        "none of its pictures could be read",
        "not measured; 1 picture could not be read",
        "not measured",
    ]
    document = json.loads(run("trips", "--logbook", book, "--json").stdout)
    assert [row["undecodable"] for row in reversed(document)] == [1, 2, 1, 0]


def test_trips_are_told_with_their_answers_by_json_and_by_audit_alike(tmp_path: Path) -> None:
    """A year of invented trips without pictures: each has what it changed, in numbers and in words."""
    write_record(tmp_path / "demo", 6)
    book = tmp_path / "demo" / LOGBOOK
    rows = json.loads(run("trips", "--logbook", book, "--json").stdout)
    answers = [row["answer"] for row in rows]
    assert all(answer is not None for answer in answers)
    for answer, older in itertools.pairwise(answers):
        said = (
            rf"(now|still) .* of 100 in focus( with the {answer['factor']:g}x)? \(likely .*\d (more|fewer)\)"
        )
        assert re.search(said, answer["text"])
        if answer["factor"] == older["factor"]:
            assert answer["most_likely_before"] == pytest.approx(older["most_likely"])
    newest = " ".join(run("trips", "--logbook", book).stdout.split())
    assert answers[0]["text"] in newest
    with open_logbook(book) as logbook, contextlib.redirect_stdout(io.StringIO()) as told:
        _print_trips(logbook, trips_newest_first(logbook), book)
    assert all(answer["text"] in " ".join(told.getvalue().split()) for answer in answers)


def test_a_report_inside_the_card_is_refused_before_anything_is_read(archive: Path, tmp_path: Path) -> None:
    done = run("audit", archive, "--into", archive / "report", "--logbook", "book.sqlite", cwd=tmp_path)
    assert done.returncode == 1
    assert "inside the scanned folder" in error_line(done)
    assert not (tmp_path / "book.sqlite").exists()


def test_inside_the_card_reports_go_beside_the_logbook_and_that_is_said_first(
    archive: Path, tmp_path: Path
) -> None:
    logbook = tmp_path / "data" / "book.sqlite"
    done = run("audit", ".", "--logbook", logbook, "--each-trip", cwd=archive)
    assert done.returncode == 0, done.stderr
    assert not (archive / "reports").exists()
    assert len(list((tmp_path / "data" / "reports").iterdir())) == 5
    assert f"Report: in {tmp_path / 'data' / 'reports'}" in done.stderr
    again = run("report", "--logbook", logbook, cwd=archive)
    assert again.returncode == 0
    assert str(tmp_path / "data" / "reports") in again.stdout


def test_why_there_are_fewer_frames_than_files_is_said(tmp_path: Path) -> None:
    for folder in ("one", "two"):
        write_frame(tmp_path / "cards" / folder / "A_0001.JPG", Shot())
    done = run("scan", tmp_path / "cards", "--logbook", tmp_path / "book.sqlite")
    assert "2 files" in done.stdout
    done = run("audit", tmp_path / "cards", "--logbook", tmp_path / "book.sqlite", cwd=tmp_path)
    assert "2 files make 1 frame: among them 1 copy" in done.stdout


def test_frames_without_a_time_are_in_no_trip_and_that_is_said(tmp_path: Path) -> None:
    write_frame(tmp_path / "card" / "A_0001.JPG", Shot())
    done = run("audit", tmp_path / "card", "--logbook", tmp_path / "book.sqlite", cwd=tmp_path)
    assert "without a time" not in done.stdout
    for name in ("sent.jpg", "saved.jpg"):
        Image.new("L", (8, 8), len(name)).save(tmp_path / "card" / name)
    done = run("audit", tmp_path / "card", "--logbook", tmp_path / "book.sqlite", cwd=tmp_path)
    assert "2 frames without a time, in no trip: auditor frames --all-trips" in done.stdout
    assert "Trip 2026-04-18, 1 frame" in done.stdout


def test_a_picture_made_smaller_is_an_edited_copy_and_no_raw_and_jpeg_pair(tmp_path: Path) -> None:
    camera = write_frame(tmp_path / "card" / "A_0001.JPG", Shot())
    with Image.open(camera) as picture:
        exif = picture.getexif()
        exif[0x0131] = "Pocket editor 3.1"
        picture.resize((4, 4)).save(tmp_path / "card" / "A_0001-small.JPG", exif=exif)
    done = run("audit", tmp_path / "card", "--logbook", tmp_path / "book.sqlite", cwd=tmp_path)
    assert "2 files make 1 frame: among them 1 edited copy" in done.stdout


def test_rates_on_a_part_of_the_frames_say_so(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    from auditor.store.logbook import open_logbook

    logbook = measured_sample(tmp_path)
    with open_logbook(logbook) as book, book.writing():
        book.execute("DELETE FROM readings WHERE frame_id > 30")
    for command in ("kits", "flags", "frames"):
        told = " ".join(run(command, "--logbook", logbook).stdout.split())
        assert re.search(r"\d+ of 88 frames are not measured yet.* auditor measure", told), command


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no device that is always full")
@pytest.mark.parametrize("command", ["frames", "trips", "kits"])
def test_a_full_output_is_one_line(archive: Path, tmp_path: Path, command: str) -> None:
    assert run("scan", archive, "--logbook", "book.sqlite", cwd=tmp_path).returncode == 0
    program = [sys.executable, "-c", "from auditor.cli.main import main; main()"]
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [*program, command, "--logbook", "book.sqlite"],
            stdout=full, stderr=subprocess.PIPE, text=True, cwd=tmp_path, check=False,
        )  # fmt: skip
    assert done.returncode == 1
    assert done.stderr.splitlines() == ["auditor: the output cannot be written: No space left on device"]


def test_the_list_of_commands_is_not_cut(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    lines = run("--help").stdout.splitlines()
    assert not any(line.endswith("...") for line in lines[1:])
    assert max(map(len, lines)) <= 80
