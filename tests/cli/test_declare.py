"""What no file records, said on the command line: it changes tables, and can be taken back."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.store.logbook import open_logbook
from tests.cli.program import error_line, run
from tests.frame_files import Shot, write_card

FRAMES = "SELECT * FROM frame_facts ORDER BY taken_at"


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    """Four frames an hour apart on one body, one on another."""
    shots = [Shot(number=n, after_s=n * 3600.0, iso=12_800) for n in range(4)]
    shots.append(Shot(number=9, after_s=4 * 3600.0, model="Pocket", serial=None, lens=None, iso=12_800))
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    assert run("scan", tmp_path / "card", "--logbook", path).returncode == 0
    return path


def frames(logbook: Path) -> list[dict[str, Any]]:
    with open_logbook(logbook) as book:
        return [dict(row) for row in book.query(FRAMES)]


def declare(logbook: Path, *arguments: str) -> None:
    done = run("declare", *arguments, "--logbook", logbook)
    assert done.returncode == 0, done.stderr


def test_a_converter_over_a_span_of_time(logbook: Path) -> None:
    """500 mm f/5.6 behind a declared 1.4x works as 700 mm f/8, one stop darker (common practice)."""
    before = frames(logbook)
    declare(
        logbook, "converter", "--body", "1001", "--factor", "1.4",
        "--from", "2026-04-18T07:00", "--to", "2026-04-18T08:00",
    )  # fmt: skip
    after = frames(logbook)
    assert [row["converter_source"] for row in after] == ["none", "declared", "declared", "none", "unknown"]
    assert [row["focal_length_mm"] for row in after] == [500, 700, 700, 500, 500]
    assert [row["focal_length_recorded_mm"] for row in after] == [500] * 5
    assert round(after[1]["f_number"], 2) == 7.84
    assert after[1]["forced_push_ev"] == 1
    # The light was a stop brighter than the settings of the bare lens would tell.
    assert after[1]["light_value_ev"] - before[1]["light_value_ev"] == pytest.approx(0.97, abs=0.01)
    assert after[1]["kit_name"].endswith("+ 1.4x")
    declare(logbook, "undo", "1")
    assert frames(logbook) == before


def test_facts_of_a_body_raise_and_settle_flags(logbook: Path) -> None:
    declare(logbook, "converter", "--body", "1001", "--factor", "2")
    assert all("iso_pushed" in row["flags"] for row in frames(logbook)[:4])
    declare(logbook, "body", "--body", "body one", "--iso-ceiling", "25600", "--focus-limit", "8")
    flags = [json.loads(row["flags"]) for row in frames(logbook)]
    assert flags == [["beyond_focus_limit"]] * 4 + [[]]
    declare(logbook, "body", "--body", "1001", "--focus-limit", "11", "--sensor-diagonal", "28.2")
    row = frames(logbook)[0]
    assert json.loads(row["flags"]) == []
    assert row["sensor_diagonal_mm"] == pytest.approx(28.2)


def test_base_iso_bounds_what_the_bare_lens_would_have_needed(logbook: Path) -> None:
    declare(logbook, "converter", "--body", "1001", "--factor", "2")
    declare(logbook, "body", "--body", "1001", "--base-iso", "6400")
    assert frames(logbook)[0]["iso_without_converter"] == 6400


def test_a_clock_that_was_off_moves_frames(logbook: Path) -> None:
    declare(logbook, "clock", "--body", "Pocket", "--offset", "-4:00:00")
    first_two = frames(logbook)[:2]
    assert {row["body_model"] for row in first_two} == {"Body One", "Pocket"}
    assert len({row["taken_at"][:19] for row in first_two}) == 1
    assert len({row["encounter_id"] for row in first_two}) == 1
    declare(logbook, "undo", "1")
    assert frames(logbook)[-1]["body_model"] == "Pocket"


def test_a_trip_has_a_name_that_survives_a_rebuild(logbook: Path, tmp_path: Path) -> None:
    declare(logbook, "trip", "Spring tides")
    write_card(tmp_path / "more", [Shot(number=50, after_s=20 * 3600.0)])
    run("scan", tmp_path / "more", "--logbook", logbook)
    done = run("kits", "--logbook", logbook, "--trip", "Spring tides")
    assert "Spring tides, 6 frames" in done.stdout


def test_a_trip_with_ends_of_its_own(logbook: Path, tmp_path: Path) -> None:
    write_card(tmp_path / "late", [Shot(number=60, after_s=4 * 86_400.0)])
    run("scan", tmp_path / "late", "--logbook", logbook)
    declare(logbook, "trip", "Half a day", "--from", "2026-04-18T07:30", "--to", "2026-04-22")
    with open_logbook(logbook) as book:
        named = [tuple(row) for row in book.query("SELECT name, frames FROM trips ORDER BY first_at")]
    assert named == [("2026-04-18", 2), ("Half a day", 4)]
    declare(logbook, "undo", "1")
    with open_logbook(logbook) as book:
        named = [tuple(row) for row in book.query("SELECT name, frames FROM trips ORDER BY first_at")]
    assert named == [("2026-04-18", 5), ("2026-04-22", 1)]


def test_frames_left_out_are_in_no_table_but_in_the_logbook(logbook: Path, tmp_path: Path) -> None:
    declare(logbook, "exclude", "--body", "Pocket")
    declare(logbook, "exclude", str(tmp_path / "card" / "DCIM" / "100TEST" / "TST_0002.JPG"))
    kits = json.loads(run("kits", "--all-trips", "--json", "--logbook", logbook).stdout)["kits"]
    assert [(kit["kit_name"], kit["frames"]) for kit in kits] == [("Body One + Long 500mm f/5.6", 3)]
    left_out = [row for row in frames(logbook) if row["trip_id"] is None]
    assert len(left_out) == 2
    assert json.loads(left_out[0]["missing"])["trip_id"] == "excluded"


def test_history_tells_who_and_when_and_what_was_undone(logbook: Path) -> None:
    declare(logbook, "converter", "--body", "1001", "--factor", "1.4")
    declare(logbook, "undo", "1")
    (one,) = json.loads(run("declare", "list", "--json", "--logbook", logbook).stdout)
    assert (one["kind"], one["body"], one["facts"]) == ("converter", "1001", {"factor": 1.4})
    assert one["said_by"]
    assert one["undone_at"] >= one["said_at"]
    assert "undone" in run("declare", "list", "--logbook", logbook).stdout


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (["converter", "--body", "Nobody", "--factor", "1.4"], 1, "Body One 1001"),
        (["undo", "7"], 1, "no declaration 7"),
        (["trip", "X", "--trip", "Africa"], 1, "no trip 'Africa'"),
        (["converter", "--body", "1001", "--factor", "0.7"], 2, "greater than or equal to 1"),
        (["converter", "--body", "1001", "--factor", "2", "--from", "noon"], 2, "noon"),
        (["converter", "--body", "1001", "--factor", "2", "--from", "2026-05", "--to", "2026-04-01"], 2, ""),
        (["clock", "--body", "1001", "--offset", "an hour"], 2, "+H:MM"),
        (["body", "--body", "1001"], 2, "at least one"),
        (["exclude"], 2, "--body"),
        (["trip", "X", "--from", "2026-04-18"], 2, "--to"),
    ],
)
def test_what_cannot_be_declared(logbook: Path, arguments: list[str], code: int, told: str) -> None:
    done = run("declare", *arguments, "--logbook", logbook)
    assert done.returncode == code, done.stderr
    assert told in (error_line(done) if code == 1 else done.stderr)
    assert json.loads(run("declare", "list", "--json", "--logbook", logbook).stdout) == []


class TestForget:
    def test_a_folder_goes_with_its_frames_and_trips(self, logbook: Path, tmp_path: Path) -> None:
        write_card(tmp_path / "late", [Shot(number=60, after_s=9 * 86_400.0)])
        run("scan", tmp_path / "late", "--logbook", logbook)
        done = run("forget", tmp_path / "card", "--logbook", logbook)
        assert "5 files and 5 frames" in done.stdout
        assert len(frames(logbook)) == 1
        with open_logbook(logbook) as book:
            assert [row[0] for row in book.query("SELECT frames FROM trips")] == [1]
            for table in ("encounters", "bursts", "scenes", "membership"):
                assert len(book.query(f"SELECT * FROM {table}")) == 1
        assert len(list((tmp_path / "card").rglob("*.JPG"))) == 5

    def test_a_frame_with_a_copy_elsewhere_stays(self, logbook: Path, tmp_path: Path) -> None:
        write_card(tmp_path / "copy", [Shot(number=1, after_s=3600.0, iso=12_800)])
        run("scan", tmp_path / "copy", "--logbook", logbook)
        run("forget", tmp_path / "card", "--logbook", logbook)
        (row,) = frames(logbook)
        assert row["path"].startswith(str(tmp_path / "copy"))

    def test_part_of_a_trip(self, logbook: Path, tmp_path: Path) -> None:
        write_card(tmp_path / "more", [Shot(number=50, after_s=7200.5)])
        run("scan", tmp_path / "more", "--logbook", logbook)
        run("forget", tmp_path / "more", "--logbook", logbook)
        with open_logbook(logbook) as book:
            assert [row[0] for row in book.query("SELECT frames FROM trips")] == [5]
            assert len(book.query("SELECT * FROM encounters")) == 5

    def test_what_is_not_known(self, logbook: Path, tmp_path: Path) -> None:
        done = run("forget", tmp_path / "elsewhere", "--logbook", logbook)
        assert done.returncode == 1
        assert "knows no files there" in error_line(done)
