"""audit, scan, measure and report: from a folder to a page."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common
from auditor.errors import StoppedError
from auditor.file_names import as_path, as_text

if TYPE_CHECKING:
    from auditor.jobs.measure import MeasureOutcome
    from auditor.jobs.scan import Progress, ScanOutcome

SHOWN_UNREADABLE = 10
FoldersArgument = Annotated[
    list[Path], typer.Argument(help="Folders of frames; everything below them is read.")
]
IntoOption = Annotated[
    Path | None, typer.Option("--into", help="Folder for the report. Default: reports/ and the trip's name.")
]


def audit(
    folders: FoldersArgument,
    logbook: common.LogbookOption = None,
    into: IntoOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
) -> None:
    """Scan folders, measure what is new, then write the report of their trip: the main job."""
    outcomes = _scan(folders, logbook, quiet, jobs)
    measured = _measure(logbook, quiet, jobs)
    with common.reading(logbook) as book:
        from auditor.analysis.findings import findings
        from auditor.analysis.hints import hints
        from auditor.report.terminal import kit_table_text
        from auditor.report.text.measuring import not_measured_yet
        from auditor.report.write import default_folder, write_report
        from auditor.store.tables import trips_under

        trips = trips_under(book, [as_text(outcome.folder) for outcome in outcomes])
        settings = common.settings_of(book.path)
        found = [findings(book, trip["trip_id"], settings) for trip in trips]
        pages = []
        for trip, own in zip(trips, found, strict=True):
            place = (
                into if into and len(trips) == 1 else (into or Path("reports")) / default_folder(trip).name
            )
            pages.append(write_report(book, place, trip=trip, settings=settings, found=own))
        if as_json:
            document = _as_document(book.path, outcomes)
            document["not_decoded"] = [
                {"path": path, "reason": reason} for path, reason in measured.unreadable
            ]
            document["reports"] = [
                {
                    "trip": trip["name"],
                    "path": str(page.absolute()),
                    "kits": [asdict(row) for row in own.table],
                    "measuring": asdict(own.measuring),
                }
                for trip, page, own in zip(trips, pages, found, strict=True)
            ]
            common.print_json(document)
        else:
            _print_outcomes(outcomes)
            _print_not_measured(measured)
            for trip, page, own in zip(trips, pages, found, strict=True):
                print(f"\nTrip {trip['name']}, {trip['frames']} frames\n")
                if unfinished := not_measured_yet(own.measuring):
                    print(f"{unfinished}\n")
                print(kit_table_text(own.table, width=common.width()))
                told = len(hints(book, trip["trip_id"]))
                if told:
                    command = f"auditor declare hints --trip {trip['trip_id']}"
                    print(f"Hints on this trip: {told}. To see them: {command}\n")
                print(f"Report: {page}")
            if not trips:
                print("None of these frames says when it was taken, so there is no trip to report on.")
    common.say(f"Logbook: {common.logbook_path(logbook)}", quiet)
    _exit_for(outcomes)
    folders_read = [outcome.folder for outcome in outcomes]
    if measured.unreadable or any(
        as_path(path).is_relative_to(folder)
        for path, _reason in measured.out_of_reach
        for folder in folders_read
    ):
        raise typer.Exit(3)


def scan(
    folders: FoldersArgument,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
) -> None:
    """Read the metadata of a folder's frames into the logbook; only what is new is read."""
    outcomes = _scan(folders, logbook, quiet, jobs)
    if as_json:
        common.print_json(_as_document(common.logbook_path(logbook), outcomes))
    else:
        _print_outcomes(outcomes)
    common.say(f"Logbook: {common.logbook_path(logbook)}", quiet)
    _exit_for(outcomes)


def measure(
    again: Annotated[
        bool, typer.Option("--again", help="Also try pictures that could not be decoded before.")
    ] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
) -> None:
    """Measure the pixels of frames that were not measured yet, at their focus areas."""
    outcome = _measure(logbook, quiet, jobs, again)
    if as_json:
        common.print_json(
            {
                "measured": outcome.measured,
                "unreadable": [{"path": path, "reason": reason} for path, reason in outcome.unreadable],
                "out_of_reach": [{"path": path, "reason": reason} for path, reason in outcome.out_of_reach],
                "not_tried_again": outcome.not_tried_again,
            }
        )
    else:
        print(f"{outcome.measured} frames measured")
        _print_not_measured(outcome)
        if outcome.not_tried_again:
            print(
                f"{outcome.not_tried_again} pictures could not be decoded before and were left out; "
                "auditor measure --again tries them again"
            )
    if outcome.unreadable or outcome.out_of_reach:
        raise typer.Exit(3)


def report(
    trip: common.TripOption = None,
    all_trips: common.AllTripsOption = False,
    into: IntoOption = None,
    format_: Annotated[
        str, typer.Option("--format", help="What to write, of html,csv,json,parquet, with commas between.")
    ] = "html,csv",
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
) -> None:
    """Write the report of a trip: one HTML page, with its tables beside it."""
    formats = [word.strip() for word in format_.split(",") if word.strip()]
    with common.reading(logbook) as book:
        from auditor.report.write import FORMATS, default_folder, files_of, write_report

        if not formats or not set(formats) <= set(FORMATS):
            raise typer.BadParameter(f"it must be some of {', '.join(FORMATS)}", param_hint="--format")
        chosen = common.chosen_trip(book, trip, all_trips)
        page = write_report(
            book,
            into or default_folder(chosen),
            trip=chosen,
            settings=common.settings_of(book.path),
            formats=formats,
        )
    if as_json:
        files = [str(page.absolute().with_name(name)) for name in files_of(formats)]
        common.print_json({"trip": chosen and chosen["name"], "path": str(page.absolute()), "files": files})
    else:
        print(page)


def _scan(folders: list[Path], logbook: Path | None, quiet: bool, jobs: int | None) -> list[ScanOutcome]:
    from auditor.jobs import workers
    from auditor.jobs.scan import scan as scan_folders

    path = common.logbook_path(logbook)
    settings = common.settings_of(path)
    with _progress_bar(folders, quiet) as progress:
        try:
            return scan_folders(
                path, folders, settings, jobs=jobs or workers.default_jobs(), progress=progress
            )
        except KeyboardInterrupt as interrupt:
            raise StoppedError(
                "Stopped. What was read so far is kept; run the same command again to go on."
            ) from interrupt


def _measure(logbook: Path | None, quiet: bool, jobs: int | None, again: bool = False) -> MeasureOutcome:
    from auditor.jobs import workers
    from auditor.jobs.measure import measure as measure_frames
    from auditor.jobs.measure import waiting_frames

    with common.reading(logbook) as book:
        try:
            settings = common.settings_of(book.path)
            with _bar("Measuring", lambda: waiting_frames(book, settings, again=again), quiet) as show:
                outcome = measure_frames(
                    book,
                    settings,
                    jobs=jobs or workers.default_jobs(),
                    again=again,
                    progress=show,
                )
        except KeyboardInterrupt as interrupt:
            raise StoppedError(
                "Stopped. What was measured so far is kept; auditor measure goes on from there."
            ) from interrupt
    return outcome


@contextmanager
def _progress_bar(folders: list[Path], quiet: bool) -> Iterator[Progress | None]:
    from auditor.readers.folder import walk

    def files() -> int:
        return sum(1 for folder in folders if folder.is_dir() for _ in walk(folder.resolve()))

    with _bar("Reading", files, quiet) as show:
        yield (lambda seen, _read: show(seen)) if show else None


@contextmanager
def _bar(doing: str, count: Callable[[], int], quiet: bool) -> Iterator[Callable[[int], None] | None]:
    """A bar with rate and time left, on a terminal alone."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn(doing),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]:.0f} a second"),
        TimeRemainingColumn(),
    )
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task("", total=count(), rate=0.0)

        def show(done: int) -> None:
            bar.update(task, completed=done, rate=bar.tasks[task].speed or 0.0)

        yield show


def _as_document(path: Path, outcomes: list[ScanOutcome]) -> dict[str, object]:
    return {
        "logbook": str(path.absolute()),
        "folders": [
            {
                "folder": as_text(outcome.folder),
                "files": outcome.seen,
                "read": outcome.read,
                "gone": outcome.gone,
                "back": outcome.back,
                "unreadable": [{"path": path, "reason": reason} for path, reason in outcome.unreadable],
            }
            for outcome in outcomes
        ],
    }


def _print_outcomes(outcomes: list[ScanOutcome]) -> None:
    for outcome in outcomes:
        known = outcome.seen - outcome.read - len(outcome.unreadable)
        parts = [f"{outcome.seen} files", f"{outcome.read} read", f"{max(known, 0)} known already"]
        if outcome.back:
            parts.append(f"{outcome.back} back again")
        if outcome.gone:
            parts.append(f"{outcome.gone} no longer there (their frames stay)")
        if outcome.unreadable:
            parts.append(f"{len(outcome.unreadable)} could not be read")
        print(f"{outcome.folder}: {', '.join(parts)}")
        _print_unreadable(outcome.unreadable)


def _print_not_measured(outcome: MeasureOutcome) -> None:
    if outcome.unreadable:
        print(f"{len(outcome.unreadable)} pictures could not be decoded; their metadata was read")
        _print_unreadable(outcome.unreadable)
    if outcome.out_of_reach:
        print(
            f"{len(outcome.out_of_reach)} pictures could not be reached now; "
            "connect their card or disk, then run auditor measure"
        )
        _print_unreadable(outcome.out_of_reach)


def _print_unreadable(unreadable: list[tuple[str, str]]) -> None:
    for path, reason in unreadable[:SHOWN_UNREADABLE]:
        print(f"  {common.printable(Path(path).name)}: {common.printable(reason)}")
    if len(unreadable) > SHOWN_UNREADABLE:
        print(f"  and {len(unreadable) - SHOWN_UNREADABLE} more: auditor check lists them all")


def _exit_for(outcomes: list[ScanOutcome]) -> None:
    if any(outcome.unreadable for outcome in outcomes):
        raise typer.Exit(3)


COMMANDS = (audit, scan, measure, report)
