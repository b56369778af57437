"""trips: what the logbook holds, a line a trip."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING

from auditor.cli import common

if TYPE_CHECKING:
    from auditor.analysis.trips import Added

MOST_ANSWERED = 4
"""The newest trips show what they added to the answer. Older ones show their counts, since the record is
judged anew for each. --json has them all."""


def trips(logbook: common.LogbookOption = None, as_json: common.JsonOption = False) -> None:
    """The trips in the logbook, one per line."""
    from auditor.analysis.trips import added_by_trips
    from auditor.store.selection import converters_used
    from auditor.store.trip_summaries import trip_summaries

    with common.reading(logbook) as book:
        rows = trip_summaries(book)
        answered = rows if as_json else rows[:MOST_ANSWERED]
        settings = common.settings_of(book.path)
        added = added_by_trips(book, [row.trip_id for row in answered], settings)
        converters = converters_used(book)
    if as_json:
        common.print_json([asdict(row) | {"answer": _answer(added.get(row.trip_id))} for row in rows])
        return
    from auditor.report.text.outcomes import AS_FRAMED
    from auditor.report.trip_lines import trip_lines

    if not rows:
        print("No trip yet. To start one: auditor audit FOLDER")
        return
    for line in trip_lines(rows, width=common.width(), added=added):
        print(line)
    if converters and any(row.judged and row.trip_id not in added for row in rows):
        print(f"\n{common.filled(AS_FRAMED, common.width())}")


def _answer(added: Added | None) -> dict[str, object] | None:
    """What a trip added, in numbers and as its line says it; None where it says nothing of a converter."""
    from auditor.report.text.losses import what_it_added

    return None if added is None else asdict(added) | {"text": what_it_added(added)}


COMMANDS = (trips,)
