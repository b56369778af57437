"""What is left to do is said with the command that does it, and counts and names are written as people do."""

from __future__ import annotations

import json
import re
import shlex
from collections.abc import Callable
from pathlib import Path
from typing import Any
from unittest import mock

import pytest

from auditor.cli.scanned import print_outcomes
from auditor.jobs.measure import MeasureOutcome
from auditor.jobs.scan import ScanOutcome
from auditor.report.tables import csv_lines
from auditor.report.text.desk import read_card
from auditor.report.text.values import trip_named
from auditor.store.frame_facts import FactsTable
from tests.cli.program import run
from tests.frame_files import Shot, write_card


@pytest.fixture
def card(tmp_path: Path) -> Path:
    write_card(tmp_path / "my card", [Shot(number=n + 1, after_s=2.0 * n) for n in range(3)])
    return tmp_path / "my card"


@pytest.fixture
def logbook(card: Path, tmp_path: Path) -> Path:
    book = tmp_path / "my logbook.sqlite"
    assert run("scan", card, "--logbook", book).returncode == 0
    return book


def test_scan_ends_with_the_command_that_comes_next(card: Path, tmp_path: Path) -> None:
    book = tmp_path / "my logbook.sqlite"
    option = f"--logbook '{book}'"
    (tmp_path / "empty").mkdir()
    assert "Next" not in run("scan", tmp_path / "empty", "--logbook", book).stderr
    done = run("scan", card, "--logbook", book)
    assert done.stderr.splitlines()[-1] == f"Next: auditor measure {option}"
    measured = run("measure", "--logbook", book)
    assert measured.stderr.splitlines()[-1] == f"Next: auditor report {option}"
    assert not run("measure", "--logbook", book, "--quiet").stderr
    assert run("scan", card, "--logbook", book).stderr.splitlines()[-1] == f"Next: auditor report {option}"
    assert not run("scan", card, "--logbook", book, "--quiet").stderr


def test_measuring_what_can_be_reached_goes_on_to_the_report(card: Path, logbook: Path) -> None:
    """What is on a card that is away has its own line: the command once more would do nothing."""
    card.rename(card.with_name("elsewhere"))
    done = run("measure", "--logbook", logbook)
    assert "connect the card or disk, then run auditor measure" in done.stdout
    assert done.stderr.splitlines()[-1] == f"Next: auditor report --logbook '{logbook}'"


def test_a_strip_names_the_command_that_hands_its_frames_over(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    book = measured_sample(tmp_path)
    words = ("keepers", "strip", tmp_path / "strip.html", "--best", "1", "--logbook", book)
    done = run(*words)
    assert done.stdout == f"{tmp_path / 'strip.html'}\n"
    told = f"To hand them over: auditor keepers copy FOLDER --logbook {book}, with the same conditions"
    assert done.stderr.splitlines()[-1] == told
    assert "To hand" not in run(*words, "--dry-run").stderr
    assert "To hand" not in run(*words, "--iso", "1").stderr


def test_a_scan_says_once_what_it_passed_over(card: Path, tmp_path: Path) -> None:
    book = tmp_path / "my logbook.sqlite"
    assert "passed over" not in run("scan", card, "--logbook", book).stdout
    for name in ("1.MP4", "2.mp4", "3.MOV", "1.THM", "INDEX.BDM"):
        (card / name).write_bytes(b"x")
    done = run("scan", card, "--logbook", book)
    assert done.returncode == 0
    assert done.stdout.splitlines() == [
        f"{card}: 3 files, 0 read, 3 unchanged",
        "  2 MP4 and 1 MOV files passed over (raws, JPEGs, HEIFs and TIFFs are read)",
    ]
    assert "passed over" not in done.stderr
    (folder,) = json.loads(run("scan", card, "--logbook", book, "--json").stdout)["folders"]
    assert folder["passed_over"] == {"mp4": 2, "mov": 1}
    assert read_card(0, 0, 0, 0, {"mov": 1}).endswith(
        " 1 MOV file passed over (raws, JPEGs, HEIFs and TIFFs are read)."
    )


def test_check_tells_what_waits_and_how_to_go_on(logbook: Path) -> None:
    done = run("check", "--logbook", logbook)
    assert f"Not measured yet: 3 pictures. To go on: auditor measure --logbook '{logbook}'" in done.stdout
    assert "Out of reach" not in done.stdout
    assert done.returncode == 0


def test_check_lists_pictures_out_of_reach(card: Path, logbook: Path) -> None:
    """A card that was pulled out: by folder, with the reason, and what brings them back."""
    card.rename(card.with_name("elsewhere"))
    done = run("check", "--logbook", logbook)
    assert done.returncode == 3
    assert "Out of reach now, not measured yet: 3 pictures" in done.stdout
    assert re.search(r"my card[^\n]*: 3 pictures, No such file or directory", done.stdout)
    assert f"then: auditor measure --logbook '{logbook}'" in done.stdout
    document = json.loads(run("check", "--logbook", logbook, "--json").stdout)
    assert document["waiting"] == len(document["out_of_reach"]) == 3
    assert {row["reason"] for row in document["out_of_reach"]} == {"No such file or directory"}


def test_check_tells_of_a_missing_permission(card: Path, logbook: Path) -> None:
    """Refused by the system, as it is told to whoever is not root."""
    path = next(each for each in card.rglob("*") if each.is_file())
    opened = Path.open

    def refused(self: Path, *arguments: Any, **more: Any) -> Any:
        if self == path:
            raise PermissionError(13, "Permission denied", str(path))
        return opened(self, *arguments, **more)

    with mock.patch.object(Path, "open", refused):
        done = run("check", "--logbook", logbook)
    assert "Not measured yet: 2 pictures" in done.stdout
    assert ": 1 picture, Permission denied" in done.stdout


def test_a_measured_picture_that_is_away_is_no_work_left(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    book = measured_sample(tmp_path)
    with mock.patch("auditor.jobs.reach.as_path", return_value=tmp_path / "away"):
        done = run("check", "--logbook", book)
    assert "ut of reach" not in done.stdout


def test_the_page_and_the_terminal_name_the_logbook_that_was_given(
    card: Path, logbook: Path, tmp_path: Path
) -> None:
    done = run("report", "--logbook", logbook, "--into", tmp_path / "out")
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    option = f"--logbook {shlex.quote(str(logbook))}".replace("'", "&#39;")
    assert re.search(f"auditor measure {re.escape(option)}", page)
    assert re.search(f"auditor report --trip [^<]* {re.escape(option)}", page)
    assert f"auditor measure --logbook '{logbook}'" in " ".join(done.stderr.split())
    for words in (["kits"], ["flags"], ["frames"]):
        told = " ".join(run(*words, "--logbook", logbook).stdout.split())
        assert f"auditor measure --logbook '{logbook}'" in told


def test_thousands_are_set_apart(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    outcome = mock.create_autospec(ScanOutcome, instance=True)
    outcome.configure_mock(
        folder=tmp_path, seen=25_300, read=12_345, gone=1_200, back=1_001, unreadable=[], passed_over={}
    )
    print_outcomes([outcome], None)
    told = capsys.readouterr().out
    for number in ("25,300 files", "12,345 read", "12,955 unchanged", "1,001 back", "1,200 gone"):
        assert number in told


@pytest.mark.parametrize(
    ("name", "told"),
    [("2026-04-18", "trip 2026-04-18"), ("trip 2", "trip 2"), ("Trip to the estuary", "Trip to the estuary")],
)
def test_a_trip_is_called_a_trip_once(name: str, told: str) -> None:
    assert trip_named(name) == told


def test_a_trip_called_trip_says_so_once_everywhere(logbook: Path) -> None:
    run("declare", "trip", "trip 2", "--trip", "1", "--logbook", logbook)
    for words in (["kits"], ["flags"], ["frames"]):
        told = run(*words, "--logbook", logbook).stdout
        assert "rip 2" in told
        assert "rip trip" not in told


def test_flags_are_words_that_people_read_with_the_options_word_beside(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    book = measured_sample(tmp_path)
    told = run("flags", "--logbook", book).stdout
    assert re.search(r"^  Blurred by motion: \d+ \(--flag smeared\)$", told, flags=re.MULTILINE)
    listed = run("frames", "--flag", "smeared", "--logbook", book).stdout
    rows = listed.split("\nKit ", maxsplit=1)[0]
    assert "blurred by motion" in rows
    assert "smeared" not in rows
    assert "smeared = blurred by motion" in " ".join(listed.split())
    assert listed.splitlines()[-1].endswith("; blurred by motion")


def test_every_kit_flag_begins_with_a_capital(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    book = measured_sample(tmp_path)
    flagged = [
        {"kit_name": "F2", "flag": flag, "reason": "of something"}
        for flag in ("fell_during_trip", "hit_rate_fell", "no_detail_gain")
    ]
    with mock.patch("auditor.report.text.comparisons.kit_flags", return_value=flagged):
        told = run("flags", "--logbook", book).stdout.split("Against the bare lens")[0]
    lines = [line for line in told.splitlines() if line.endswith("of something")]
    assert [line.strip()[0] for line in lines] == ["F", "F", "N"]


def test_a_refusal_is_not_in_the_words_of_a_library(logbook: Path) -> None:
    told = run("kits", "--advice-from", "x", "--logbook", logbook).stderr
    assert "value error" not in told.lower()
    assert "'record', 'shown'" in told


def test_moments_are_written_as_people_do(logbook: Path) -> None:
    span = ("--from", "2020-01-01", "--to", "2020-01-02")
    (body,) = {row["body_serial"] for row in json.loads(run("frames", "--json", "--logbook", logbook).stdout)}
    told = run("declare", "clock", "--body", body, "--offset", "+1", *span, "--logbook", logbook).stderr
    assert re.search(r"run from \d{4}-\d\d-\d\d \d\d:\d\d to \d{4}-\d\d-\d\d \d\d:\d\d by its own", told)


def test_pictures_that_were_cut_anew_are_counted(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    book = measured_sample(tmp_path)
    outcome = MeasureOutcome(measured=0, recut=1_234)
    with mock.patch("auditor.cli.audit._measure", return_value=outcome):
        done = run("measure", "--logbook", book)
        document = json.loads(run("measure", "--json", "--logbook", book).stdout)
    assert "1,234 pictures of focus areas cut anew" in done.stdout
    assert document["cut_anew"] == 1_234


def test_bytes_of_a_file_name_do_not_reach_a_terminal_by_way_of_csv() -> None:
    part = FactsTable(columns=("path",), rows=[("/card/\x1b[31mx\n.JPG",), ("=1+1",)])
    assert "".join(csv_lines([part])).splitlines() == ["path", r"/card/\x1b[31mx\n.JPG", "'=1+1"]
