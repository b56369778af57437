"""The report of a trip: one page that stands by itself, and its tables beside it."""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from pathlib import Path

from auditor.analysis.findings import Findings, findings
from auditor.errors import OutputError
from auditor.readers.places import refuse_scanned
from auditor.report.frame_pictures import Cutter, here
from auditor.report.tables import BEGINNINGS, check_parquet, parquet_is_ours, write_frames, write_kits
from auditor.settings import Settings
from auditor.store import scans
from auditor.store.logbook import Logbook
from auditor.store.trips import Trip

PAGE = "report.html"
SHARED_PAGE = "report-to-share.html"
FORMATS = ("html", "csv", "json", "parquet")
USUAL = ("html", "csv")
OURS = '<meta name="generator" content="auditor'


def default_folder(trip: Trip | None) -> Path:
    """Where the report of a trip goes when no folder is named."""
    name = "all trips" if trip is None else trip.name
    slug = re.sub(r"[^\w]+", "-", name).strip("-").lower()[:80]
    return Path("reports") / (slug or f"trip-{trip.trip_id if trip else 0}")


def files_of(formats: Collection[str]) -> list[str]:
    """The names of what is written in these formats, the page first."""
    names = [PAGE] if "html" in formats else []
    kinds = [kind for kind in FORMATS[1:] if kind in formats]
    return names + [f"{table}.{kind}" for kind in kinds for table in ("frames", "kits")]


def write_report(
    logbook: Logbook,
    folder: Path,
    *,
    trip: Trip | None,
    settings: Settings | None = None,
    formats: Collection[str] = USUAL,
    report_findings: Findings | None = None,
    option: str = "",
    share: bool = False,
    cutter: Cutter = here,
) -> Path:
    """Write the page and its tables into a folder; a report that the auditor wrote before is replaced.

    Parameters
    ----------
    trip
        None for all trips.
    formats
        Of FORMATS.
    report_findings
        The findings on that trip, where they were made already.
    option
        What commands on the page need behind them to reach this logbook; nothing where it is the usual one.
    share
        Write the page alone, under a name of its own, without what only the photographer should know.
    cutter
        Cuts pictures of frames that are not kept yet.

    Returns
    -------
    The page, or the first table where no page was asked for.

    Raises
    ------
    OutputError
        for a folder inside a scanned one, files in the way that are not ours, a full disk, or Parquet
        without its package.
    """
    settings = settings or Settings()
    names = [SHARED_PAGE] if share else files_of(formats)
    folders = scans.folders(logbook)
    if "parquet" in formats:
        check_parquet()
    _check_place(folder, folders, names)
    trip_id = None if trip is None else trip.trip_id
    tables = [name for name in names if not name.endswith(".html")]
    report_findings = report_findings or findings(logbook, trip_id, settings)
    try:
        folder.mkdir(parents=True, exist_ok=True)
        if tables:
            frames, kits = (
                [name for name in tables if name.startswith(table)] for table in ("frames", "kits")
            )
            _put(folder, frames, lambda paths: write_frames(logbook, trip_id, folders, paths))
            _put(folder, kits, lambda paths: write_kits(report_findings.table, paths))
        pages = [name for name in names if name not in tables]
        if pages:
            from auditor.report.html import page_text

            page = page_text(
                logbook,
                trip,
                settings,
                report_findings,
                beside=tables,
                option=option,
                share=share,
                cutter=cutter,
            )
            _put(folder, pages, lambda paths: _write_text(paths[pages[0]], page))
    except OSError as error:
        raise OutputError(
            f"{folder}: the report cannot be written ({error.strerror}). Choose another folder with --into."
        ) from error
    return folder / names[0]


def _check_place(folder: Path, scanned: Iterable[str], names: list[str]) -> None:
    refuse_scanned(folder, scanned, "Choose another with --into.")
    for name in names:
        if (folder / name).exists() and not _is_ours(folder / name):
            raise OutputError(
                f"{folder}: holds a {name} that the auditor did not write. Choose another with --into."
            )


def _is_ours(path: Path) -> bool:
    """Whether the auditor wrote this file, judged by how it begins."""
    if path.suffix == ".parquet":
        return parquet_is_ours(path)
    with path.open(encoding="utf-8", errors="replace") as file:
        start = file.read(2000)
    return OURS in start if path.suffix == ".html" else start.startswith(BEGINNINGS)


def _put(folder: Path, names: list[str], write: Callable[[dict[str, Path]], None]) -> None:
    """Write under other names first, so that no half-written file bears its final one."""
    unfinished = {name: folder / f"{name}.unfinished" for name in names}
    try:
        write(unfinished)
        for name, path in unfinished.items():
            path.replace(folder / name)
    finally:
        for path in unfinished.values():
            path.unlink(missing_ok=True)


def _write_text(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")
