"""What no file records, said on the command line: it changes tables, and can be taken back."""

from __future__ import annotations

import json
from dataclasses import replace
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


def declare(logbook: Path, *arguments: str) -> str:
    done = run("declare", *arguments, "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    return done.stdout


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


def body_of_newest(logbook: Path) -> Any:
    return json.loads(run("declare", "list", "--json", "--logbook", logbook).stdout)[-1]["body"]


def test_a_body_is_known_by_what_tables_print_of_it(tmp_path: Path) -> None:
    """In short and in full, as `kits` and `frames` call kits by default and in JSON."""
    bodies = [("Testmaker S2", "93"), ("Testmaker F2", "A10417"), ("Testmaker F2", "B7733"), ("Pocket", None)]
    write_card(
        tmp_path / "card",
        [Shot(number=n, after_s=60.0 * n, model=m, serial=serial) for n, (m, serial) in enumerate(bodies)],
    )
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    table = run("kits", "--all-trips", "--logbook", path).stdout
    known = {
        "S2": "Testmaker S2", "s2": "Testmaker S2", "testmaker s2": "Testmaker S2", "93": "93",
        "F2 #0417": "A10417", "Testmaker F2 #7733": "B7733", "Testmaker F2 (B7733)": "B7733",
        "F2": "Testmaker F2", "a10417": "A10417", "pocket": "Pocket",
    }  # fmt: skip
    for name, word in known.items():
        declare(path, "body", "--body", name, "--iso-ceiling", "3200")
        assert body_of_newest(path) == word, name
    for shown in ("S2", "F2 #0417", "Pocket"):
        assert f" {shown} 500 mm" in table
    shown_twice = run("declare", "list", "--logbook", path).stdout
    assert "Testmaker F2 (A10417): the highest ISO that you accept is 3200; " in shown_twice


@pytest.mark.parametrize("name", ["S2", "Testmaker S2", "TESTMAKER S-2"])
def test_a_body_that_new_firmware_spells_otherwise_is_one(tmp_path: Path, name: str) -> None:
    models = ("Testmaker S2", "Testmaker S2", "TESTMAKER S-2")
    write_card(
        tmp_path / "card",
        [Shot(number=n, after_s=60.0 * n, model=model, serial="93") for n, model in enumerate(models)],
    )
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    done = run("declare", "converter", "--body", name, "--factor", "2", "--always", "--logbook", path)
    assert "3 frames changed" in done.stdout


def test_two_models_with_one_serial_number_stay_two_bodies(tmp_path: Path) -> None:
    two = enumerate(("F2", "S2"))
    shots = [Shot(number=n, after_s=60.0 * n, model=model, serial="93") for n, model in two]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    done = run("declare", "converter", "--body", "S2", "--factor", "2", "--always", "--logbook", path)
    assert "1 frame changed" in done.stdout


def test_a_name_of_several_bodies_is_refused_with_the_choices(tmp_path: Path) -> None:
    bodies = [("F2", "A10417"), ("F2", "B20417"), ("F2", None)]
    write_card(
        tmp_path / "card",
        [Shot(number=n, after_s=60.0 * n, model=m, serial=serial) for n, (m, serial) in enumerate(bodies)],
    )
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    done = run("declare", "body", "--body", "F2 #0417", "--iso-ceiling", "3200", "--logbook", path)
    assert done.returncode == 1
    assert error_line(done).endswith("Give one of these: F2 (A10417); F2 (B20417).")
    declare(path, "body", "--body", "F2 (B20417)", "--iso-ceiling", "3200")
    assert body_of_newest(path) == "B20417"


@pytest.mark.parametrize("name", ["F2 (no serial)", "testmaker f2 (NO SERIAL)"])
def test_a_body_that_tables_show_without_a_serial_number_is_declared_about_alone(
    tmp_path: Path, name: str
) -> None:
    bodies = [("Testmaker F2", "A10417"), ("Testmaker F2", None), ("Testmaker F2", None)]
    write_card(
        tmp_path / "card",
        [Shot(number=n, after_s=60.0 * n, model=m, serial=serial) for n, (m, serial) in enumerate(bodies)],
    )
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    assert " F2 (no serial) 500 mm" in run("kits", "--all-trips", "--logbook", path).stdout
    done = declare(path, "converter", "--body", name, "--factor", "2", "--always")
    assert "2 frames changed" in done
    assert [row["converter_factor"] for row in frames(path)] == [1.0, 2.0, 2.0]
    listed = run("declare", "list", "--logbook", path).stdout
    assert "A 2x converter was on Testmaker F2 (no serial) at all times; " in listed
    run("declare", "undo", "1", "--logbook", path)
    assert [row["converter_factor"] for row in frames(path)] == [1.0, 1.0, 1.0]


def test_a_hint_about_a_body_without_a_serial_number_is_about_no_other_of_its_model(tmp_path: Path) -> None:
    """Its second burst reads a stop darker; the body beside it shot at the same moment, and stays bare."""
    of_none = Shot(model="F2", serial=None)
    shots = [
        of_none,
        replace(of_none, number=2, after_s=60.0, iso=1600),
        replace(of_none, number=12, after_s=60.0, serial="A10417"),
    ]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    assert "1. F2 (no serial), " in run("declare", "hints", "--logbook", path).stdout
    declare(path, "hints", "--accept", "1")
    factors = {(row["body_serial"], row["iso"]): row["converter_factor"] for row in frames(path)}
    assert factors == {(None, 800): 1.0, (None, 1600): 1.4, ("A10417", 800): 1.0}


def test_facts_of_a_body_raise_and_settle_flags(logbook: Path) -> None:
    declare(logbook, "converter", "--body", "1001", "--factor", "2", "--always")
    assert all("iso_pushed" in row["flags"] for row in frames(logbook)[:4])
    declare(logbook, "body", "--body", "body one", "--iso-ceiling", "25600", "--focus-limit", "8")
    flags = [json.loads(row["flags"]) for row in frames(logbook)]
    assert flags == [["beyond_focus_limit"]] * 4 + [[]]
    declare(logbook, "body", "--body", "1001", "--focus-limit", "11", "--sensor-diagonal", "28.2")
    row = frames(logbook)[0]
    assert json.loads(row["flags"]) == []
    assert row["sensor_diagonal_mm"] == pytest.approx(28.2)


def test_base_iso_bounds_what_the_bare_lens_would_have_needed(logbook: Path) -> None:
    declare(logbook, "converter", "--body", "1001", "--factor", "2", "--always")
    declare(logbook, "body", "--body", "1001", "--base-iso", "6400")
    assert frames(logbook)[0]["iso_without_converter"] == 6400


def test_a_clock_that_was_off_moves_frames(logbook: Path) -> None:
    declare(logbook, "clock", "--body", "Pocket", "--offset", "-4:00:00", "--always")
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
    declare(logbook, "exclude", "--body", "Pocket", "--always")
    declare(logbook, "exclude", str(tmp_path / "card" / "DCIM" / "100TEST" / "TST_0002.JPG"))
    kits = json.loads(run("kits", "--all-trips", "--json", "--logbook", logbook).stdout)["kits"]
    assert [(kit["kit_name"], kit["frames"]) for kit in kits] == [("Body One + Long 500mm f/5.6", 3)]
    left_out = [row for row in frames(logbook) if row["trip_id"] is None]
    assert len(left_out) == 2
    assert json.loads(left_out[0]["missing"])["trip_id"] == "excluded"


def test_frames_left_out_by_their_files_come_back_when_that_is_undone(logbook: Path, tmp_path: Path) -> None:
    """Once it is undone no statement names a file any more: what changes is what was left out before."""
    before = [row["frame_id"] for row in frames(logbook) if row["trip_id"] is not None]
    declare(logbook, "exclude", str(tmp_path / "card" / "DCIM" / "100TEST"))
    assert not any(row["trip_id"] for row in frames(logbook))
    assert run("declare", "undo", "1", "--logbook", logbook).returncode == 0
    assert [row["frame_id"] for row in frames(logbook) if row["trip_id"] is not None] == before


def test_history_tells_who_and_when_and_what_was_undone(logbook: Path) -> None:
    declare(logbook, "converter", "--body", "1001", "--factor", "1.4", "--always")
    declare(logbook, "undo", "1")
    (one,) = json.loads(run("declare", "list", "--json", "--logbook", logbook).stdout)
    assert (one["kind"], one["body"], one["facts"]) == ("converter", "1001", {"factor": 1.4})
    assert one["said_by"]
    assert one["undone_at"] >= one["said_at"]
    assert "undone" in run("declare", "list", "--logbook", logbook).stdout
    again = run("declare", "undo", "1", "--logbook", logbook)
    assert (again.returncode, again.stderr.strip()) == (
        1, f"auditor: Declaration 1 was undone already, on {one['undone_at'][:10]}.",
    )  # fmt: skip


def test_a_weight_changes_no_frame_and_none_is_counted(logbook: Path) -> None:
    done = run("declare", "weight", "3.1 kg", "--converter", "2", "--logbook", logbook)
    assert done.stdout.splitlines()[0] == "Declared as number 1."
    assert (
        run("declare", "undo", "1", "--logbook", logbook).stdout
        == "Undone: 1. The 2x converter weighs 3100 g.\n"
    )


@pytest.mark.parametrize(
    ("arguments", "code", "told"),
    [
        (["converter", "--body", "Nobody", "--factor", "1.4", "--always"], 1, "Body One 1001"),
        (["undo", "7"], 1, "no declaration 7"),
        (["trip", "X", "--trip", "Africa"], 1, "no trip 'Africa'"),
        (["converter", "--body", "1001", "--factor", "0.7"], 2, "greater than or equal to 1"),
        (["converter", "--body", "1001", "--factor", "2", "--from", "noon"], 2, "noon"),
        (["converter", "--body", "1001", "--factor", "2", "--from", "2026-05", "--to", "2026-04-01"], 2, ""),
        (["converter", "--body", "1001", "--factor", "2"], 2, "--always"),
        (["converter", "--body", "1001", "--factor", "2", "--from", "2026-04-18"], 2, "--always"),
        (["converter", "--body", "1001", "--factor", "2", "--always", "--to", "2026-04-18"], 2, "or --from"),
        (
            ["converter", "--body", "1001", "--factor", "2", "--from", "2026-04-18", "--to", "2099-04-18"],
            2,
            "future",
        ),
        (
            ["converter", "--body", "1001", "--factor", "2", "--from", "2025-04-18", "--to", "2025-04-19"],
            1,
            "run from 2026-04-18 06:00 to 2026-04-18 09:00",
        ),
        (["converter", "--body", "10001", "--factor", "2", "--always"], 1, "Did you mean '1001'?"),
        (["clock", "--body", "1001", "--offset", "an hour", "--always"], 2, "+01:00"),
        (["clock", "--body", "1001", "--offset", "+25", "--always"], 2, "more than a day"),
        (["clock", "--body", "1001", "--offset", "+1:75", "--always"], 2, "+01:00"),
        (["clock", "--body", "1001", "--offset", "+1"], 2, "--always"),
        (["exclude", "nosuch"], 1, "knows no frames there"),
        (["exclude", ""], 2, ""),
        (["exclude", "--body", "Pocket"], 2, "--always"),
        (["trip", ""], 2, "empty"),
        (["trip", "X", "--from", "2025-04-18", "--to", "2025-04-19"], 1, "no frames"),
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


@pytest.mark.parametrize(
    ("offset", "hour"), [("+1", "07"), ("1:00", "07"), ("+01:00", "07"), ("-0:02:30", "05"), ("-24", "06")]
)
def test_offsets_as_people_write_them(logbook: Path, offset: str, hour: str) -> None:
    declare(logbook, "clock", "--body", "1001", f"--offset={offset}", "--always")
    assert frames(logbook)[0]["taken_at"][11:13] == hour


def test_a_clock_is_put_right_on_one_trip_and_not_on_another(logbook: Path, tmp_path: Path) -> None:
    """The span is by the camera's own clock."""
    write_card(tmp_path / "late", [Shot(number=60 + n, after_s=9 * 86_400.0 + n * 3600) for n in range(3)])
    run("scan", tmp_path / "late", "--logbook", logbook)
    before = [row["taken_at"] for row in frames(logbook)]
    done = run(
        "declare", "clock", "--body", "1001", "--offset", "+1", "--from", "2026-04-27", "--to", "2026-04-28",
        "--logbook", logbook,
    )  # fmt: skip
    assert "3 frames changed." in done.stdout
    assert "TST_0060.JPG: taken 2026-04-27 06:00:00 -> 2026-04-27 07:00:00" in done.stdout
    after = [row["taken_at"] for row in frames(logbook)]
    assert after[:5] == before[:5]
    assert [moment[:13] for moment in after[5:]] == ["2026-04-27T07", "2026-04-27T08", "2026-04-27T09"]


def test_every_declaration_says_how_many_frames_it_changed_and_shows_one(logbook: Path) -> None:
    span = ("--from", "2026-04-18T07:00", "--to", "2026-04-18T08:00", "--logbook", logbook)
    done = run("declare", "converter", "--body", "1001", "--factor", "1.4", *span)
    assert "2 frames changed." in done.stdout
    assert "TST_0001.JPG: converter none -> 1.4x" in done.stdout
    assert "TST_0001.JPG: focal length 500 mm -> 700 mm" in done.stdout
    assert max(len(line) for line in done.stdout.splitlines() if "--logbook" not in line) <= 80
    done = run("declare", "undo", "1", "--logbook", logbook)
    assert "2 frames changed." in done.stdout
    assert "TST_0001.JPG: converter 1.4x -> none" in done.stdout


def test_a_frame_that_records_another_converter_keeps_it(tmp_path: Path) -> None:
    """300 mm that reads 600 mm at f/8 stands behind a 2x (geometry), whatever is declared."""
    bare = Shot(number=1, lens="Bright 300mm f/4", focal_mm=300, f_number=4)
    twice = Shot(number=2, after_s=60, lens="Bright 300mm f/4", focal_mm=600, f_number=8)
    write_card(tmp_path / "card", [bare, twice])
    path = tmp_path / "logbook.sqlite"
    run("scan", tmp_path / "card", "--logbook", path)
    done = run("declare", "converter", "--body", "1001", "--factor", "1.4", "--always", "--logbook", path)
    assert "1 frame changed." in done.stdout
    assert "Recorded another converter, which stands: 1 frame." in done.stdout
    assert [(row["converter_factor"], row["converter_source"]) for row in frames(path)] == [
        (1.4, "declared"), (2.0, "geometry"),
    ]  # fmt: skip
    late = ("--from", "2026-04-18T06:01", "--to", "2026-04-18T06:01")
    done = run("declare", "converter", "--body", "1001", "--factor", "1.4", *late, "--logbook", path)
    assert done.returncode == 1
    assert "the frames in that span record another converter" in done.stderr


def test_a_trip_that_was_named_with_its_ends_can_be_named_again(logbook: Path, tmp_path: Path) -> None:
    declare(logbook, "trip", "Marsh", "--from", "2026-04-18", "--to", "2026-04-18")
    done = run("declare", "trip", "Estuary", "--trip", "Marsh", "--logbook", logbook)
    assert "5 frames changed." in done.stdout
    assert "trip Marsh -> Estuary" in done.stdout
    with open_logbook(logbook) as book:
        assert [row[0] for row in book.query("SELECT name FROM trips")] == ["Estuary"]
    done = run("declare", "trip", "Estuary", "--logbook", logbook)
    assert done.returncode == 1
    assert "already" in error_line(done)


def test_a_name_stays_with_one_part_of_a_trip_that_is_split(logbook: Path, tmp_path: Path) -> None:
    declare(logbook, "trip", "Estuary")
    declare(logbook, "trip", "Dawn", "--from", "2026-04-18T06:00", "--to", "2026-04-18T06:30")
    with open_logbook(logbook) as book:
        named = [tuple(row) for row in book.query("SELECT name, frames FROM trips ORDER BY first_at")]
    assert named == [("Dawn", 1), ("Estuary", 4)]


class TestDrop:
    def test_a_folder_goes_with_its_frames_and_trips(self, logbook: Path, tmp_path: Path) -> None:
        write_card(tmp_path / "late", [Shot(number=60, after_s=9 * 86_400.0)])
        run("scan", tmp_path / "late", "--logbook", logbook)
        done = run("drop", tmp_path / "card", "--logbook", logbook)
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
        run("drop", tmp_path / "card", "--logbook", logbook)
        (row,) = frames(logbook)
        assert row["path"].startswith(str(tmp_path / "copy"))

    def test_part_of_a_trip(self, logbook: Path, tmp_path: Path) -> None:
        write_card(tmp_path / "more", [Shot(number=50, after_s=7200.5)])
        run("scan", tmp_path / "more", "--logbook", logbook)
        run("drop", tmp_path / "more", "--logbook", logbook)
        with open_logbook(logbook) as book:
            assert [row[0] for row in book.query("SELECT frames FROM trips")] == [5]
            assert len(book.query("SELECT * FROM encounters")) == 5

    def test_what_is_not_known(self, logbook: Path, tmp_path: Path) -> None:
        done = run("drop", tmp_path / "elsewhere", "--logbook", logbook)
        assert done.returncode == 1
        assert "knows no files there" in error_line(done)


HOSTILE = "$(touch gone)'`reboot`"


class TestHints:
    """A body whose serial would be a command, were it pasted into a shell unquoted."""

    @pytest.fixture
    def book(self, tmp_path: Path) -> Path:
        shots = []
        for burst, iso in enumerate((400, 800, 400, 400, 800, 400)):
            shots += [
                Shot(number=3 * burst + n, after_s=60 * burst + 7300 * (burst // 3) + n * 0.2, iso=iso)
                for n in range(3)
            ]
        write_card(tmp_path / "card", [replace(shot, serial=HOSTILE) for shot in shots])
        path = tmp_path / "logbook.sqlite"
        assert run("scan", tmp_path / "card", "--logbook", path).returncode == 0
        return path

    def test_they_are_numbered_questions_that_say_what_accepting_changes(self, book: Path) -> None:
        text = run("declare", "hints", "--logbook", book).stdout
        assert [line[:2] for line in text.splitlines() if line[:1].isdigit()] == ["1.", "2."]
        assert text.count("Accepting it changes 3 frames.") == 2
        assert "TST_0003.JPG: converter none -> 1.4x" in text
        assert max(len(line) for line in text.splitlines() if "--logbook" not in line) <= 80
        commands = [line for line in text.splitlines() if "auditor declare" in line]
        assert commands
        assert not any("touch" in command for command in commands)
        assert "hints --accept 1,2 " in commands[0]  # numbers that there are
        assert "hints --reject 2 " in commands[1]
        document = json.loads(run("declare", "hints", "--json", "--logbook", book).stdout)
        assert [(hint["number"], hint["frames"]) for hint in document] == [(1, 3), (2, 3)]

    def test_what_has_nothing_to_accept_is_not_named_to_be_accepted(self, book: Path, tmp_path: Path) -> None:
        far_off_s = 40 * 365 * 24 * 3600.0
        write_card(tmp_path / "late", [Shot(number=90, after_s=far_off_s, model="Pocket", serial="2")])
        run("scan", tmp_path / "late", "--logbook", book)
        text = run("declare", "hints", "--logbook", book).stdout
        assert "3. Pocket, " in text
        assert "which lies in the future" in text
        assert "hints --accept 1,2 " in text
        assert "hints --reject 3 " in text
        run("declare", "hints", "--reject", "1,2", "--logbook", book)
        text = run("declare", "hints", "--logbook", book).stdout
        assert "--accept" not in text
        assert "hints --reject 1 " in text

    def test_all_accepts_what_can_be_accepted_and_says_what_cannot(self, book: Path, tmp_path: Path) -> None:
        far_off_s = 40 * 365 * 24 * 3600.0
        write_card(tmp_path / "late", [Shot(number=90, after_s=far_off_s, model="Pocket", serial="2")])
        run("scan", tmp_path / "late", "--logbook", book)
        done = run("declare", "hints", "--accept", "all", "--logbook", book)
        assert done.returncode == 0, done.stderr
        assert "Accepted: 2 hints." in done.stdout
        (line,) = [line for line in done.stdout.splitlines() if line.startswith("Not accepted: ")]
        assert line.startswith("Not accepted: hint 3 (Pocket). It is about a wrong date")
        assert [row["converter_factor"] for row in frames(book)].count(1.4) == 6
        left = json.loads(run("declare", "hints", "--json", "--logbook", book).stdout)
        assert [hint["body"] for hint in left] == ["2"]
        alone = run("declare", "hints", "--accept", "all", "--logbook", book)
        assert alone.returncode == 2
        assert "hint 1 (Pocket). It is about a wrong date" in error_line(alone)

    def test_several_are_accepted_at_once_and_undone_as_one(self, book: Path) -> None:
        done = run("declare", "hints", "--accept", "1-2", "--logbook", book)
        assert "Accepted: 2 hints." in done.stdout
        assert "6 frames changed." in done.stdout
        assert [row["converter_factor"] for row in frames(book)].count(1.4) == 6
        assert "No hints." in run("declare", "hints", "--logbook", book).stdout
        assert "declared with 1" in " ".join(run("declare", "list", "--logbook", book).stdout.split())
        run("declare", "undo", "2", "--logbook", book)
        assert [row["converter_factor"] for row in frames(book)].count(1.4) == 0

    def test_what_was_rejected_is_not_shown_again(self, book: Path) -> None:
        done = run("declare", "hints", "--reject", "1", "--accept", "2", "--logbook", book)
        assert "Rejected, as number 2: 1 hint." in done.stdout
        assert "No hints." in run("declare", "hints", "--logbook", book).stdout
        run("declare", "undo", "2", "--logbook", book)
        assert run("declare", "hints", "--logbook", book).stdout.startswith("1. ")

    def test_check_counts_them_and_names_the_trip(self, book: Path) -> None:
        text = run("check", "--logbook", book).stdout
        assert "Hints: 2, on 2026-04-18.\nTo see them: auditor declare hints" in text

    @pytest.mark.parametrize("numbers", ["0", "3", "2-1", "one", "1,,2", ""])
    def test_numbers_that_there_are_not(self, book: Path, numbers: str) -> None:
        done = run("declare", "hints", f"--accept={numbers}", "--logbook", book)
        assert done.returncode == 2
        assert error_line(done).startswith("auditor declare hints: ")
        assert json.loads(run("declare", "list", "--json", "--logbook", book).stdout) == []


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            ["clock", "--body", "1001", "--offset", "-0:02:30", "--always"],
            "The clock of Body One was 2 minutes and 30 seconds ahead at all times; ",
        ),
        (
            ["body", "--body", "1001", "--focus-limit", "8", "--auto-iso"],
            "it focuses well up to f/8 and its ISO was on auto in manual exposure; ",
        ),
        (
            ["converter", "--body", "1001", "--factor", "1.4", "--from", "2026-04-18", "--to", "2026-04-18"],
            "A 1.4x converter was on Body One, 18 April 2026; ",
        ),
        (["weight", "3.1 kg", "--converter", "2"], "The 2x converter weighs 3100 g; "),
    ],
)
def test_the_list_says_facts_with_their_units(logbook: Path, arguments: list[str], told: str) -> None:
    done = run("declare", *arguments, "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    listed = run("declare", "list", "--logbook", logbook).stdout
    assert told in " ".join(listed.split()) + " "
    assert max(map(len, listed.splitlines())) <= 80
