"""flags: what did not pay, each with its reason."""

from __future__ import annotations

import textwrap
from collections import Counter
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
        from auditor.analysis.comparisons import comparisons, kit_flags
        from auditor.report import words
        from auditor.store.tables import frame_rows

        chosen = common.chosen_trip(book, trip, all_trips)
        compared = comparisons(book, common.trip_id(chosen))
        flagged = [row for row in frame_rows(book, common.trip_id(chosen)) if row["flags"]]
        if as_json:
            common.print_json(
                {
                    "trip": chosen and chosen["name"],
                    "kits": kit_flags(compared),
                    "comparisons": compared,
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
        for row in compared:
            for line in words.comparison(row):
                print(_wrapped(line, width))
        if not compared:
            print(_wrapped("No kit with a converter has frames of the same body and lens bare.", width))
        counts = Counter(flag for row in flagged for flag in row["flags"])
        print("\nFrames")
        for flag, count in sorted(counts.items()):
            print(_wrapped(f"{flag}: {count}. {words.FLAGS[flag]}", width))
        for row in flagged[:SHOWN]:
            reasons = "; ".join(words.flag_reason(flag, row) for flag in row["flags"])
            print(_wrapped(f"{words.plain(PurePath(row['path'] or '').name)}: {reasons}", width))
        if len(flagged) > SHOWN:
            print(f"  and {len(flagged) - SHOWN} more: auditor flags --json lists them all")


def _wrapped(text: str, width: int) -> str:
    return "\n".join(textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    "))


COMMANDS = (flags,)
