"""flags: what did not pay, each with its reason."""

from __future__ import annotations

import textwrap
from dataclasses import asdict
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
        from auditor.report.text import comparisons, frames, outcomes, values
        from auditor.report.text.measuring import not_measured_yet
        from auditor.store.tables import flag_counts, flagged_rows
        from auditor.words import KitFlag

        chosen = common.chosen_trip(book, trip, all_trips)
        trip_id = common.trip_id(chosen)
        found = findings(book, trip_id, common.settings_of(book.path))
        flagged = flagged_rows(book, trip_id, most=None if as_json else SHOWN)
        if as_json:
            common.print_json(
                {
                    "trip": chosen and chosen["name"],
                    "measuring": asdict(found.measuring),
                    "kits": comparisons.kit_flags(found.kits),
                    "comparisons": [asdict(row) for row in found.compared],
                    "changes": [asdict(row) for row in found.changes],
                    "frames": [
                        {
                            "path": row["path"],
                            "kit_name": row["kit_name"],
                            "flags": {flag: frames.flag_reason(flag, row) for flag in row["flags"]},
                        }
                        for row in flagged
                    ],
                }
            )
            return
        width = common.width()
        print(f"Trip {chosen['name']}\n" if chosen else "All trips\n")
        if unfinished := not_measured_yet(found.measuring):
            print(_wrapped(unfinished, width) + "\n")
        print("Kits")
        flagged_kits = comparisons.kit_flags(found.kits)
        for row in flagged_kits:
            name = values.plain(row["kit_name"])
            print(_wrapped(f"{outcomes.KIT_FLAGS[KitFlag(row['flag'])]}: {name}: {row['reason']}", width))
        if not flagged_kits:
            print("  No kit is flagged.")
        print("\nAgainst the bare lens")
        for compared in found.compared:
            for line in comparisons.comparison(compared):
                print(_wrapped(line, width))
        if not found.compared:
            print(_wrapped("No kit with a converter has frames of the same body and lens bare.", width))
        else:
            print(_wrapped(comparisons.DETAIL_NOTE, width))
        if trip_id is not None:
            print("\nInside the trip")
            for line in comparisons.changes(found.changes):
                print(_wrapped(line, width))
        counts = flag_counts(book, trip_id)
        print("\nFrames")
        for flag, count in counts.items():
            print(_wrapped(f"{flag}: {count}. {outcomes.flag_sentence(flag)}", width))
        for frame in flagged[:SHOWN]:
            reasons = "; ".join(frames.flag_reason(flag, frame) for flag in frame["flags"])
            print(_wrapped(f"{values.plain(PurePath(frame['path'] or '').name)}: {reasons}", width))
        if len(flagged) == SHOWN:
            print("  The first ones; auditor flags --json lists them all")


def _wrapped(text: str, width: int) -> str:
    return "\n".join(textwrap.wrap(text, width, initial_indent="  ", subsequent_indent="    "))


COMMANDS = (flags,)
