"""The trips in the terminal, a line each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import TYPE_CHECKING

from auditor.report.text import values
from auditor.report.text.losses import what_it_added
from auditor.report.text.measuring import nothing_measured
from auditor.store.trip_summaries import TripSummary

if TYPE_CHECKING:
    from auditor.analysis.trips import Added

LONGEST_NAME = 40


def trip_lines(
    rows: Sequence[TripSummary], *, width: int, added: Mapping[int, Added] | None = None
) -> Iterator[str]:
    """A line a trip: number, name, frames, and what came of it; the number and the name select it.

    Parameters
    ----------
    width
        Columns of the terminal.
    added
        What trips added on a kit, by trip_id; the others are told by their counts.
    """
    room = max(12, min(LONGEST_NAME, width - 38))
    longest = max((len(values.plain(row.name)) for row in rows), default=4)
    names = max(4, min(longest, room))
    added = added or {}
    yield f"{'Trip':>4}  {'Name':{names}}  {'Frames':>6}  {'Kits':>4}  What it showed"
    for row in rows:
        name = values.shortened(row.name, names)
        line = f"{row.trip_id:>4}  {name:{names}}  {row.frames:>6,}  {row.kits:>4}"
        answer = _answer(row, added.get(row.trip_id))
        if len(line) + 2 + len(answer) <= width:
            yield f"{line}  {answer}"
        else:
            yield line
            yield from values.wrapped(answer, width, first=" " * 6, then=" " * 8)


def _answer(row: TripSummary, added: Added | None) -> str:
    """What came of a trip, in a few words."""
    if added is not None:
        return what_it_added(added)
    if row.measured == 0 and row.judged == 0:
        return nothing_measured(row)
    counts = f"{row.hits:,} of {row.judged:,} in focus" if row.judged else "none decided"
    return counts if row.measured >= row.frames else f"{counts}; {row.measured} measured"
