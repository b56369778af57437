"""audit, scan and measure: from a folder to a page."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, NamedTuple

import typer

from auditor.cli import common, places, progress, scanned
from auditor.cli.report import IntoOption, print_report, report_document, written_reports
from auditor.errors import AuditorError, StoppedError
from auditor.file_names import as_path, as_text

if TYPE_CHECKING:
    from auditor.jobs.measure import MeasureOutcome
    from auditor.jobs.scan import ScanOutcome
    from auditor.store.logbook import Logbook
    from auditor.store.trips import Trip


SHOWN_TRIPS = 10
FEW_TRIPS = 3
"""With more trips than this there is one report over all: an old archive has a hundred."""
FoldersArgument = Annotated[
    list[Path],
    typer.Argument(
        metavar="FOLDER",
        parser=common.path_given,
        help="Folders of frames, read with everything below them.",
    ),
]

WorkersOption = Annotated[
    str | None,
    typer.Option(
        "--workers", metavar="ADDRESS", help="Have the workers of a Dask scheduler read: tcp://HOST:PORT."
    ),
]


class Hands(NamedTuple):
    """Who reads files: processes here, or the workers of a cluster."""

    jobs: int | None
    cluster: str | None = None

    @property
    def processes(self) -> int:
        """As asked for, or one a core."""
        from auditor.jobs.workers import default_jobs

        return self.jobs or default_jobs()


def audit(
    folders: FoldersArgument,
    logbook: common.LogbookOption = None,
    into: IntoOption = None,
    each_trip: Annotated[
        bool,
        typer.Option("--each-trip", help="Write a report for each trip, however many there are."),
    ] = False,
    watch: Annotated[
        bool,
        typer.Option(
            "--watch", help="Wait for the folders and audit them each time they appear, until Ctrl-C."
        ),
    ] = False,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
    workers: WorkersOption = None,
) -> None:
    """Scan folders, measure what is new and write the report: the main job."""
    path = common.logbook_path(logbook)
    place = places.checked(into, folders, path)
    if not watch:
        from auditor.jobs.scan import check_folders

        check_folders(folders, path)
    common.say(f"Logbook: {path}\nReport: in {place}", quiet)
    hands = Hands(jobs, workers)
    if watch:
        _watch(
            folders,
            lambda there: _audit(there, logbook, place, into, each_trip, as_json, quiet, hands),
            quiet,
        )
    else:
        _audit(folders, logbook, place, into, each_trip, as_json, quiet, hands)


def _watch(folders: list[Path], audit_them: Callable[[list[Path]], None], quiet: bool) -> None:
    """Audit each folder when it appears; what is wrong with one is said, and the next is waited for."""
    from auditor.jobs.watch import appearing

    waiting = f"Waiting for {', '.join(common.printable(str(folder)) for folder in folders)}; Ctrl-C ends."
    common.say(waiting, quiet)
    try:
        for there in appearing(folders):
            try:
                audit_them(there)
            except typer.Exit:  # some files could not be read, and were listed
                pass
            except StoppedError:
                raise
            except AuditorError as error:  # a card pulled out too early, for one
                print(f"auditor: {common.printable(' '.join(str(error).split()))}", file=sys.stderr)
            sys.stdout.flush()
            common.say(waiting, quiet)
    except KeyboardInterrupt as interrupt:
        raise StoppedError("Stopped waiting. Everything that was read is kept.") from interrupt


def _audit(
    folders: list[Path],
    logbook: Path | None,
    place: Path,
    into: Path | None,
    each_trip: bool,
    as_json: bool,
    quiet: bool,
    hands: Hands,
) -> None:
    outcomes = _scan(folders, logbook, quiet, hands)
    measured = _measure(logbook, quiet, hands)
    lost = scanned.all_not_decoded(outcomes, measured.unreadable)
    with common.reading(logbook) as book:
        from auditor.store.trips import trips_under

        trips = trips_under(book, [as_text(outcome.folder) for outcome in outcomes])
        together = len(trips) > FEW_TRIPS and not each_trip
        reports = list(written_reports(book, [None] if together else trips, place, into, logbook))
        if as_json:
            document = scanned.as_document(common.logbook_path(logbook), outcomes, lost)
            document["trips"] = trips
            document["reports"] = [report_document(book, report) for report in reports]
            common.print_json(document)
        else:
            scanned.print_outcomes(outcomes, logbook)
            scanned.print_kinds_of_files(book, outcomes, logbook)
            scanned.print_measured_again(measured)
            scanned.print_not_decoded(lost, logbook)
            scanned.print_out_of_reach(measured, logbook)
            if together:
                _print_trips(book, trips, logbook)
            for report in reports:
                print_report(book, report, logbook)
            if not trips:
                print("None of these frames records when it was taken, so there is no trip to report on.")
    _exit_for(outcomes)
    folders_read = [outcome.folder for outcome in outcomes]
    if lost or any(
        as_path(path).is_relative_to(folder)
        for path, _reason in measured.out_of_reach
        for folder in folders_read
    ):
        raise typer.Exit(3)


def _print_trips(book: Logbook, trips: list[Trip], logbook: Path | None) -> None:
    from auditor.analysis.trips import added_by_trips
    from auditor.report.trip_lines import trip_lines
    from auditor.store.trip_summaries import trip_summaries

    trip_ids = {trip.trip_id for trip in trips}
    rows = [row for row in trip_summaries(book) if row.trip_id in trip_ids]
    shown = [row.trip_id for row in rows[:SHOWN_TRIPS]]
    added = added_by_trips(book, shown, common.settings_of(book.path))
    print(f"\nThese frames are of {common.counted(len(rows), 'trip')}; the newest:\n")
    for line in trip_lines(rows[:SHOWN_TRIPS], width=common.width(), added=added):
        print(line)
    option = common.logbook_option(logbook)
    print(f"\nAll of them: auditor trips{option}")
    print(f"A report a trip: auditor audit FOLDER --each-trip{option}")


def scan(
    folders: FoldersArgument,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
    workers: WorkersOption = None,
) -> None:
    """Read the metadata of new and changed frames into the logbook."""
    outcomes = _scan(folders, logbook, quiet, Hands(jobs, workers))
    if as_json:
        common.print_json(
            scanned.as_document(common.logbook_path(logbook), outcomes, scanned.all_not_decoded(outcomes))
        )
    else:
        scanned.print_outcomes(outcomes, logbook)
        scanned.print_not_decoded(scanned.all_not_decoded(outcomes), logbook)
    common.say(f"Logbook: {common.logbook_path(logbook)}", quiet)
    if not quiet:
        _say_what_is_next(logbook)
    _exit_for(outcomes)


def _say_what_is_next(logbook: Path | None, *, just_measured: bool = False) -> None:
    """The command after a scan, or after measuring what can be reached; none where there is no frame."""
    from auditor.analysis.measuring import measuring

    with common.reading(logbook) as book:
        measured = measuring(book)
    if measured.frames:
        command = "measure" if measured.waiting and not just_measured else "report"
        common.say(f"Next: auditor {command}{common.logbook_option(logbook)}", quiet=False)


def measure(
    again: Annotated[
        bool, typer.Option("--again", help="Also retry pictures that could not be decoded before.")
    ] = False,
    logbook: common.LogbookOption = None,
    as_json: common.JsonOption = False,
    quiet: common.QuietOption = False,
    jobs: common.JobsOption = None,
    workers: WorkersOption = None,
) -> None:
    """Measure frames that have not been measured yet, at their focus areas."""
    outcome = _measure(logbook, quiet, Hands(jobs, workers), again)
    if as_json:
        common.print_json(
            {
                "measured": outcome.measured,
                "measured_again": outcome.measured_again,
                "cut_anew": outcome.recut,
                "unreadable": [{"path": path, "reason": reason} for path, reason in outcome.unreadable],
                "out_of_reach": [{"path": path, "reason": reason} for path, reason in outcome.out_of_reach],
                "not_tried_again": outcome.not_tried_again,
            }
        )
    else:
        print(f"{common.counted(outcome.measured, 'frame')} measured")
        scanned.print_measured_again(outcome)
        if outcome.recut:
            print(f"{common.counted(outcome.recut, 'picture')} of focus areas cut anew, to another size")
        scanned.print_not_decoded(outcome.unreadable, logbook)
        scanned.print_out_of_reach(outcome, logbook)
        if outcome.not_tried_again:
            print(
                f"{common.counted(outcome.not_tried_again, 'picture')} could not be decoded before; "
                f"auditor measure --again{common.logbook_option(logbook)} tries once more"
            )
    if not quiet:
        _say_what_is_next(logbook, just_measured=True)
    if outcome.unreadable or outcome.out_of_reach:
        raise typer.Exit(3)


def _scan(folders: list[Path], logbook: Path | None, quiet: bool, hands: Hands) -> list[ScanOutcome]:
    from auditor.jobs.scan import scan as scan_folders

    path = common.logbook_path(logbook)
    settings = common.settings_of(path)
    with progress.reading_bar(folders, quiet) as show:
        try:
            return scan_folders(
                path, folders, settings, jobs=hands.processes, cluster=hands.cluster, progress=show
            )
        except KeyboardInterrupt as interrupt:
            raise StoppedError(
                "Stopped. What was read so far is kept; run the same command again to go on."
            ) from interrupt


def _measure(logbook: Path | None, quiet: bool, hands: Hands, again: bool = False) -> MeasureOutcome:
    from auditor.jobs.measure import measure as measure_frames
    from auditor.jobs.measure import waiting_frames

    with common.reading(logbook) as book:
        try:
            settings = common.settings_of(book.path)
            with progress.bar(
                "Measuring", "frames", lambda: waiting_frames(book, settings, again=again), quiet
            ) as show:
                outcome = measure_frames(
                    book,
                    settings,
                    jobs=hands.processes,
                    cluster=hands.cluster,
                    again=again,
                    progress=show,
                )
        except KeyboardInterrupt as interrupt:
            raise StoppedError(
                f"Stopped. What was measured so far is kept; auditor measure{common.logbook_option(logbook)} "
                "goes on from there."
            ) from interrupt
    return outcome


def _exit_for(outcomes: list[ScanOutcome]) -> None:
    if any(outcome.unreadable or outcome.undecodable for outcome in outcomes):
        raise typer.Exit(3)


COMMANDS = (audit, scan, measure)
