"""kits and frames: tables in the terminal."""

from __future__ import annotations

import sys
import textwrap
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor.cli import common

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook

CsvOption = Annotated[bool, typer.Option("--csv", help="Print CSV instead of text.")]


def kits(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    by: Annotated[
        str | None,
        typer.Option(
            "--by",
            help="Break rates down by light, shutter, keyword, area, drive, hour, body, lens or converter.",
        ),
    ] = None,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Hit rate and light cost of each kit, and what to mount next time."""
    with common.reading(logbook) as book:
        chosen = common.chosen_trip(book, trip, all_trips)
        if by is not None:
            _print_breakdown(book, by, chosen, as_json)
            return
        from auditor.analysis.findings import findings
        from auditor.analysis.rows import json_rows
        from auditor.report.terminal import kit_table_text
        from auditor.report.text import values as words

        found = findings(book, common.trip_id(chosen), common.settings_of(book.path))
        if as_json:
            common.print_json(
                {
                    "trip": chosen and chosen["name"],
                    "kits": json_rows(found.table),
                    "advice": found.advice,
                    "alternatives": found.alternatives,
                }
            )
            return
        print(_heading(book, chosen))
        print(kit_table_text(found.table, width=common.width()))
        for row in found.advice:
            print(_wrapped(f"{words.plain(row['kit_name'])}. {row['paragraph']}"))
        for other in found.alternatives:
            print(_wrapped(words.alternative(other)))


def _heading(book: Logbook, chosen: dict[str, Any] | None) -> str:
    if chosen is not None:
        return f"Trip {chosen['name']}, {chosen['frames']} frames\n"
    from auditor.store.tables import counts

    looks = counts(book)["trips"]
    return _wrapped(
        f"All trips: {looks}. Looking again after each trip makes a chance finding likelier than the "
        "5 % that a single look allows."
    )


def _print_breakdown(book: Logbook, by: str, chosen: dict[str, Any] | None, as_json: bool) -> None:
    from auditor.analysis.breakdowns import BANDS, breakdown
    from auditor.analysis.rows import json_rows
    from auditor.report.terminal import breakdown_text

    if by not in BANDS:
        raise typer.BadParameter(f"it must be one of {', '.join(BANDS)}", param_hint="--by")
    rows = json_rows(breakdown(book, by, common.trip_id(chosen)))
    if as_json:
        common.print_json({"trip": chosen and chosen["name"], "by": by, "descriptive": True, "rates": rows})
    else:
        print(_heading(book, chosen))
        print(breakdown_text(rows, by, BANDS[by][1], width=common.width()))


def _wrapped(text: str) -> str:
    return textwrap.fill(text, common.width()) + "\n"


def frames(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    kit: Annotated[str | None, typer.Option("--kit", help="Only kits whose name has this in it.")] = None,
    verdict: Annotated[str | None, typer.Option("--verdict", help="Only hit, miss or unclear.")] = None,
    flag: Annotated[str | None, typer.Option("--flag", help="Only frames with this flag.")] = None,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """The frames, one a line."""
    if verdict not in (None, "hit", "miss", "unclear"):
        raise typer.BadParameter("it must be hit, miss or unclear", param_hint="--verdict")
    with common.reading(logbook) as book:
        from auditor.report.tables import csv_text
        from auditor.report.terminal import frame_table_text
        from auditor.store.tables import frame_facts, frame_rows

        chosen = common.chosen_trip(book, trip, all_trips)
        rows = [
            row
            for row in frame_rows(book, common.trip_id(chosen))
            if (kit is None or kit.lower() in row["kit_name"].lower())
            and (verdict is None or row["verdict"] == verdict)
            and (flag is None or flag in row["flags"])
        ]
        if as_json:
            common.print_json(rows)
        elif as_csv:
            table = frame_facts(book, common.trip_id(chosen))
            wanted = {row["frame_id"] for row in rows}
            sys.stdout.write(csv_text(table[table["frame_id"].isin(wanted)]))
        else:
            print(frame_table_text(rows, width=common.width()))


COMMANDS = (kits, frames)
