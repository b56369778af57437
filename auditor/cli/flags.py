"""flags: what did not pay, each with its reason."""

from __future__ import annotations

import textwrap
from pathlib import PurePath

from auditor.cli import common

SHOWN = 20


def flags(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Flagged kits and frames, each with its reason in words and numbers."""
    with common.reading(logbook) as book:
        from auditor.analysis.findings import findings
        from auditor.report.text import values as words
        from auditor.store.tables import flag_counts, flagged_rows

        chosen = common.chosen_trip(book, trip, all_trips)
        trip_id = common.trip_id(chosen)
        found = findings(book, trip_id, common.settings_of(book.path))
        flagged = flagged_rows(book, trip_id, most=None if as_json else SHOWN)
        if as_json:
            common.print_json(
                {
                    "trip": chosen and chosen["name"],
                    "kits": found.flags,
                    "comparisons": found.compared,
                    "changes": found.changes,
                    "frames": [
                        {
                            "path": row["path"],
                            "kit_name": row["kit_name"],
                            "flags": {flag: words.flag_reason(flag, row) for flag in row["flags"]},
                        }
                        for row in flagged
                    ],
                }
            )
            return
        width = common.width()
        print(f"Trip {chosen['name']}\n" if chosen else "All trips\n")
        print("Kits")
        for one in found.flags:
            print(_wrapped(f"{one['flag']}: {words.plain(one['kit_name'])}: {one['reason']}", width))
        if not found.flags:
            print("  No kit is flagged.")
        print("\nAgainst the bare lens")
        for row in found.compared:
            for line in words.comparison(row):
                print(_wrapped(line, width))
        if not found.compared:
            print(_wrapped("No kit with a converter has frames of the same body and lens bare.", width))
        else:
            print(_wrapped(words.DETAIL_NOTE, width))
        if trip_id is not None:
            print("\nInside the trip")
            for line in words.changes(found.changes):
                print(_wrapped(line, width))
        counts = flag_counts(book, trip_id)
        print("\nFrames")
        for flag, count in counts.items():
            print(_wrapped(f"{flag}: {count}. {words.FLAGS[flag]}", width))
        for row in flagged[:SHOWN]:
            reasons = "; ".join(words.flag_reason(flag, row) for flag in row["flags"])
            print(_wrapped(f"{words.plain(PurePath(row['path'] or '').name)}: {reasons}", width))
        if len(flagged) == SHOWN:
            print("  The first ones; auditor flags --json lists them all")


def _wrapped(text: str, width: int) -> str:
    return "\n".join(textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    "))


COMMANDS = (flags,)
