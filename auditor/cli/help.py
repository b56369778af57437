"""How help shows what a command takes: FOLDER, FILE and NUMBER, bounds in words, nothing of types."""

from __future__ import annotations

import re
from datetime import datetime
from enum import Enum
from pathlib import Path
from typing import Any

from typer.core import TyperCommand, TyperGroup

_TYPE = re.compile(r" <[^<>]*>$")
_BOUNDS = re.compile(r"(?:(-?[\d.]+)<=x<=(-?[\d.]+))|(?:x>=(-?[\d.]+))|(?:x<=(-?[\d.]+))")
_VALUES: dict[type, str] = {Path: "FILE", int: "NUMBER", float: "NUMBER", str: "WORD", datetime: "DATE"}


class PlainCommand(TyperCommand):
    """A command whose help is for people who do not program."""

    def __init__(self, *arguments: Any, **named: Any) -> None:
        super().__init__(*arguments, **named)
        for param in self.params:
            if param.param_type_name == "option" and param.metavar is None:
                param.metavar = _value(param)

    def format_options(self, ctx: Any, formatter: Any) -> None:
        """Write the arguments and the options, a list each."""
        rows_of: dict[str, list[tuple[str, str]]] = {"argument": [], "option": []}
        for param in self.get_params(ctx):
            record = param.get_help_record(ctx)
            if record is None:
                continue
            name, text = _TYPE.sub("", record[0]), bounds_in_words(record[1])
            is_argument = param.param_type_name == "argument"
            rows_of[param.param_type_name].append((name.upper() if is_argument else name, text))
        for title, records in (("Arguments", rows_of["argument"]), ("Options", rows_of["option"])):
            if records:
                with formatter.section(title):
                    formatter.write_dl(records)

    def collect_usage_pieces(self, ctx: Any) -> list[str]:
        """The usage line: FOLDER..., or [FOLDER] where it may be left out."""
        return [_usage(piece) for piece in super().collect_usage_pieces(ctx)]


def in_order(*names: str) -> type[TyperGroup]:
    """A group whose help lists its commands in this order; each must be named."""

    class InOrder(TyperGroup):
        def list_commands(self, ctx: Any) -> list[str]:
            """All of them: one that is not named is an error, not left out."""
            return sorted(super().list_commands(ctx), key=names.index)

    return InOrder


def bounds_in_words(text: str) -> str:
    """Bounds of a number as people say them: "1 or more", "1 to 3"."""

    def said(bounds: re.Match[str]) -> str:
        low, high, least, most = (_plain(each) for each in bounds.groups())
        if low:
            return f"{low} to {high}"
        return f"{least} or more" if least else f"at most {most}"

    return _BOUNDS.sub(said, text)


def _usage(piece: str) -> str:
    """One argument of the usage line, without the braces of one that is needed."""
    several = piece.endswith("...")
    name = piece.removesuffix("...").strip("{}")
    optional = name.startswith("[")
    name = name.strip("[]").removesuffix("...").upper() + ("..." if several else "")
    return f"[{name}]" if optional else name


def _plain(number: str | None) -> str:
    return "" if number is None else f"{float(number):g}"


def _value(param: Any) -> str | None:
    """The word for what an option takes; None for a switch, which takes nothing."""
    if getattr(param, "is_flag", False):
        return None
    annotation = param.type_descriptor.annotation
    if isinstance(annotation, type) and issubclass(annotation, Enum):
        return "|".join(str(member.value) for member in annotation)
    return _VALUES.get(annotation, "WORD")
