"""What came of reading and measuring, on the terminal and as JSON."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.cli import common
from auditor.file_names import as_text

if TYPE_CHECKING:
    from auditor.jobs.measure import MeasureOutcome
    from auditor.jobs.scan import ScanOutcome
    from auditor.store.logbook import Logbook

    Reasons = list[tuple[str, str]]  # a path, and why it cannot be read

SHOWN_UNREADABLE = 10


def all_not_decoded(outcomes: list[ScanOutcome], just_tried: Iterable[tuple[str, str]] = ()) -> Reasons:
    """Of pictures that could not be decoded: those of these folders, and those just tried."""
    known = [each for outcome in outcomes for each in outcome.undecodable]
    return sorted(dict([*known, *just_tried]).items())


def as_document(path: Path, outcomes: list[ScanOutcome], not_decoded: Reasons) -> dict[str, object]:
    """What came of each folder, as JSON."""
    return {
        "logbook": str(path.absolute()),
        "folders": [
            {
                "folder": as_text(outcome.folder),
                "files": outcome.seen,
                "read": outcome.read,
                "gone": outcome.gone,
                "back": outcome.back,
                "passed_over": dict(outcome.passed_over),
                "unreadable": [{"path": path, "reason": reason} for path, reason in outcome.unreadable],
            }
            for outcome in outcomes
        ],
        "not_decoded": [{"path": path, "reason": reason} for path, reason in not_decoded],
    }


def print_outcomes(outcomes: list[ScanOutcome], logbook: Path | None) -> None:
    """A line for each folder; below it what could not be read, and what is no photograph."""
    from auditor.report.text.scanned import passed_over

    for outcome in outcomes:
        unchanged = outcome.seen - outcome.read - len(outcome.unreadable)
        parts = [
            common.counted(outcome.seen, "file"),
            f"{outcome.read:,} read",
            f"{max(unchanged, 0):,} unchanged",
        ]
        if outcome.back:
            parts.append(f"{outcome.back:,} back again")
        if outcome.gone:
            parts.append(f"{outcome.gone:,} gone (their frames stay in the logbook)")
        if outcome.unreadable:
            parts.append(f"{len(outcome.unreadable):,} could not be read")
        print(f"{common.printable(str(outcome.folder))}: {', '.join(parts)}")
        _print_unreadable(outcome.unreadable, logbook)
        if outcome.passed_over:
            print(f"  {passed_over(outcome.passed_over)}")


def print_measured_again(outcome: MeasureOutcome) -> None:
    """Why readings of an earlier auditor were made anew: said once, since none are left then."""
    if outcome.measured_again:
        from auditor.focus.sharpness import WHY_THIS_VERSION

        print(
            f"{common.counted(outcome.measured_again, 'frame')} measured again, since {WHY_THIS_VERSION}; "
            "some verdicts may have changed"
        )


def print_not_decoded(not_decoded: Reasons, logbook: Path | None) -> None:
    """Pictures whose pixels are damaged, each with the reason."""
    if not_decoded:
        print(f"{common.counted(len(not_decoded), 'picture')} could not be decoded; metadata was read")
        _print_unreadable(not_decoded, logbook)


def print_out_of_reach(outcome: MeasureOutcome, logbook: Path | None) -> None:
    """Pictures on a card or disk that is not there, and what to do."""
    if outcome.out_of_reach:
        print(
            f"{common.counted(len(outcome.out_of_reach), 'picture')} could not be reached now; "
            f"connect the card or disk, then run auditor measure{common.logbook_option(logbook)}"
        )
        _print_unreadable(outcome.out_of_reach, logbook, command="auditor check --json")


def _print_unreadable(unreadable: Reasons, logbook: Path | None, command: str = "auditor check") -> None:
    for path, reason in unreadable[:SHOWN_UNREADABLE]:
        print(f"  {common.printable(Path(path).name)}: {common.printable(reason)}")
    if len(unreadable) > SHOWN_UNREADABLE:
        more = len(unreadable) - SHOWN_UNREADABLE
        print(f"  and {more:,} more: {command}{common.logbook_option(logbook)} lists them all")


def print_kinds_of_files(book: Logbook, outcomes: list[ScanOutcome], logbook: Path | None) -> None:
    """Why there are fewer frames than files, and fewer in trips than there are."""
    from auditor.store.trip_summaries import files_and_frames

    for outcome in outcomes:
        counts = files_and_frames(book, as_text(outcome.folder))
        why = [
            f"{number:,} {singular if number == 1 else many}"
            for number, singular, many in (
                (counts.pairs, "raw and JPEG pair", "raw and JPEG pairs"),
                (counts.copies, "copy", "copies"),
                (counts.edited, "edited copy", "edited copies"),
                (counts.sidecars, "sidecar", "sidecars"),
            )
            if number
        ]
        if why:
            print(
                f"  {common.counted(counts.files, 'file')} make {common.counted(counts.frames, 'frame')}: "
                f"among them {', '.join(why)}"
            )
        if counts.untimed:
            print(
                f"  {common.counted(counts.untimed, 'frame')} without a time, in no trip: "
                f"auditor frames --all-trips{common.logbook_option(logbook)}"
            )
