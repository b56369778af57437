"""kits and frames: tables in the terminal."""

from __future__ import annotations

import sys
import textwrap
from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

import typer

from auditor.cli import common, selection

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
        from auditor.report.terminal import kit_table_text
        from auditor.report.text import comparisons, values
        from auditor.report.text.advice import paragraph
        from auditor.report.text.measuring import not_measured_yet

        found = findings(book, common.trip_id(chosen), common.settings_of(book.path))
        if as_json:
            common.print_json(
                {
                    "trip": chosen and chosen["name"],
                    "kits": [asdict(row) for row in found.table],
                    "advice": [
                        {"kit_id": one.kit_id, "kit_name": one.kit_name, "paragraph": paragraph(one)}
                        for one in found.kits
                    ],
                    "alternatives": [asdict(row) for row in found.alternatives],
                    "measuring": asdict(found.measuring),
                }
            )
            return
        print(_heading(book, chosen))
        if unfinished := not_measured_yet(found.measuring):
            print(_wrapped(unfinished))
        print(kit_table_text(found.table, width=common.width()))
        for answer in found.kits:
            print(_wrapped(f"{values.plain(answer.kit_name)}. {paragraph(answer)}"))
        for other in found.alternatives:
            print(_wrapped(comparisons.alternative(other)))


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
    from auditor.analysis.measuring import measuring
    from auditor.report.terminal import breakdown_text
    from auditor.report.text.measuring import not_measured_yet

    if by not in BANDS:
        raise typer.BadParameter(f"it must be one of {', '.join(BANDS)}", param_hint="--by")
    rows = breakdown(book, by, common.trip_id(chosen))
    if as_json:
        common.print_json(
            {
                "trip": chosen and chosen["name"],
                "by": by,
                "descriptive": True,
                "rates": [asdict(row) for row in rows],
            }
        )
    else:
        print(_heading(book, chosen))
        if unfinished := not_measured_yet(measuring(book, common.trip_id(chosen))):
            print(_wrapped(unfinished))
        print(breakdown_text(rows, by, BANDS[by], width=common.width()))


def _wrapped(text: str) -> str:
    return textwrap.fill(text, common.width()) + "\n"


def frames(
    trip: selection.TripOption = None,
    all_trips: selection.AllTripsOption = False,
    kit: selection.KitOption = None,
    converter: selection.ConverterOption = None,
    bare: selection.BareOption = False,
    scene: selection.SceneOption = None,
    day: selection.DayOption = None,
    verdict: selection.VerdictOption = None,
    flag: selection.FlagOption = None,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    as_csv: CsvOption = False,
) -> None:
    """The frames, one a line: when, where, kit, scene, shutter, blur, verdict and flags."""
    with common.reading(logbook) as book:
        from auditor.store.selection import selected_rows

        chosen = selection.choose(
            book, trip=trip, all_trips=all_trips, kit=kit, converter=converter, bare=bare, scene=scene,
            day=day, verdict=verdict, flag=flag,
        )  # fmt: skip
        if as_csv:
            from auditor.report.tables import csv_text
            from auditor.store.selection import selected_table

            sys.stdout.write(csv_text(selected_table(book, chosen.selection)))
            return
        rows = selected_rows(book, chosen.selection)
        if as_json:
            common.print_json([row | {"kit_short_name": chosen.kit_names[row["kit_id"]]} for row in rows])
            return
        from auditor.report.frame_lines import frame_lines
        from auditor.store import scans

        if not rows:
            print(f"No frames match: {common.printable(chosen.told)}.")
            return
        for line in frame_lines(rows, chosen.kit_names, scans.folders(book), width=common.width()):
            print(line)
        print(f"{common.counted(len(rows), 'frame')}: {common.printable(chosen.told)}")


COMMANDS = (kits, frames)
