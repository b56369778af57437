"""Frames in the terminal, one a line, under the day and the folder that they are of."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from itertools import groupby
from pathlib import PurePath
from typing import Any

from auditor.report.listing import below
from auditor.report.text import outcomes
from auditor.report.text import values as words

Row = dict[str, Any]
LONGEST_FILE_NAME = 20
ROOM_FOR_ISO = 72
"""Columns of a terminal from which on there is room for ISO beside the rest."""


def frame_lines(
    rows: Sequence[Row], kit_names: dict[int, str], folders: list[str], *, width: int
) -> Iterator[str]:
    """Lines of text: the frames, the kits that their numbers stand for, and what the columns mean.

    Parameters
    ----------
    rows
        Rows of frame_facts, in order of time.
    kit_names
        Short names by kit_id.
    folders
        The folders that were scanned: a frame's folder is shown as it lies below them.
    width
        Columns of the terminal.
    """
    longest = max((len(_file_name(row)) for row in rows), default=0)
    files = min(max(longest, 4), LONGEST_FILE_NAME)
    iso = width >= ROOM_FOR_ISO
    head = f"  {'Time':8}  {'File':{files}}  Kit  Scene{'    ISO' if iso else ''}  Shutter  Blur  Focus"
    for (day, folder), group in groupby(rows, lambda row: _place(row, folders)):
        yield f"{day}, {folder}"
        yield head
        for row in group:
            line = (
                f"  {(row['taken_at'] or '')[11:19]:8}  {words.shortened(_file_name(row), files):{files}}"
                f"  {row['kit_id']:3}  {row['scene_id'] or words.NOT_KNOWN:>5}"
                + (f"  {words.iso(row['iso']):>5}" if iso else "")
                + f"  {_shutter(row['exposure_time_s']):>7}  {_blur(row['blur_px']):>4}  {row['verdict']:7}"
            )
            why = outcomes.why_unclear(row["verdict"], row["missing"] or {})
            yield from _with_notes(line, [*row["flags"], *([why] if why else [])], width)
        yield ""
    shown = {row["kit_id"]: row["kit_name"] for row in rows}
    for kit_id in sorted(shown):
        short, full_name = words.shortened(kit_names[kit_id], 60), words.shortened(shown[kit_id], 120)
        full = f"Kit {kit_id}: {short} = {full_name}"
        yield textwrap.fill(full, width, subsequent_indent="  ")
    notes = "Shutter in seconds. Blur: sigma in pixels at the focus area."
    yield textwrap.fill(notes, width)


def _place(row: Row, folders: list[str]) -> tuple[str, str]:
    day = row["taken_at"][:10] if row["taken_at"] else "no time recorded"
    if row["path"] is None:
        return day, "no file left"
    inside = PurePath(below(row["path"], folders)).parent.as_posix()
    return day, words.plain(PurePath(row["path"]).parent.name if inside == "." else inside)


def _file_name(row: Row) -> str:
    return words.plain(PurePath(row["path"] or words.NOT_KNOWN).name)


def _with_notes(line: str, notes: Sequence[str], width: int) -> Iterator[str]:
    """The line with its flags, and why it is unclear, behind it where they fit, else below it."""
    told = words.plain(", ".join(notes))
    if not told:
        yield line.rstrip()
    elif len(line) + 2 + len(told) <= width:
        yield f"{line}  {told}"
    else:
        yield line.rstrip()
        indent = " " * 12
        yield textwrap.fill(told, width, initial_indent=indent, subsequent_indent=indent)


def _shutter(seconds: float | None) -> str:
    return words.exposure_time(seconds).removesuffix(" s")


def _blur(pixels: float | None) -> str:
    return words.NOT_KNOWN if pixels is None else f"{pixels:.1f}"
