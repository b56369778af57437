"""trips: what the logbook holds, a line a trip."""

from __future__ import annotations

from dataclasses import asdict

from auditor.cli import common

MOST_ANSWERED = 4
"""The newest trips are told by what they added to the answer; older ones by their counts, since each takes
about a second."""


def trips(logbook: common.LogbookOption = None, as_json: common.JsonOption = False) -> None:
    """The trips of the logbook, a line each."""
    from auditor.analysis.trips import added_by_trips
    from auditor.store.trip_summaries import trip_summaries

    with common.reading(logbook) as book:
        rows = trip_summaries(book)
        added = {} if as_json else added_by_trips(book, [row.trip_id for row in rows[:MOST_ANSWERED]])
    if as_json:
        common.print_json([asdict(row) for row in rows])
        return
    from auditor.report.trip_lines import trip_lines

    if not rows:
        print("No trip yet. To start one: auditor audit FOLDER")
        return
    for line in trip_lines(rows, width=common.width(), added=added):
        print(line)


COMMANDS = (trips,)
