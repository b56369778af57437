"""Output in encodings that lack a letter: the letter is written as an escape, and nothing is lost."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.frame_files import Shot, write_frame

LENS = "Ключ 500mm f/5.6 → 😀"
"""Cyrillic, an arrow and a letter beyond the basic plane: none is in cp1252."""


def run(encoding: str, *arguments: str | Path) -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-c", "from auditor.cli.main import main; main()", *map(str, arguments)],
        capture_output=True,
        env={**os.environ, "PYTHONIOENCODING": encoding, "PYTHONUTF8": "0"},
        check=False,
    )


@pytest.fixture(scope="module")
def card(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("encodings") / "card → one"
    for number in (1, 2):
        write_frame(folder / f"A_{number:04d}.JPG", Shot(number=number, after_s=700.0 * number, lens=LENS))
    (folder / "broken → two.jpg").write_bytes(b"nothing of use")
    return folder


@pytest.mark.parametrize("encoding", ["cp1252", "ascii"])
def test_an_audit_and_its_tables(card: Path, tmp_path: Path, encoding: str) -> None:
    book = tmp_path / "logbook.sqlite"
    audited = run(encoding, "audit", card, "--logbook", book, "--into", tmp_path / "out")
    assert audited.returncode == 3, audited.stderr
    assert b"broken \\u2192 two.jpg" in audited.stdout
    kits = run(encoding, "kits", "--logbook", book)
    assert kits.returncode == 0, kits.stderr
    assert b"\\u041a" in kits.stdout
    document = json.loads(run(encoding, "kits", "--json", "--logbook", book).stdout.decode(encoding))
    assert LENS in document["kits"][0]["kit_name"]


def test_an_error_names_its_file(tmp_path: Path) -> None:
    done = run("cp1252", "scan", tmp_path / "nowhere →")
    assert done.returncode == 1
    (line,) = done.stderr.splitlines()
    assert b"nowhere \\u2192" in line
