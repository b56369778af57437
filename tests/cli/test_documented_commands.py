"""Every command that the README and the documentation show exists, with the options shown."""

from __future__ import annotations

import re
import shlex
from pathlib import Path
from typing import Any

import pytest
import typer

from auditor.cli.main import app

ROOT = Path(__file__).resolve().parents[2]
PROGRAM = typer.main.get_command(app)


def shown_commands() -> list[tuple[str, str]]:
    """Each command in a block of code or between backquotes of the README and the documentation."""
    shown = set()
    for page in [ROOT / "README.md", *sorted((ROOT / "docs").glob("*.md"))]:
        text = page.read_text(encoding="utf-8")
        lines = [line.strip() for line in text.splitlines() if line.startswith("    ")]
        for line in [*lines, *re.findall(r"`(auditor [^`]+)`", text)]:
            line = re.sub(r"^\.venv/bin/", "", line)
            if line.startswith("auditor ") and "--version" not in line:
                shown.add((page.name, " ".join(line.split())))
    return sorted(shown)


def test_documentation_shows_commands() -> None:
    assert len(shown_commands()) > 30


@pytest.mark.parametrize(("page", "line"), shown_commands())
def test_a_command_in_the_documentation_exists_with_its_options(page: str, line: str) -> None:
    words = shlex.split(line, comments=True)[1:]
    command: Any = PROGRAM
    path: list[str] = []
    while words and hasattr(command, "commands") and words[0] in command.commands:
        path.append(words[0])
        command = command.commands[words.pop(0)]
    assert path, f"{page}: {line}: no such command"
    known = {option for param in command.params for option in (*param.opts, *param.secondary_opts)} | {
        "--help"
    }
    if hasattr(command, "commands"):  # what follows is for the command that runs by default
        known |= {
            option for below in command.commands.values() for param in below.params for option in param.opts
        }
    asked = {word.split("=")[0] for word in words if re.match(r"--?[a-z]", word)}
    assert asked <= known, f"{page}: {line}: no option {asked - known}"
