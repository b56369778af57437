"""The contact strip: one page of the keepers, each with its focus area at 100 % and the words that matter."""

from __future__ import annotations

import base64
import os
from collections.abc import Iterable
from itertools import groupby
from pathlib import Path, PurePath
from typing import Any

from auditor import __version__
from auditor.errors import OutputError
from auditor.report.text import outcomes, values
from auditor.store.crops import crop_path
from auditor.store.frame_facts import FrameFacts

OURS = '<meta name="generator" content="auditor contact strip'


def write_strip(page: Path, frames: Iterable[FrameFacts], *, title: str, logbook_path: Path) -> None:
    """Write the page; a strip that the auditor wrote there before is replaced, any other file is not.

    Parameters
    ----------
    frames
        In order of time.
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
            unfinished.write_text(_text(list(frames), title, logbook_path), encoding="utf-8", newline="\n")
            os.replace(unfinished, page)  # noqa: PTH105  # says what it does: replaces
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{page}: cannot be written ({error.strerror}). Choose another place.") from error


def _text(frames: list[FrameFacts], title: str, logbook_path: Path) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("auditor.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["plain"] = values.plain
    environment.globals["values"] = values
    days = [
        (day, [_frame(frame, logbook_path) for frame in of_day])
        for day, of_day in groupby(frames, key=lambda frame: (frame.taken_at or "")[:10] or "Time not known")
    ]
    return environment.get_template("strip.html").render(
        version=__version__, title=title, frames=len(frames), days=days
    )


def _frame(frame: FrameFacts, logbook_path: Path) -> dict[str, Any]:
    """What the page says of one frame."""
    name = PurePath(frame.path or "")
    settings = [
        values.exposure_time(frame.exposure_time_s),
        values.f_number(frame.f_number),
        f"ISO {values.iso(frame.iso)}",
    ]
    told = [f"{outcomes.verdict(frame.verdict)}, {outcomes.verdict_source(frame.verdict_source)}"]
    if frame.blur_px is not None:
        told.append(f"blur {frame.blur_px:.1f} px")
    told.append(outcomes.camera_word(frame.camera_word))
    if frame.rating:
        told.append("rejected by you" if frame.rating < 0 else f"your rating {frame.rating}")
    return {
        "name": name.name,
        "folder": name.parent.name,
        "time": (frame.taken_at or "")[11:19],
        "kit": frame.kit_name,
        "settings": ", ".join(settings),
        "told": told,
        "flags": [outcomes.flag_sentence(flag) for flag in frame.flags],
        "picture": _picture(crop_path(logbook_path, frame.frame_id)),
    }


def _picture(path: Path) -> str | None:
    """A picture as text for the page; None where there is none."""
    try:
        return base64.b64encode(path.read_bytes()).decode("ascii")
    except OSError:
        return None
