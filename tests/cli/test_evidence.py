"""auditor kits and auditor flags: what they say of evidence, as text and as JSON."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from benchmarks.simulated_logbook import Trip, write
from tests.cli.program import Done, run

FELL = "Saltmark F2 + Saltmark 400mm f/4 + 2x"
SHORT = "F2 400 mm x 2"
"""The same as tables write it."""


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("book") / "logbook.sqlite"
    write(path, Trip(encounters=900))
    return path


def told(done: Done) -> str:
    assert done.returncode == 0, done.stderr
    assert max(map(len, done.stdout.splitlines())) <= 80
    return " ".join(done.stdout.split())


def test_kits_of_all_trips_end_in_advice(logbook: Path) -> None:
    text = told(run("kits", "--all-trips", "--logbook", logbook))
    assert "8 trips. " in text
    assert "Firm words keep their error however often the record is looked at" in text
    assert f"{SHORT}. " in text
    assert "which frames alike" in text


def test_flags_name_the_kit_that_fell_and_what_was_not_adjusted_for(logbook: Path) -> None:
    text = told(run("flags", "--all-trips", "--logbook", logbook))
    assert f"Fewer in focus: {SHORT}: " in text
    assert "At equal shutter speed: " in text
    assert "adjusted for light, subject size and activity, not for animal size." in text


def test_json_of_both_has_the_documented_keys(logbook: Path) -> None:
    kits = json.loads(run("kits", "--all-trips", "--json", "--logbook", logbook).stdout)
    assert set(kits) == {"trip", "selected", "kits", "advice", "alternatives", "measuring"}
    flags = json.loads(run("flags", "--all-trips", "--json", "--logbook", logbook).stdout)
    assert set(flags) == {"trip", "selected", "kits", "comparisons", "changes", "frames", "measuring"}
    fell = [row for row in flags["kits"] if row["flag"] == "hit_rate_fell"]
    assert [row["kit_name"] for row in fell] == [FELL]
    row = next(row for row in flags["comparisons"] if row["kit_name"] == FELL)
    assert row["hits"]["low"] < row["hits"]["difference"] < row["hits"]["high"] < 0


def test_breakdowns_say_that_they_are_descriptive(logbook: Path) -> None:
    text = told(run("kits", "--all-trips", "--by", "light", "--logbook", logbook))
    assert "not adjusted for anything else" in text
    found = json.loads(run("kits", "--all-trips", "--by", "hour", "--json", "--logbook", logbook).stdout)
    assert found["descriptive"] is True
    wrong = run("kits", "--by", "moon", "--logbook", logbook)
    assert wrong.returncode == 2
    assert "there is no breakdown" in wrong.stderr
