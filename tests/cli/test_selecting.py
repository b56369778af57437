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


@pytest.mark.parametrize("command", ["frames"])
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
