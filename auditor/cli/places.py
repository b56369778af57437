"""Where reports go: said and checked before the work begins."""

from __future__ import annotations

import os
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.errors import OutputError
from auditor.readers.places import holding, refuse_scanned

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook
    from auditor.store.trips import Trip

REPORTS = "reports"


def checked(into: Path | None, folders: Iterable[Path], logbook_path: Path) -> Path:
    """The folder that reports go to, known to be outside every folder that is scanned.

    Raises
    ------
    OutputError
        for a folder inside one of them.
    """
    about_to_be = [folder.resolve() for folder in folders]
    if not logbook_path.is_file() or not logbook_path.stat().st_size:  # a run killed as it began leaves that
        return _outside(into, about_to_be, logbook_path)
    from auditor.cli import common
    from auditor.store import scans

    with common.reading(logbook_path) as book:
        return _outside(into, [*about_to_be, *scans.folders(book)], logbook_path)


def default_place(folders: Iterable[Path], logbook_path: Path, book: Logbook) -> Path:
    """Where reports go when no folder is named."""
    from auditor.store import scans

    return _outside(None, [*folders, *scans.folders(book)], logbook_path)


def check_copy(place: Path, scanned: Iterable[str | Path]) -> None:
    """Refuse a place for a copy of the logbook that cannot be used.

    Raises
    ------
    OutputError
        for a place inside a scanned folder, or whose folder is not there.
    """
    refuse_scanned(place, scanned, "Choose another place.")
    if not place.absolute().parent.is_dir():
        raise OutputError(f"{place}: there is no such folder. Make it first, or choose another place.")


def folder_name(trip: Trip | None) -> str:
    """The name of a report's own folder."""
    from auditor.report.write import default_folder

    return default_folder(trip).name


def _outside(into: Path | None, scanned: Sequence[str | Path], logbook_path: Path) -> Path:
    if into is not None:
        refuse_scanned(into, scanned, "Choose another with --into.")
        return into
    # Relative where it can be: it is shorter to read, and is where the user looks first.
    here = Path(REPORTS)
    if holding(here, scanned) is None and os.access(here if here.is_dir() else Path(), os.W_OK):
        return here
    beside = logbook_path.resolve().parent / REPORTS
    if holding(beside, scanned) is not None:
        raise OutputError(
            f"{beside}: lies inside a scanned folder. Choose a place for the report with --into."
        )
    return beside
