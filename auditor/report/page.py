"""The report of a trip: one page that stands by itself, and its tables beside it."""

from __future__ import annotations

import base64
import os
import re
from collections.abc import Iterable
from dataclasses import fields
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from auditor import __version__
from auditor.analysis.comparisons import comparisons, evidence
from auditor.analysis.kit_table import KIT_TABLE_MISSING, kit_table
from auditor.errors import OutputError
from auditor.report import drawing, words
from auditor.report.sentences import first_screen
from auditor.report.tables import csv_text, json_rows
from auditor.settings import Settings
from auditor.store import scans, tables
from auditor.store.crops import crop_path
from auditor.store.logbook import Logbook

PAGE, FRAMES, KITS = "report.html", "frames.csv", "kits.csv"
OURS = '<meta name="generator" content="auditor'
MOST_FLAGGED = 200
"""More flagged frames than this are counted, not listed: frames.csv has them all."""


def default_folder(trip: dict[str, Any] | None) -> Path:
    """Where the report of a trip goes when no folder is named."""
    name = "all trips" if trip is None else str(trip["name"])
    slug = re.sub(r"[^\w]+", "-", name).strip("-").lower()[:80]
    return Path("reports") / (slug or f"trip-{trip['trip_id'] if trip else 0}")


def write_report(
    logbook: Logbook, folder: Path, *, trip: dict[str, Any] | None, settings: Settings | None = None
) -> Path:
    """Write the page and its tables into a folder; a report that the auditor wrote before is replaced.

    Parameters
    ----------
    trip
        A row of `store.tables.trips`; None for all trips.

    Raises
    ------
    OutputError
        for a folder inside a scanned one, files in the way that are not ours, or a full disk.
    """
    folders = scans.folders(logbook)
    _check_place(folder, folders)
    trip_id = None if trip is None else int(trip["trip_id"])
    facts = tables.frame_facts(logbook, trip_id)
    facts["path"] = [_below(path, folders) for path in facts["path"]]
    kits = kit_table(logbook, trip_id)
    page = _page(logbook, trip, folders, json_rows(kits), settings or Settings())
    try:
        folder.mkdir(parents=True, exist_ok=True)
        _put(folder / FRAMES, csv_text(facts))
        _put(folder / KITS, csv_text(kits))
        _put(folder / PAGE, page)
    except OSError as error:
        raise OutputError(
            f"{folder}: the report cannot be written ({error.strerror}). Choose another folder with --into."
        ) from error
    return folder / PAGE


def _check_place(folder: Path, scanned: Iterable[str]) -> None:
    real = folder.resolve()
    for place in scanned:
        if real.is_relative_to(Path(place)):
            raise OutputError(
                f"{folder}: lies inside the scanned folder {place}, which is never written to. "
                "Choose another with --into."
            )
    page = folder / PAGE
    ours = page.is_file() and OURS in page.read_text(encoding="utf-8", errors="replace")[:2000]
    in_the_way = [name for name in (PAGE, FRAMES, KITS) if (folder / name).exists()]
    if in_the_way and not ours:
        raise OutputError(
            f"{folder}: holds a {in_the_way[0]} that the auditor did not write. Choose another with --into."
        )


def _put(path: Path, text: str) -> None:
    """Write under another name first, so that no half-written file bears the final one."""
    unfinished = path.with_name(path.name + ".unfinished")
    unfinished.write_text(text, encoding="utf-8", newline="\n")
    os.replace(unfinished, path)  # noqa: PTH105  # says what it does: replaces


def _page(
    logbook: Logbook,
    trip: dict[str, Any] | None,
    folders: list[str],
    kits: list[dict[str, Any]],
    settings: Settings,
) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("auditor.report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.globals.update(words=words, drawing=drawing)
    environment.filters["plain"] = words.plain
    trip_id = None if trip is None else int(trip["trip_id"])
    rows = tables.frame_rows(logbook, trip_id)
    flagged = [_flagged(row, folders, logbook.path) for row in rows if row["flags"]]
    numbers = {kit["kit_id"]: number for number, kit in enumerate(kits)}
    return environment.get_template("report.html").render(
        version=__version__,
        made_at=datetime.now(UTC).strftime("%Y-%m-%d"),
        title="All trips" if trip is None else f"Trip {trip['name']}",
        frames=len(rows),
        first_at=rows[0]["taken_at"] if rows else None,
        last_at=rows[-1]["taken_at"] if rows else None,
        without_time=sum(row["taken_at"] is None for row in rows),
        sentences=first_screen(kits),
        kits=kits,
        kit_numbers=numbers,
        kit_table_missing=KIT_TABLE_MISSING,
        comparisons=comparisons(evidence(logbook, trip_id)),
        timeline=drawing.timeline(tables.scenes(logbook, trip_id), numbers),
        flagged=[frame | {"picture": _picture(frame["picture_path"])} for frame in flagged[:MOST_FLAGGED]],
        flagged_in_all=len(flagged),
        unreadable=[
            {"path": _below(row["path"], folders), "reason": row["reason"]}
            for row in tables.unreadable(logbook)
        ],
        settings=[(field.name, getattr(settings, field.name)) for field in fields(settings)],
    )


def _flagged(row: dict[str, Any], folders: list[str], logbook_path: Path) -> dict[str, Any]:
    return {
        "picture_path": crop_path(logbook_path, row["frame_id"]),
        "path": _below(row["path"], folders),
        "taken_at": (row["taken_at"] or words.NOT_KNOWN).replace("T", " ")[:19],
        "kit_name": row["kit_name"],
        "reasons": [words.flag_reason(flag, row) for flag in row["flags"]],
    }


def _picture(path: Path) -> str | None:
    """A picture as text for the page; None where there is none."""
    try:
        return base64.b64encode(path.read_bytes()).decode("ascii")
    except OSError:
        return None


def _below(path: str | None, folders: list[str]) -> str:
    """A path as seen from its scanned folder: a page must not depend on the machine."""
    if path is None:
        return ""
    holding = [folder for folder in folders if Path(path).is_relative_to(folder)]
    if not holding:
        return Path(path).name
    return Path(path).relative_to(max(holding, key=len)).as_posix()
