"""The answer for the terminal: the heading of the page, and one line a converter."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

from auditor.analysis.findings import Findings
from auditor.analysis.hints import Hint
from auditor.report.text import values
from auditor.report.text.first_screen import first_screen
from auditor.report.text.hints import in_short
from auditor.report.text.measuring import in_place_of_answer

WIDEST = 80
MOST_HINTS = 3
"""Hints that are asked by themselves; the command shows them all."""


def answer_lines(found: Findings, *, width: int) -> str:
    """Heading, a line a converter, and what would settle the rest; empty while too little is measured.

    Parameters
    ----------
    found
        With the short names of kits.
    width
        Columns of the terminal; lines are never wider than 80.
    """
    if in_place_of_answer(found.measuring):
        return ""
    width = min(width, WIDEST)
    screen = first_screen(found.kits)
    lines = textwrap.wrap(screen.heading, width)
    for line in screen.lines:
        of_100 = " of 100 in focus" if line.loss is not None else ""
        said = f"{line.in_focus}{of_100}; {line.answer}"
        name = values.shortened(line.name, max(12, width - len(said) - 4))
        lines += textwrap.wrap(f"{name}: {said}", width, initial_indent="  ", subsequent_indent="    ")
    for sentence in (screen.below, screen.to_settle):
        lines += textwrap.wrap(sentence, width)
    return "\n".join(lines) + "\n"


def hint_lines(hints: Sequence[Hint], trip_id: int | None, *, width: int, option: str = "") -> str:
    """What no file says, a question a line, and the one command that settles it; empty without hints.

    Parameters
    ----------
    hints
        Those of the trip, or of all.
    option
        What the command needs behind it to reach the same logbook.
    """
    if not hints:
        return ""
    width = min(width, WIDEST)
    lines = ["What no file says:"]
    for hint in hints[:MOST_HINTS]:
        question = values.plain(in_short(hint))
        lines += textwrap.wrap(question, width, initial_indent="  ", subsequent_indent="    ")
    if len(hints) > MOST_HINTS:
        lines.append(f"  and {len(hints) - MOST_HINTS:,} more")
    of_trip = "" if trip_id is None else f" --trip {trip_id}"
    lines.append(f"To settle it: auditor declare hints{of_trip}{option}")
    return "\n".join(lines) + "\n"
