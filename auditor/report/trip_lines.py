"""The trips in the terminal, a line each."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from auditor.report.text import values
from auditor.store.trip_summaries import TripSummary

LONGEST_NAME = 40


def trip_lines(rows: Sequence[TripSummary], *, width: int) -> Iterator[str]:
    """A line a trip: number, name, frames, and what came of it; the number and the name select it.

    Parameters
    ----------
    width
        Columns of the terminal.
    """
    room = max(12, min(LONGEST_NAME, width - 38))
    longest = max((len(values.plain(row.name)) for row in rows), default=4)
    names = max(4, min(longest, room))
    yield f"{'Trip':>4}  {'Name':{names}}  {'Frames':>6}  {'Kits':>4}  In focus"
    for row in rows:
        name = values.shortened(row.name, names)
        yield f"{row.trip_id:>4}  {name:{names}}  {row.frames:>6,}  {row.kits:>4}  {_answer(row)}"


def _answer(row: TripSummary) -> str:
    """What came of a trip, in a few words."""
    if row.measured == 0 and row.judged == 0:
        return "not measured"
    told = f"{row.hits:,} of {row.judged:,}" if row.judged else "none decided"
    return told if row.measured >= row.frames else f"{told}; {row.measured} measured"
