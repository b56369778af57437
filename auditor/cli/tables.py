"""kits and frames: tables in the terminal."""

from __future__ import annotations

import sys
from typing import Annotated

import typer

from auditor.cli import common

CsvOption = Annotated[bool, typer.Option("--csv", help="Print CSV instead of text.")]


def kits(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Hit rate and light cost of each kit."""
    with common.reading(logbook) as book:
        from auditor.analysis.kit_table import kit_table
        from auditor.report.tables import json_rows
        from auditor.report.terminal import kit_table_text

        chosen = common.chosen_trip(book, trip, all_trips)
        table = kit_table(book, common.trip_id(chosen))
        if as_json:
            common.print_json({"trip": chosen and chosen["name"], "kits": json_rows(table)})
        else:
            print(f"Trip {chosen['name']}, {chosen['frames']} frames\n" if chosen else "All trips\n")
            print(kit_table_text(table, width=common.width()))


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
