"""The contact strip: one page of the keepers, each with its focus area at 100 % and the words that matter."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import replace
from importlib import resources
from itertools import groupby
from pathlib import Path, PurePath
from typing import Any

from auditor import __version__
from auditor.errors import OutputError
from auditor.report.frame_pictures import Cutter, FramePictures, frame_pictures, here, true_sizes
from auditor.report.text import outcomes, values
from auditor.store.frame_facts import FrameFacts
from auditor.store.listed_frames import FrameToShow

MOST_DECODED = 300
"""Of more keepers the others are shown as they were kept: decoding takes a fifth of a second a frame."""
OURS = '<meta name="generator" content="auditor contact strip'


def write_strip(
    page: Path,
    frames: Iterable[FrameFacts],
    *,
    title: str,
    logbook_path: Path,
    to_show: Iterable[FrameToShow] = (),
    cutter: Cutter = here,
) -> None:
    """Write the page; a strip that the auditor wrote there before is replaced, any other file is not.

    Parameters
    ----------
    frames
        In order of time.
    logbook_path
        The pictures of the focus areas lie beside it.
    to_show
        Where the pictures of these frames come from: the first MOST_DECODED are made in colour where they
        are not kept yet.
    cutter
        Makes those.

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
            all_frames = list(frames)
            shown = _pictures(all_frames, logbook_path, list(to_show), cutter)
            unfinished.write_text(_text(all_frames, title, shown), encoding="utf-8", newline="\n")
            unfinished.replace(page)
        finally:
            unfinished.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(f"{page}: cannot be written ({error.strerror}). Choose another place.") from error


def _text(frames: list[FrameFacts], title: str, pictures: Mapping[int, FramePictures]) -> str:
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("auditor.report"), autoescape=True, undefined=StrictUndefined, trim_blocks=True,
        lstrip_blocks=True,
    )  # fmt: skip
    environment.filters["plain"] = values.plain
    environment.globals["values"] = values
    style = "".join(
        (resources.files("auditor.report") / "templates" / name).read_text(encoding="utf-8")
        for name in ("frames.css", "strip.css")
    )
    days = [
        (day, [_frame(frame, pictures[frame.frame_id]) for frame in of_day])
        for day, of_day in groupby(frames, key=lambda frame: (frame.taken_at or "")[:10] or "Time not known")
    ]
    return environment.get_template("strip.html").render(
        version=__version__,
        title=title,
        frames=len(frames),
        days=days,
        style=style + true_sizes(shown.area for shown in pictures.values()),
    )


def _pictures(
    frames: list[FrameFacts], logbook_path: Path, to_show: list[FrameToShow], cutter: Cutter
) -> dict[int, FramePictures]:
    sources = {shown.frame_id: shown for shown in to_show}
    shown_frames = []
    for place, frame in enumerate(frames):
        shown = sources.get(frame.frame_id) or FrameToShow(
            frame_id=frame.frame_id, path=None, orientation=None, x=0.5, y=0.5
        )
        shown_frames.append(shown if place < MOST_DECODED else replace(shown, path=None))
    return frame_pictures(logbook_path, shown_frames, cutter)


def _frame(frame: FrameFacts, pictures: FramePictures) -> dict[str, Any]:
    """What the page says of one frame."""
    name = PurePath(frame.path or "")
    settings = [
        values.exposure_time(frame.exposure_time_s),
        values.f_number(frame.f_number),
        f"ISO {values.iso(frame.iso)}",
    ]
    notes = [f"{outcomes.verdict(frame.verdict)}, {outcomes.verdict_source(frame.verdict_source)}"]
    if frame.blur_px is not None:
        notes.append(f"blur {frame.blur_px:.1f} px")
    notes.append(outcomes.camera_word(frame.camera_word))
    if frame.rating:
        notes.append("rejected by you" if frame.rating < 0 else f"your rating {frame.rating}")
    return {
        "name": name.name,
        "folder": name.parent.name,
        "time": (frame.taken_at or "")[11:19],
        "kit": frame.kit_name,
        "settings": ", ".join(settings),
        "told": notes,
        "flags": [outcomes.flag_sentence(flag) for flag in frame.flags],
        "picture": pictures.area,
    }
