"""auditor kits and auditor flags: what they say of evidence, as text and as JSON."""

from __future__ import annotations

import json
import re
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


def test_kits_of_all_trips_answer_in_a_line_a_converter_and_no_paragraph(logbook: Path) -> None:
    done = run("kits", "--all-trips", "--logbook", logbook)
    text = told(done)
    assert "8 trips. " in text
    assert "Firm answers allow for looking again after every trip" in text
    (line,) = re.findall(rf"^{SHORT} +-\d+ \(-\d+ to -\d+\)  \S.*$", done.stdout, re.MULTILINE)
    assert line.endswith("leave it off and crop")
    assert "auditor kits --kit" in text
    assert "which frames alike" not in text
    blocks = prose(done.stdout)
    assert len(blocks) > 2
    assert all(len(block.splitlines()) <= 3 for block in blocks)
    assert len(done.stdout.splitlines()) < 50


def prose(text: str) -> list[str]:
    """Blocks of lines that are neither tables nor what stands below them."""
    blocks = re.split(r"\n\n|\n(?=Focus not settled|In focus:|ISO and|\*)", text)
    return [block for block in blocks if "───" not in block and not re.search(r"\d  +\d", block)]


def test_a_kit_that_is_named_shows_its_workings_and_its_full_name(logbook: Path) -> None:
    done = run("kits", "--all-trips", "--kit", SHORT, "--logbook", logbook)
    text = told(done)
    assert "Focus against the bare lens, adjusted for light" in text
    assert "By optics alone, not your record" in text
    assert f"{SHORT}: {FELL}" in text
    workings = done.stdout.partition(f"\n\n{SHORT}\n")[2].partition("Kits in full")[0]
    sentences = re.split(r"^  (?=\S)", workings, flags=re.MULTILINE)[1:]
    assert len(sentences) > 6
    assert max(len(sentence.strip().splitlines()) for sentence in sentences) <= 3
    text = told(run("kits", "--all-trips", "--kit", "F2 400 mm x 1.4", "--logbook", logbook))
    assert "which frames alike" in text


def test_flags_name_the_kit_that_fell_and_what_was_not_adjusted_for(logbook: Path) -> None:
    text = told(run("flags", "--all-trips", "--logbook", logbook))
    assert f"Fewer in focus: {SHORT}: " in text
    assert "At equal shutter speed: " in text
    assert "adjusted for light, distance and activity, not for the animal's size." in text


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
    assert re.search(r" \d+ to \d+ ", text)
    assert "Light: EV at ISO 100. These rows" in text
    assert "not adjusted for anything else" in text
    found = json.loads(run("kits", "--all-trips", "--by", "hour", "--json", "--logbook", logbook).stdout)
    assert found["descriptive"] is True
    wrong = run("kits", "--by", "moon", "--logbook", logbook)
    assert wrong.returncode == 2
    assert "there is no breakdown" in wrong.stderr
