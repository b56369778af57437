"""Help: whole at 80 columns, in words for people who do not program, and all of it in the documentation."""

from __future__ import annotations

import importlib.util
import re
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

from auditor.cli.help import bounds_in_words

DOCS = Path(__file__).parents[2] / "docs"


def _pages() -> ModuleType:
    spec = importlib.util.spec_from_file_location("commands_page", DOCS / "commands.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


PAGES = _pages()
COMMANDS = dict(PAGES.commands())


def test_the_page_of_commands_is_up_to_date() -> None:
    assert PAGES.PAGE.read_text(encoding="utf-8") == PAGES.page(), "run python docs/commands.py"


def test_commands_are_listed_in_the_order_of_the_readme() -> None:
    readme = (DOCS.parent / "README.md").read_text(encoding="utf-8")
    assert [name.split()[1] for name in COMMANDS if name.count(" ") == 1] == re.findall(
        r"^\| `auditor (\w+)", readme, flags=re.MULTILINE
    )


@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_tells_all_that_it_takes(name: str) -> None:
    command: Any = COMMANDS[name]
    text = PAGES.help_of(name, command)
    assert command.help, f"{name} has no help"
    assert all(param.help for param in command.params), [one.name for one in command.params if not one.help]
    assert max(map(len, text.splitlines())) <= PAGES.COLUMNS
    told = " ".join(text.split())
    for param in command.params:
        assert all(word in told for word in param.opts if word.startswith("--"))
        first, *_ = re.split(r"\s+(?=\[)", " ".join(param.help.split()))
        assert first in told, "cut off"


@pytest.mark.parametrize("name", COMMANDS)
def test_no_help_shows_a_type(name: str) -> None:
    text = PAGES.help_of(name, COMMANDS[name])
    assert not re.search(r"<\S|\blist\[|\bPath\b|\brange>|<=|>=|[{}]", text)
    assert not re.search(r"\.\.\.$", text.split("Options:")[-1], re.MULTILINE), "cut off"


@pytest.mark.parametrize(
    ("typed", "said"),
    [("[x>=1]", "[1 or more]"), ("[1.0<=x<=3.0; required]", "[1 to 3; required]"), ("[x<=5]", "[at most 5]"),
     ("[-1<=x<=5]", "[-1 to 5]"), ("nothing", "nothing")],
)  # fmt: skip
def test_bounds_are_said_in_words(typed: str, said: str) -> None:
    assert bounds_in_words(typed) == said
