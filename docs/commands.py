"""Write docs/commands.md, the help of every command: python docs/commands.py"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer
from typer.main import get_command

from auditor.cli.main import app

PAGE = Path(__file__).with_name("commands.md")
COLUMNS = 80
HEAD = """# Commands and options

Every command with all its options, as `--help` shows them. Written by `python docs/commands.py`;
README says what they are for.
"""


def commands(command: Any = None, name: str = "auditor") -> Iterator[tuple[str, Any]]:
    """Every command with its whole name, groups before their members."""
    command = get_command(app) if command is None else command
    yield name, command
    if hasattr(command, "commands"):
        for word in command.list_commands(typer.Context(command)):
            yield from commands(command.commands[word], f"{name} {word}")


def help_of(name: str, command: Any) -> str:
    """The help of one command, as a terminal of 80 columns shows it."""
    context = typer.Context(command, info_name=name, terminal_width=COLUMNS - 2)
    return str(command.get_help(context)).rstrip()


def page() -> str:
    """The whole page."""
    parts = [f"## {name}\n\n```text\n{help_of(name, command)}\n```\n" for name, command in commands()]
    return "\n".join([HEAD, *parts])


if __name__ == "__main__":
    PAGE.write_text(page(), encoding="utf-8")
