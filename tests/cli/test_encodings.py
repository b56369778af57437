"""Output in encodings that lack a letter: the letter is written as an escape, and nothing is lost."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest
from typer.main import get_command

from auditor.cli import main
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


EVERY_COMMAND = (
    ["scan", "{card}"],
    ["measure"],
    ["audit", "{card}", "--into", "{out}"],
    ["report", "--all-trips", "--into", "{out}"],
    ["kits"],
    ["kits", "--all-trips", "--by", "lens"],
    ["frames"],
    ["frames", "--csv"],
    ["frames", "--json"],
    ["flags"],
    ["trips"],
    ["inspect", "{frame}"],
    ["inspect", "{broken}"],
    ["check"],
    ["plan", "--distance", "30", "--light", "12", "--animal", "heron"],
    ["bench", "--target", "{out}.svg"],
    ["keepers", "list"],
    ["keepers", "copy", "{out}-kept", "--unclear"],
    ["keepers", "link", "{out}-linked", "--unclear"],
    ["keepers", "sidecars", "{out}-side", "--unclear", "--write-keyword", "→ sharp"],
    ["keepers", "strip", "{out}.html", "--unclear"],
    ["keepers", "receipts"],
    ["keepers", "undo", "1"],
    ["declare", "hints"],
    ["declare", "trip", "Zeeland → 😀"],
    ["declare", "exclude", "{frame}"],
    ["declare", "list"],
    ["declare", "undo", "1"],
    ["declare", "converter", "--body", "F2 →", "--factor", "2", "--always"],
    ["declare", "clock", "--body", "F2 →", "--offset", "+1", "--always"],
    ["declare", "body", "--body", "F2 →", "--base-iso", "100"],
    ["declare", "weight", "850 g", "--body", "F2 →"],
    ["declare", "elsewhere", "--body", "F2 →", "--always"],
    ["demo", "{out}-demo", "--frames", "1", "--quiet"],
    ["drop", "{card}"],
)
"""In an order in which each has something to say."""


@pytest.fixture(scope="module", params=["cp1252", "ascii"])
def place(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> tuple[str, Path]:
    return str(request.param), tmp_path_factory.mktemp("every")


def test_every_command(card: Path, place: tuple[str, Path]) -> None:
    encoding, folder = place
    names = {
        "card": card,
        "frame": card / "A_0001.JPG",
        "broken": card / "broken → two.jpg",
        "out": folder / "out → here",
    }
    for command in EVERY_COMMAND:
        arguments = [word.format(**names) for word in command]
        more = [] if command[0] == "demo" else ["--logbook", folder / "logbook → one.sqlite"]
        done = run(*arguments, *more, encoding=encoding)
        refused = "F2 →" in command or command[0] == "plan"  # no such body; a card of no known sensor
        assert done.returncode in ((1,) if refused else (0, 3)), (command, done.stderr)
        assert "Traceback" not in done.stderr, command
        assert done.stdout or done.stderr or command[0] == "demo", command


def test_every_command_is_among_them() -> None:
    app: Any = get_command(main.app)
    told = {
        tuple(command[:2]) if command[0] in ("keepers", "declare") else (command[0],)
        for command in EVERY_COMMAND
    }
    groups = {"keepers", "declare"}
    # The desk answers until it is stopped: tests/desk starts it.
    there: set[tuple[str, ...]] = {(name,) for name in app.commands if name not in groups | {"desk"}}
    there |= {(group, name) for group in groups for name in app.commands[group].commands}
    assert told == there


def test_an_error_names_its_file(tmp_path: Path) -> None:
    done = run("scan", tmp_path / "nowhere →", encoding="cp1252")
    assert done.returncode == 1
    assert "nowhere \\u2192" in error_line(done)
