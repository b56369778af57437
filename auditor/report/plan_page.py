"""The plan as a page to print: the table, and which kit is best where over light and distance."""

from __future__ import annotations

from functools import cache
from importlib import resources
from pathlib import Path
from typing import TYPE_CHECKING, Any

from auditor import __version__
from auditor.errors import OutputError
from auditor.planning.outing import LIGHTS
from auditor.planning.plan import KitMap, Plan
from auditor.report.csp import content_security_policy
from auditor.report.jinja import environment
from auditor.report.new_file import write_new
from auditor.report.text import plan as text

if TYPE_CHECKING:
    from jinja2 import Environment

COLOURS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00", "#F0E442", "#999999")
"""Okabe and Ito 2008, made for colour-blind readers; each field bears its letter too."""
LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
_CELL_WIDTH, _CELL_HEIGHT = 64, 34
_LEFT, _TOP = 190, 40


def write_plan(plan: Plan, kit_map: KitMap, path: Path) -> None:
    """Write the page; nothing is replaced.

    Raises
    ------
    OutputError
        for a file that exists or cannot be written.
    """
    if path.exists():
        raise OutputError(f"{path}: exists already. Choose another name with --page.")
    style = style_text()
    page = (
        _environment()
        .get_template("plan.html")
        .render(
            policy=content_security_policy([style], []),
            style=style,
            version=__version__,
            **_shown(plan, kit_map),
        )
    )
    write_new(path, page.encode("utf-8"), "Choose another name with --page.")


def answer_html(plan: Plan, kit_map: KitMap) -> str:
    """What the page shows below its heading, for a page that asks again as its inputs change."""
    return _environment().get_template("plan_answer.html").render(**_shown(plan, kit_map))


def style_text() -> str:
    """The style of both."""
    return (resources.files("auditor.report") / "templates" / "plan.css").read_text(encoding="utf-8")


@cache
def _environment() -> Environment:
    return environment("auditor.report")


def _shown(plan: Plan, kit_map: KitMap) -> dict[str, Any]:
    return {
        "heading": text.heading(plan.outing),
        "tables": [text.table(plan), text.view_table(plan)],
        "reasons": [text.reason(row) for row in plan.ranked[:3]],
        "others": text.sentences(plan)[len(plan.ranked[:3]) :],
        "phones": text.phones(plan),
        "not_weighed": text.not_weighed(plan),
        "focus_not_said": text.focus_not_said(plan),
        "map": _map(kit_map, plan),
        "legend": _legend(kit_map),
        "explained": text.EXPLAINED,
        "assumed": text.assumed(plan),
        "cautions": text.CAUTIONS,
    }


def _names(kit_map: KitMap) -> list[str]:
    """Kits of the map, the one with most fields first."""
    fields = [text.kit_name(kit) for row in kit_map.best for kit in row if kit is not None]
    return sorted(set(fields), key=lambda name: (-fields.count(name), name))


def _legend(kit_map: KitMap) -> list[tuple[str, str, str]]:
    return [
        (LETTERS[number % len(LETTERS)], name, COLOURS[number % len(COLOURS)])
        for number, name in enumerate(_names(kit_map))
    ]


def _map(kit_map: KitMap, plan: Plan) -> dict[str, object]:
    marks = {name: (letter, colour) for letter, name, colour in _legend(kit_map)}
    words: dict[float, str] = {}
    for word, (light_ev, _what) in LIGHTS.items():
        words.setdefault(light_ev, word)
    cells = []
    for row, kits in enumerate(kit_map.best):
        for column, kit in enumerate(kits):
            letter, colour = ("", "none") if kit is None else marks[text.kit_name(kit)]
            cells.append(
                {
                    "x": _LEFT + column * _CELL_WIDTH,
                    "y": _TOP + row * _CELL_HEIGHT,
                    "letter": letter,
                    "colour": colour,
                    "asked": (
                        round(kit_map.lights_ev[row]) == round(plan.outing.light_ev)
                        and kit_map.distances_m[column] == round(plan.outing.distance_m, 1)
                    ),
                }
            )
    return {
        "width": _LEFT + len(kit_map.distances_m) * _CELL_WIDTH + 10,
        "height": _TOP + len(kit_map.lights_ev) * _CELL_HEIGHT + 10,
        "cell_width": _CELL_WIDTH,
        "cell_height": _CELL_HEIGHT,
        "cells": cells,
        "columns": [
            (_LEFT + (column + 0.5) * _CELL_WIDTH, f"{metres:g} m")
            for column, metres in enumerate(kit_map.distances_m)
        ],
        "lines": [
            (_TOP + (row + 0.62) * _CELL_HEIGHT, f"EV {light_ev:g}", words.get(light_ev, ""))
            for row, light_ev in enumerate(kit_map.lights_ev)
        ],
    }
