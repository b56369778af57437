"""`auditor report --format`: what is asked for is written, and nothing else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.program import run
from tests.frame_files import Shot, write_card


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    write_card(tmp_path / "card", [Shot(number=n, after_s=n * 700.0) for n in range(1, 6)])
    path = tmp_path / "logbook.sqlite"
    assert run("scan", tmp_path / "card", "--logbook", path).returncode == 0
    return path


@pytest.mark.parametrize(
    ("asked", "files"),
    [
        ("parquet", ["frames.parquet", "kits.parquet"]),
        ("html", ["report.html"]),
        ("html, json", ["report.html", "frames.json", "kits.json"]),
    ],
)
def test_formats(logbook: Path, tmp_path: Path, asked: str, files: list[str]) -> None:
    out = tmp_path / "out"
    done = run("report", "--format", asked, "--into", out, "--logbook", logbook, "--json")
    assert done.returncode == 0, done.stderr
    document = json.loads(done.stdout)
    assert [Path(path).name for path in document["files"]] == files
    assert sorted(path.name for path in out.iterdir()) == sorted(files)
    assert document["path"] == document["files"][0]


@pytest.mark.parametrize("asked", ["pdf", "", "html,xlsx"])
def test_other_formats_are_wrong_usage(logbook: Path, tmp_path: Path, asked: str) -> None:
    done = run("report", "--format", asked, "--into", tmp_path / "out", "--logbook", logbook)
    assert done.returncode == 2
    assert "html, csv, json, parquet" in " ".join(done.stderr.split())
    assert not (tmp_path / "out").exists()


def test_the_terminal_tables_have_no_colour_and_fit(logbook: Path) -> None:
    for command in ("kits", "frames"):
        done = run(command, "--logbook", logbook.name, cwd=logbook.parent)
        assert done.returncode == 0
        assert "\x1b" not in done.stdout
        assert max(len(line) for line in done.stdout.splitlines()) <= 80
