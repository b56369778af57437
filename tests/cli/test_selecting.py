"""The options that select frames: one language for every command, and a refusal with the nearest word."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from tests.cli.program import run


@pytest.fixture(scope="module")
def logbook(measured_sample: Callable[[Path], Path], tmp_path_factory: pytest.TempPathFactory) -> Path:
    return measured_sample(tmp_path_factory.mktemp("selection"))


def frames(logbook: Path, *options: object) -> list[dict[str, Any]]:
    done = run("frames", "--logbook", logbook, "--json", *options)
    assert done.returncode == 0, done.stderr
    rows: list[dict[str, Any]] = json.loads(done.stdout)
    return rows


@pytest.mark.parametrize("command", ["frames", "kits", "flags", "report"])
@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--flag", "smaered"), "Did you mean 'smeared'?"),
        (("--verdict", "mis"), "Did you mean 'miss'?"),
        (("--kit", "F2 500 mm x 1.5"), "Did you mean 'F2 500 mm x 1.4'?"),
        (("--kit", "bogus"), "1 = F2 500 mm; 2 = F2 500 mm x 1.4"),
        (("--kit", "99"), "there is no kit '99'"),
        (("--converter", "1.7"), "Known: 1 (bare); 1.4; 2"),
        (("--day", "2026-04-21"), "The nearest days: 2026-04-18, 2026-04-19"),
        (("--day", "yesterday"), "write it as 2026-04-18"),
        (("--scene", "9999"), "there is no scene 9999"),
        (("--trip", "1", "--all-trips"), "choose one of --trip and --all-trips"),
        (("--bare", "--converter", "2"), "choose one of --bare and --converter"),
    ],
)
def test_what_the_logbook_does_not_know_is_refused(
    logbook: Path, command: str, options: tuple[str, ...], told: str
) -> None:
    done = run(command, "--logbook", logbook, *options)
    assert done.returncode == 2
    assert done.stdout == ""
    assert told in " ".join(done.stderr.split())


def test_a_kit_is_selected_by_the_number_and_by_the_name_that_the_table_shows(logbook: Path) -> None:
    table = run("frames", "--logbook", logbook).stdout
    (line,) = [line for line in table.splitlines() if line.startswith("Kit 2: ")]
    name = line.removeprefix("Kit 2: ").split(" = ")[0]
    by_number = frames(logbook, "--kit", 2)
    assert by_number == frames(logbook, "--kit", name) == frames(logbook, "--kit", name.upper())
    assert {row["kit_short_name"] for row in by_number} == {name}
    assert {row["converter_factor"] for row in by_number} == {1.4}


def test_numbers_and_names_of_kits_are_the_same_whatever_is_selected(logbook: Path) -> None:
    everywhere = {row["kit_id"]: row["kit_short_name"] for row in frames(logbook)}
    for options in (("--kit", "5"), ("--day", "2026-04-19"), ("--verdict", "miss"), ("--bare",)):
        some = {row["kit_id"]: row["kit_short_name"] for row in frames(logbook, *options)}
        assert some.items() <= everywhere.items()


def test_the_bare_kits_can_be_chosen(logbook: Path) -> None:
    bare = frames(logbook, "--bare")
    assert {row["kit_short_name"] for row in bare} == {"F2 500 mm", "S2 300 mm"}
    assert bare == frames(logbook, "--converter", "1") == frames(logbook, "--kit", 1, "--kit", 4)


def test_a_scene_is_chosen_by_the_number_in_the_table(logbook: Path) -> None:
    lines = run("frames", "--logbook", logbook).stdout.splitlines()
    assert "Scene" in lines[1]
    number = lines[2].split()[3]
    assert {row["scene_id"] for row in frames(logbook, "--scene", number)} == {int(number)}


def test_the_table_has_day_folder_shutter_and_blur(logbook: Path) -> None:
    lines = run("frames", "--logbook", logbook, "--kit", "3").stdout.splitlines()
    assert lines[0] == "2026-04-18, DCIM/100SALT"
    assert {"Shutter", "Blur"} <= set(lines[1].split())
    assert " 1/800 " in lines[2]


def test_no_match_is_said_with_what_was_asked_for(logbook: Path) -> None:
    done = run("frames", "--logbook", logbook, "--kit", 1, "--flag", "resized")
    assert done.stdout.strip() == "No frames match: trip 2026-04-18 to 2026-04-19; F2 500 mm; resized."


def test_a_kit_is_shown_with_its_bare_lens_and_the_numbers_of_the_whole_table(logbook: Path) -> None:
    everything = json.loads(run("kits", "--logbook", logbook, "--json").stdout)["kits"]
    some = json.loads(run("kits", "--logbook", logbook, "--json", "--kit", "F2 500 mm x 2").stdout)["kits"]
    assert [row["kit_short_name"] for row in some] == ["F2 500 mm", "F2 500 mm x 2"]
    assert some == [row for row in everything if row["kit_id"] in (1, 3)]


def test_a_day_alone_is_counted_alone(logbook: Path) -> None:
    rows = json.loads(run("kits", "--logbook", logbook, "--json", "--day", "2026-04-18").stdout)["kits"]
    assert sum(row["frames"] for row in rows) == len(frames(logbook, "--day", "2026-04-18"))


def test_numbers_in_the_kit_table_select(logbook: Path) -> None:
    table = run("kits", "--logbook", logbook).stdout.splitlines()
    number = next(line for line in table if line[:1].isdigit() and "S2 300 mm x 2" in line).split()[0]
    assert {row["kit_short_name"] for row in frames(logbook, "--kit", number)} == {"S2 300 mm x 2"}


@pytest.mark.parametrize("command", ["kits", "report"])
def test_no_rate_among_frames_chosen_by_what_came_of_them(logbook: Path, command: str) -> None:
    done = run(command, "--logbook", logbook, "--verdict", "hit")
    assert done.returncode == 2
    assert "would say nothing about the kit" in " ".join(done.stderr.split())


def test_flags_can_be_asked_for_one_by_one(logbook: Path) -> None:
    document = json.loads(run("flags", "--logbook", logbook, "--flag", "iso_pushed", "--json").stdout)
    assert document["frames"]
    assert all("iso_pushed" in row["flags"] for row in document["frames"])


def test_one_interval_for_one_kit_and_trip_in_every_table(logbook: Path) -> None:
    kits = json.loads(run("kits", "--logbook", logbook, "--json").stdout)["kits"]
    rates = json.loads(run("kits", "--logbook", logbook, "--json", "--by", "trip").stdout)["rates"]
    names, columns = ("kit_name", "frames"), ("hit_rate", "hit_rate_low", "hit_rate_high")
    assert [[row[name] for name in names] for row in rates] == [[row[name] for name in names] for row in kits]
    for rate, kit in zip(rates, kits, strict=True):
        # Sums of frames in another order differ in the last bits.
        assert [rate[name] for name in columns] == pytest.approx([kit[name] for name in columns], rel=1e-12)


def test_a_report_of_one_day_and_one_kit(logbook: Path, tmp_path: Path) -> None:
    done = run(
        "report",
        "--logbook",
        logbook,
        "--into",
        tmp_path / "out",
        "--kit",
        3,
        "--day",
        "2026-04-18",
        "--json",
    )
    assert done.returncode == 0, done.stderr
    lines = (tmp_path / "out" / "frames.csv").read_text(encoding="utf-8").splitlines()
    wanted = frames(logbook, "--kit", 3, "--kit", 1, "--day", "2026-04-18")
    assert len(lines) == 1 + len(wanted)
    assert "F2 500 mm x 2; 2026-04-18" in (tmp_path / "out" / "report.html").read_text(encoding="utf-8")


def test_a_span_that_ends_before_it_begins_is_refused(logbook: Path) -> None:
    done = run("keepers", "--from", "2026-04-19", "--to", "2026-04-18", "--logbook", logbook)
    assert (done.returncode, done.stdout) == (2, "")
    assert "--to: it is before --from" in done.stderr
    # One day is a span too, also where it begins in its middle.
    assert run("keepers", "--from", "2026-04-18T09:00", "--to", "2026-04-18", "--logbook", logbook).stdout


@pytest.mark.parametrize("options", [["--into", ""], ["--logbook", ""]])
def test_an_empty_path_is_not_the_current_folder(logbook: Path, options: list[str]) -> None:
    done = (
        run("report", *options) if "--logbook" in options else run("report", *options, "--logbook", logbook)
    )
    assert (done.returncode, done.stdout) == (2, "")
    assert "it is empty" in done.stderr
