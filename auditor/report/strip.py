"""The contact strip: one page of the keepers, each with its focus area at 100 % and the words that matter."""

from __future__ import annotations

import base64
import os
from collections.abc import Iterable, Mapping
from itertools import groupby
from pathlib import Path, PurePath
from typing import Any

from auditor import __version__
from auditor.errors import OutputError
from auditor.report.text import outcomes, values
from auditor.store.crops import crop_path

OURS = '<meta name="generator" content="auditor contact strip'
COLUMNS = (
    "frame_id", "path", "taken_at", "kit_name", "iso", "exposure_time_s", "f_number", "blur_px", "blur_kind",
    "verdict", "verdict_source", "camera_word", "rating", "flags",
)  # fmt: skip
"""What of frame_facts the strip shows."""


def write_strip(page: Path, rows: Iterable[Mapping[str, Any]], *, title: str, logbook_path: Path) -> None:
    """Write the page; a strip that the auditor wrote there before is replaced, any other file is not.

    Parameters
    ----------
    rows
        Of frame_facts with at least COLUMNS, in order of time.
    logbook_path
        The pictures of the focus areas lie beside it.

    Raises
    ------
    OutputError
        for a file in the way that is not ours, or a place that cannot be written.
    """
    if page.is_dir():
        raise OutputError(f"{page}: is a folder. Name a file, such as keepers.html in it.")
    try:
        if os.path.lexists(page) and OURS not in page.read_text(encoding="utf-8", errors="replace")[:1000]:
            raise OutputError(f"{page}: the auditor did not write this file. Choose another name.")
        page.parent.mkdir(parents=True, exist_ok=True)
        unfinished = page.with_name(f".unfinished-strip-{os.getpid()}")
        try:
            unfinished.write_text(_text(list(rows), title, logbook_path), encoding="utf-8", newline="\n")
            os.replace(unfinished, page)  # noqa: PTH105  # says what it does: replaces
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{page}: cannot be written ({error.strerror}). Choose another place.") from error


def _text(rows: list[Mapping[str, Any]], title: str, logbook_path: Path) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("auditor.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["plain"] = values.plain
    environment.globals["values"] = values
    days = [
        (day, [_frame(row, logbook_path) for row in frames])
        for day, frames in groupby(rows, key=lambda row: (row["taken_at"] or "")[:10] or "Time not known")
    ]
    return environment.get_template("strip.html").render(
        version=__version__, title=title, frames=len(rows), days=days
    )


def _frame(row: Mapping[str, Any], logbook_path: Path) -> dict[str, Any]:
    """What the page says of one frame."""
    name = PurePath(row["path"] or "")
    settings = [
        values.exposure_time(row["exposure_time_s"]),
        values.f_number(row["f_number"]),
        f"ISO {values.iso(row['iso'])}",
    ]
    told = [f"{outcomes.verdict(row['verdict'])}, {outcomes.verdict_source(row['verdict_source'])}"]
    if row["blur_px"] is not None:
        told.append(f"blur {row['blur_px']:.1f} px")
    told.append(outcomes.camera_word(row["camera_word"]))
    if row["rating"]:
        told.append("rejected by you" if row["rating"] < 0 else f"your rating {row['rating']}")
    return {
        "name": name.name,
        "folder": name.parent.name,
        "time": (row["taken_at"] or "")[11:19],
        "kit": row["kit_name"],
        "settings": ", ".join(settings),
        "told": told,
        "flags": [outcomes.flag_sentence(flag) for flag in row["flags"]],
        "picture": _picture(crop_path(logbook_path, row["frame_id"])),
    }


def _picture(path: Path) -> str | None:
    """A picture as text for the page; None where there is none."""
    try:
        return base64.b64encode(path.read_bytes()).decode("ascii")
    except OSError:
        return None
