"""Bytes that steer a terminal, in names of files and in what was typed, never reach it as they are."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from tests.cli.program import run

SAMPLE = Path(__file__).parents[2] / "sample_images"
ESCAPE = "\x1b"


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """A card whose name and a frame's name hold escape sequences."""
    folder = tmp_path / f"ca{ESCAPE}[31mrd"
    folder.mkdir()
    first, second = sorted((SAMPLE / "DCIM").rglob("*.JPG"))[:2]
    shutil.copy2(first, folder / f"evil{ESCAPE}]0;title\x07.jpg")
    shutil.copy2(second, folder / "=SUM(A1).jpg")
    return folder


def test_no_command_prints_them(card: Path, tmp_path: Path) -> None:
    book, into = tmp_path / "logbook.sqlite", tmp_path / "report"
    every = [
        ("audit", card, "--logbook", book, "--into", into),
        ("scan", card, "--logbook", book),
        ("frames", "--logbook", book),
        ("frames", "--csv", "--logbook", book),
        ("kits", "--logbook", book),
        ("flags", "--logbook", book),
        ("trips", "--logbook", book),
        ("keepers", "--csv", "--verdict", "hit", "--verdict", "miss", "--logbook", book),
        ("check", "--logbook", book),
        ("inspect", card / "=SUM(A1).jpg"),
        ("drop", card, "--logbook", book),
        ("audit", tmp_path / f"no{ESCAPE}such", "--logbook", book),
        ("audit", tmp_path / "none", "--logbook", tmp_path / f"book{ESCAPE}2.sqlite"),
    ]
    for command in every:
        done = run(*command, cwd=tmp_path)
        assert ESCAPE not in done.stdout, command
        assert ESCAPE not in done.stderr, command
    for written in into.iterdir():
        assert ESCAPE not in written.read_text(encoding="utf-8"), written.name


def test_tables_hold_no_formula_from_a_name(card: Path, tmp_path: Path) -> None:
    """A cell that begins with = is a formula to spreadsheets (OWASP, CSV Injection)."""
    book, into = tmp_path / "logbook.sqlite", tmp_path / "report"
    run("audit", card, "--logbook", book, "--into", into, cwd=tmp_path)
    for text in (
        run("frames", "--csv", "--logbook", book).stdout,
        (into / "frames.csv").read_text(encoding="utf-8"),
    ):
        assert "SUM(A1)" in text
        assert not any(cell.startswith("=") for line in text.splitlines() for cell in line.split(","))
