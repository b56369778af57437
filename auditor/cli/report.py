"""report: the page of a trip."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common, places, selection

if TYPE_CHECKING:
    from auditor.analysis.findings import Findings
    from auditor.store.logbook import Logbook
    from auditor.store.trips import Trip

IntoOption = Annotated[
    Path | None,
    typer.Option(
        "--into",
        metavar="FOLDER",
        parser=common.path_given,
        help="Folder for the report. Default: reports/ in this folder, or beside the logbook if this folder "
        "is scanned.",
    ),
]


@selection.with_selection
def report(
    asked: selection.Asked,
    into: IntoOption = None,
    format_: Annotated[
        str,
        typer.Option(
            "--format", metavar="WORDS", help="What to write, with commas between: html,csv,json,parquet."
        ),
    ] = "html,csv",
    advice_from: common.AdviceFromOption = common.AdviceFrom.RECORD,
    share: Annotated[
        bool,
        typer.Option(
            "--share", help="Write a page you can pass on: no serial numbers, folders, trip name or tables."
        ),
    ] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Write the report of a trip: one HTML page, with its tables beside it."""
    asked.refuse_outcomes()
    words = [word.strip() for word in format_.split(",") if word.strip()]
    with common.reading(logbook) as book:
        from auditor.jobs.colour_cuts import by_workers
        from auditor.report.text.measuring import not_measured_yet
        from auditor.report.write import FORMATS, files_of, write_report

        formats = [selection.known_word(word, FORMATS, "--format", "format") for word in words]
        if not formats:
            raise typer.BadParameter(f"name some of {', '.join(FORMATS)}", param_hint="--format")
        chosen = asked.choose(book)
        shown = chosen.trip
        if shown is not None and chosen.limits:
            shown = replace(shown, name=f"{shown.name}; {chosen.limits}")
        report_findings = selection.chosen_findings(book, chosen, advice_from.value)
        settings = common.settings_of(book.path)
        with selection.narrowed(book, chosen, kits=True):
            page = write_report(
                book,
                into or places.default_place([], book.path, book) / places.folder_name(shown),
                trip=shown,
                settings=settings,
                formats=formats,
                report_findings=report_findings,
                option="" if share else common.logbook_option(logbook),
                share=share,
                cutter=by_workers(settings),
            )
    if waiting := not_measured_yet(report_findings.measuring, common.logbook_option(logbook)):
        common.say(waiting, quiet)
    if as_json:
        names = [page.name] if share else files_of(formats)
        files = [str(page.absolute().with_name(name)) for name in names]
        trip_name = chosen.trip and chosen.trip.name
        common.print_json({"trip": trip_name, "path": str(page.absolute()), "files": files})
    else:
        print(common.for_output(str(page)))


@dataclass(frozen=True, slots=True)
class Report:
    """A report that was written."""

    trip: Trip | None
    """None for all trips."""
    findings: Findings
    page: Path


def written_reports(
    book: Logbook, trips: Sequence[Trip | None], place: Path, into: Path | None, logbook: Path | None
) -> Iterator[Report]:
    """Write reports, each into a folder of its own unless one folder was named for one.

    Parameters
    ----------
    trips
        None among them for all trips together.
    into
        The folder that was named, if any; `place` is where reports go.
    """
    from auditor.analysis.findings import findings
    from auditor.jobs.colour_cuts import by_workers
    from auditor.report.write import write_report

    settings = common.settings_of(book.path)
    for trip in trips:
        report_findings = findings(book, None if trip is None else trip.trip_id, settings)
        folder = place if into and len(trips) == 1 else place / places.folder_name(trip)
        option = common.logbook_option(logbook)
        page = write_report(
            book,
            folder,
            trip=trip,
            settings=settings,
            report_findings=report_findings,
            option=option,
            cutter=by_workers(settings),
        )
        yield Report(trip, report_findings, page)


def report_document(book: Logbook, report: Report) -> dict[str, object]:
    """A report that was written, as JSON has it."""
    names = selection.Asked(all_trips=True).choose(book).kit_names
    return {
        "trip": report.trip and report.trip.name,
        "path": str(report.page.absolute()),
        "kits": [asdict(row) | {"kit_short_name": names[row.kit_id]} for row in report.findings.table],
        "measuring": asdict(report.findings.measuring),
    }


def print_report(book: Logbook, report: Report, logbook: Path | None) -> None:
    """The answer of a trip, or how much of it is measured where that is not all; then where its page is."""
    from auditor.analysis.hints import hints
    from auditor.report.answer_lines import answer_lines, hint_lines
    from auditor.report.short_names import with_short_names
    from auditor.report.terminal import kit_table_text
    from auditor.report.text.measuring import in_place_of_answer, not_measured_yet
    from auditor.report.text.values import capital, trip_named

    trip, option = report.trip, common.logbook_option(logbook)
    of_trip = selection.Asked(trip=None if trip is None else str(trip.trip_id), all_trips=trip is None)
    chosen = of_trip.choose(book)
    if trip is None:
        print("\nAll trips of the logbook\n")
    else:
        name = common.printable(capital(trip_named(trip.name)))
        print(f"\n{name}, {common.counted(trip.frames, 'frame')}\n")
    instead = in_place_of_answer(report.findings.measuring, option)
    waiting = not_measured_yet(report.findings.measuring, option)
    if instead or waiting:
        print(f"{common.wrapped(instead or waiting or '')}\n")
    if instead is None:
        shown = with_short_names(report.findings, chosen.kit_names)
        print(answer_lines(shown, width=common.width()))
        print(kit_table_text(shown.table, width=common.width()))
    trip_id = None if trip is None else trip.trip_id
    if asked := hint_lines(hints(book, trip_id), trip_id, width=common.width(), option=option):
        print(asked)
    print(f"Report: {common.printable(str(report.page))}")


COMMANDS = (report,)
