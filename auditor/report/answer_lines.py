"""The answer for the terminal: the heading of the page, a line a converter, and workings where asked for."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.analysis.findings import Findings
from auditor.analysis.hint_kinds import Hint
from auditor.report.terminal import ledger_text
from auditor.report.text import comparisons, values
from auditor.report.text.advice import parts
from auditor.report.text.first_screen import first_screen
from auditor.report.text.hints import in_short
from auditor.report.text.measuring import in_place_of_answer

WIDEST = 80
MOST_HINTS = 3
"""Hints that are asked by themselves; the command shows them all."""


def answer_lines(findings: Findings, *, width: int) -> str:
    """Heading, a line a converter, and what would settle the rest; empty while too little is measured.

    Parameters
    ----------
    findings
        With the short names of kits.
    width
        Columns of the terminal; lines are never wider than 80.
    """
    if in_place_of_answer(findings.measuring):
        return ""
    width = min(width, WIDEST)
    screen = first_screen(findings.kits)
    blocks = ["\n".join(values.wrapped(screen.heading, width)) + "\n"]
    if screen.lines:
        blocks.append(ledger_text(screen.lines, width=width, of_record=screen.of_trip))
    rest = [line for text in (screen.below, screen.to_settle) for line in values.wrapped(text, width)]
    if rest:
        blocks.append("\n".join(rest) + "\n")
    return "\n".join(blocks)


def workings_lines(findings: Findings, *, width: int) -> str:
    """How the answer on each kit was worked out, a line or two a sentence, kit by kit.

    Parameters
    ----------
    findings
        With the short names of kits.
    """
    width = min(width, WIDEST)
    blocks = []
    for answer in findings.kits:
        lines = [values.plain(answer.kit_name)]
        beside = [
            comparisons.alternative(row) for row in findings.alternatives if row.kit_id == answer.kit_id
        ]
        for sentence in (*parts(answer), *beside):
            lines += values.wrapped(sentence, width, first="  ", then="    ")
        blocks.append("\n".join(lines))
    return "\n\n".join(blocks) + "\n"


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
        lines += values.wrapped(question, width, first="  ", then="    ")
    if len(hints) > MOST_HINTS:
        lines.append(f"  and {len(hints) - MOST_HINTS:,} more")
    of_trip = "" if trip_id is None else f" --trip {trip_id}"
    lines.append(f"To settle it: auditor declare hints{of_trip}{option}")
    return "\n".join(lines) + "\n"
