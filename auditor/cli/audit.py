"""audit, scan, measure and report: from a folder to a page."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import asdict, dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from auditor.cli import common, places, selection
from auditor.errors import StoppedError
from auditor.file_names import as_path, as_text

if TYPE_CHECKING:
    from auditor.analysis.findings import Findings
    from auditor.jobs.measure import MeasureOutcome
    from auditor.jobs.scan import Progress, ScanOutcome
    from auditor.store.logbook import Logbook
    from auditor.store.tables import Trip

SHOWN_UNREADABLE = 10
SHOWN_TRIPS = 10
FEW_TRIPS = 3
"""Of more trips there is one report over all: an old archive has a hundred."""
FoldersArgument = Annotated[
    list[Path], typer.Argument(metavar="FOLDER", help="Folders of frames; everything below them is read.")
]
IntoOption = Annotated[
    Path | None,
    typer.Option(
        "--into",
        metavar="FOLDER",
        parser=common.path_given,
        help="Folder for the report. Default: reports/ here, or beside the logbook where here is scanned.",
    ),
]


def audit(
    folders: FoldersArgument,
    logbook: common.LogbookOption = None,
    into: IntoOption = None,
    each_trip: Annotated[
        bool,
        typer.Option("--each-trip", help="A report for each trip, however many there are."),
    ] = False,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
) -> None:
    """Scan folders, measure what is new and write the report: the main job."""
    path = common.logbook_path(logbook)
    place = places.checked(into, folders, path)
    common.say(f"Logbook: {path}\nReport: in {place}", quiet)
    outcomes = _scan(folders, logbook, quiet, jobs)
    measured = _measure(logbook, quiet, jobs)
    with common.reading(logbook) as book:
        from auditor.store.tables import trips_under

        trips = trips_under(book, [as_text(outcome.folder) for outcome in outcomes])
        together = len(trips) > FEW_TRIPS and not each_trip
        reports = list(_reports(book, [None] if together else trips, place, into))
        if as_json:
            document = _as_document(path, outcomes)
            document["not_decoded"] = [
                {"path": path, "reason": reason} for path, reason in measured.unreadable
            ]
            document["trips"] = trips
            document["reports"] = [_report_document(book, report) for report in reports]
            common.print_json(document)
        else:
            _print_outcomes(outcomes)
            _print_kinds_of_files(book, outcomes)
            _print_not_measured(measured)
            if together:
                _print_trips(book, trips)
            for report in reports:
                _print_report(book, report)
            if not trips:
                print("None of these frames records when it was taken, so there is no trip to report on.")
    _exit_for(outcomes)
    folders_read = [outcome.folder for outcome in outcomes]
    if measured.unreadable or any(
        as_path(path).is_relative_to(folder)
        for path, _reason in measured.out_of_reach
        for folder in folders_read
    ):
        raise typer.Exit(3)


@dataclass(frozen=True, slots=True)
class _Report:
    """A report that was written."""

    trip: Trip | None
    """None for all trips."""
    found: Findings
    page: Path


def _reports(
    book: Logbook, trips: Sequence[Trip | None], place: Path, into: Path | None
) -> Iterator[_Report]:
    """Write the reports, each into a folder of its own unless one folder was named for one."""
    from auditor.analysis.findings import findings
    from auditor.report.write import write_report

    settings = common.settings_of(book.path)
    for trip in trips:
        found = findings(book, None if trip is None else trip.trip_id, settings)
        folder = place if into and len(trips) == 1 else place / places.folder_name(trip)
        yield _Report(trip, found, write_report(book, folder, trip=trip, settings=settings, found=found))


def _report_document(book: Logbook, report: _Report) -> dict[str, object]:
    names = selection.choose(book, all_trips=True).kit_names
    return {
        "trip": report.trip and report.trip.name,
        "path": str(report.page.absolute()),
        "kits": [asdict(row) | {"kit_short_name": names[row.kit_id]} for row in report.found.table],
        "measuring": asdict(report.found.measuring),
    }


def _print_report(book: Logbook, report: _Report) -> None:
    """The answer of a trip, or how much of it is measured where that is not all; then where its page is."""
    from auditor.analysis.hints import hints
    from auditor.report.short_names import with_short_names
    from auditor.report.terminal import kit_table_text
    from auditor.report.text.measuring import in_place_of_answer, not_measured_yet

    trip = report.trip
    chosen = selection.choose(book, trip=None if trip is None else str(trip.trip_id), all_trips=trip is None)
    if trip is None:
        print("\nAll trips of the logbook\n")
    else:
        print(f"\nTrip {common.printable(trip.name)}, {common.counted(trip.frames, 'frame')}\n")
    instead = in_place_of_answer(report.found.measuring)
    waiting = not_measured_yet(report.found.measuring)
    if instead or waiting:
        print(f"{common.wrapped(instead or waiting or '')}\n")
    if instead is None:
        shown = with_short_names(report.found, chosen.kit_names)
        print(kit_table_text(shown.table, width=common.width()))
    told = 0 if trip is None else len(hints(book, trip.trip_id))
    if trip is not None and told:
        print(f"Hints on this trip: {told}. To see them: auditor declare hints --trip {trip.trip_id}\n")
    print(f"Report: {report.page}")


def _print_trips(book: Logbook, trips: list[Trip]) -> None:
    from auditor.report.trip_lines import trip_lines
    from auditor.store.trip_summaries import trip_summaries

    wanted = {trip.trip_id for trip in trips}
    rows = [row for row in trip_summaries(book) if row.trip_id in wanted]
    print(f"\nThese frames are of {common.counted(len(rows), 'trip')}; the newest:\n")
    for line in trip_lines(rows[:SHOWN_TRIPS], width=common.width()):
        print(line)
    print("\nAll of them: auditor trips. A report a trip: auditor audit FOLDER --each-trip")


def _print_kinds_of_files(book: Logbook, outcomes: list[ScanOutcome]) -> None:
    """Why there are fewer frames than files."""
    from auditor.store.trip_summaries import files_and_frames

    for outcome in outcomes:
        found = files_and_frames(book, as_text(outcome.folder))
        why = [
            f"{number} {one if number == 1 else many}"
            for number, one, many in (
                (found.pairs, "raw and JPEG pair", "raw and JPEG pairs"),
                (found.copies, "copy", "copies"),
                (found.sidecars, "sidecar", "sidecars"),
            )
            if number
        ]
        if why:
            print(
                f"  {found.files} files make {common.counted(found.frames, 'frame')}: among them "
                f"{', '.join(why)}"
            )


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
        print(f"{common.counted(outcome.measured, 'frame')} measured")
        _print_not_measured(outcome)
        if outcome.not_tried_again:
            print(
                f"{common.counted(outcome.not_tried_again, 'picture')} could not be decoded before; "
                "auditor measure --again tries once more"
            )
    if outcome.unreadable or outcome.out_of_reach:
        raise typer.Exit(3)


def report(
    trip: selection.TripOption = None,
    all_trips: selection.AllTripsOption = False,
    kit: selection.KitOption = None,
    converter: selection.ConverterOption = None,
    bare: selection.BareOption = False,
    scene: selection.SceneOption = None,
    day: selection.DayOption = None,
    verdict: selection.VerdictOption = None,
    flag: selection.FlagOption = None,
    into: IntoOption = None,
    format_: Annotated[
        str,
        typer.Option(
            "--format", metavar="WORDS", help="What to write: html,csv,json,parquet, with commas between."
        ),
    ] = "html,csv",
    advice_from: common.AdviceFromOption = common.AdviceFrom.RECORD,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
) -> None:
    """Write the report of a trip: one HTML page, with its tables beside it."""
    selection.refuse_outcomes(verdict, flag)
    words = [word.strip() for word in format_.split(",") if word.strip()]
    with common.reading(logbook) as book:
        from auditor.report.text.measuring import not_measured_yet
        from auditor.report.write import FORMATS, files_of, write_report

        formats = [selection.known_word(word, FORMATS, "--format", "format") for word in words]
        if not formats:
            raise typer.BadParameter(f"name some of {', '.join(FORMATS)}", param_hint="--format")
        chosen = selection.choose(
            book, trip=trip, all_trips=all_trips, kit=kit, converter=converter, bare=bare, scene=scene,
            day=day,
        )  # fmt: skip
        shown = chosen.trip
        if shown is not None and chosen.limits:
            shown = replace(shown, name=f"{shown.name}; {chosen.limits}")
        found = selection.chosen_findings(book, chosen, advice_from.value)
        with selection.narrowed(book, chosen, kits=True):
            page = write_report(
                book,
                into or places.default_place([], book.path, book) / places.folder_name(shown),
                trip=shown,
                settings=common.settings_of(book.path),
                formats=formats,
                found=found,
            )
    if waiting := not_measured_yet(found.measuring):
        common.say(waiting, quiet)
    if as_json:
        files = [str(page.absolute().with_name(name)) for name in files_of(formats)]
        trip_name = chosen.trip and chosen.trip.name
        common.print_json({"trip": trip_name, "path": str(page.absolute()), "files": files})
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
            with _bar(
                "Measuring", "frames", lambda: waiting_frames(book, settings, again=again), quiet
            ) as show:
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

    with _bar("Reading", "files", files, quiet) as show:
        yield (lambda seen, _read: show(seen)) if show else None


@contextmanager
def _bar(
    doing: str, things: str, count: Callable[[], int], quiet: bool
) -> Iterator[Callable[[int], None] | None]:
    """A bar with its rate in words and the time left, on a terminal alone."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

    columns = (
        TextColumn(doing),
        BarColumn(),
        MofNCompleteColumn(),
        TextColumn("{task.fields[rate]:.0f} " + f"{things} a second"),
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
        parts = [common.counted(outcome.seen, "file"), f"{outcome.read} read", f"{max(known, 0)} unchanged"]
        if outcome.back:
            parts.append(f"{outcome.back} back again")
        if outcome.gone:
            parts.append(f"{outcome.gone} gone (their frames stay in the logbook)")
        if outcome.unreadable:
            parts.append(f"{len(outcome.unreadable)} could not be read")
        print(f"{outcome.folder}: {', '.join(parts)}")
        _print_unreadable(outcome.unreadable)


def _print_not_measured(outcome: MeasureOutcome) -> None:
    if outcome.unreadable:
        print(f"{common.counted(len(outcome.unreadable), 'picture')} could not be decoded; metadata was read")
        _print_unreadable(outcome.unreadable)
    if outcome.out_of_reach:
        print(
            f"{common.counted(len(outcome.out_of_reach), 'picture')} could not be reached now; "
            "connect the card or disk, then run auditor measure"
        )
        _print_unreadable(outcome.out_of_reach, where="")


def _print_unreadable(
    unreadable: list[tuple[str, str]], where: str = ": auditor check lists them all"
) -> None:
    for path, reason in unreadable[:SHOWN_UNREADABLE]:
        print(f"  {common.printable(Path(path).name)}: {common.printable(reason)}")
    if len(unreadable) > SHOWN_UNREADABLE:
        print(f"  and {len(unreadable) - SHOWN_UNREADABLE:,} more{where}")


def _exit_for(outcomes: list[ScanOutcome]) -> None:
    if any(outcome.unreadable for outcome in outcomes):
        raise typer.Exit(3)


COMMANDS = (audit, scan, measure, report)
