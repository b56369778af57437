"""Output in encodings that lack a letter: the letter is written as an escape, and nothing is lost."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.program import error_line, run
from tests.frame_files import Shot, write_frame

LENS = "Ключ 500mm f/5.6 → 😀"
"""Cyrillic, an arrow and a letter beyond the basic plane: none is in cp1252."""


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
    audited = run("audit", card, "--logbook", book, "--into", tmp_path / "out", encoding=encoding)
    assert audited.returncode == 3, audited.stderr
    assert "broken \\u2192 two.jpg" in audited.stdout
    kits = run("kits", "--logbook", book, encoding=encoding)
    assert kits.returncode == 0, kits.stderr
    one = run("inspect", card / "A_0001.JPG", encoding=encoding)
    assert one.returncode == 0, one.stderr
    assert "\\u041a" in one.stdout
    document = json.loads(run("kits", "--json", "--logbook", book, encoding=encoding).stdout)
    assert LENS in document["kits"][0]["kit_name"]


def test_an_error_names_its_file(tmp_path: Path) -> None:
    done = run("scan", tmp_path / "nowhere →", encoding="cp1252")
    assert done.returncode == 1
    assert "nowhere \\u2192" in error_line(done)
