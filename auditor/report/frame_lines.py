"""Frames in the terminal, one a line, under the day and the folder that they are of."""

from __future__ import annotations

import os.path
import textwrap
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import PurePath

from auditor.report.text import values as words
from auditor.report.text.frames import flag_words
from auditor.report.text.outcomes import beside_why, flag_label, why_unclear
from auditor.store.frame_facts import FrameFacts, FrameLine

Frame = FrameFacts | FrameLine

LONGEST_FILE_NAME = 20
ROOM_FOR_ISO = 72
"""Columns of a terminal from which on there is room for ISO beside the rest."""


def longest_name(paths: Iterable[str]) -> int:
    """How many columns the names of some files take, so that none is wider than its column.

    Parameters
    ----------
    paths
        Of the files.

    Returns
    -------
    int
        Columns.
    """
    return max((len(_file_name(path)) for path in paths), default=0)


def frame_lines(
    frames: Iterable[Frame],
    kit_names: dict[int, str],
    folders: list[str],
    *,
    longest: int,
    width: int,
) -> Iterator[str]:
    """Lines of text: the frames, the kits that their numbers stand for, and what the columns mean.

    Parameters
    ----------
    frames
        In order of time; each is looked at once.
    kit_names
        Short names by kit_id.
    folders
        The folders that were scanned: a frame's folder is shown as it lies below them.
    longest
        As `longest_name` gives it.
    width
        Columns of the terminal.
    """
    columns = _Columns(file=min(max(longest, 4), LONGEST_FILE_NAME), iso=width >= ROOM_FOR_ISO)
    kits: dict[int, str] = {}
    flags: set[str] = set()

    @cache  # of each folder once
    def shown_folder(folder: str) -> str:
        return words.plain(_below(folder, folders))

    def place(frame: Frame) -> tuple[str, str]:
        day = frame.taken_at[:10] if frame.taken_at else "no time recorded"
        return day, "no file left" if frame.path is None else shown_folder(os.path.dirname(frame.path))  # noqa: PTH120  # as _file_name

    for (day, folder), group in groupby(frames, place):
        yield words.shortened(f"{day}, {folder}", width)
        yield columns.head()
        for frame in group:
            kits[frame.kit_id] = frame.kit_name
            flags.update(frame.flags)
            yield from _with_notes(columns.line(frame), _notes(frame), width)
        yield ""
    yield from _meanings(kits, kit_names, flags, width)


@dataclass(frozen=True, slots=True)
class _Columns:
    """The columns of the table of frames, and what stands in them."""

    file: int
    """How wide the column of file names is."""
    iso: bool
    """Whether there is one of ISO."""

    def head(self) -> str:
        iso = "    ISO" if self.iso else ""
        return f"  {'Time':8}  {'File':{self.file}}  Kit  Scene{iso}  Shutter  Blur  Focus"

    def line(self, frame: Frame) -> str:
        time = (frame.taken_at or "")[11:19]
        name = words.shortened(_file_name(frame.path), self.file)
        scene = frame.scene_id or words.NOT_KNOWN
        iso = f"  {words.iso(frame.iso):>5}" if self.iso else ""
        shutter, blur = _shutter(frame.exposure_time_s), _blur(frame.blur_px)
        return (
            f"  {time:8}  {name:{self.file}}  {frame.kit_id:3}  {scene:>5}{iso}"
            f"  {shutter:>7}  {blur:>4}  {frame.verdict:7}"
        )


def _notes(frame: Frame) -> list[str]:
    """A frame's flags, and why it is unclear."""
    why = why_unclear(frame.verdict, frame.missing)
    flags = beside_why(frame.flags, why)
    return [*(flag_words(flag, frame) for flag in flags), *([why] if why else [])]


def _meanings(
    kits: dict[int, str], short_names: dict[int, str], flags: set[str], width: int
) -> Iterator[str]:
    """What the kits' numbers, the columns and the flags of a table stand for."""
    for kit_id in sorted(kits):
        short, full = words.shortened(short_names[kit_id], 60), words.shortened(kits[kit_id], 120)
        yield textwrap.fill(f"Kit {kit_id}: {short} = {full}", width, subsequent_indent="  ")
    yield textwrap.fill("Shutter in seconds. Blur: sigma in pixels at the focus area.", width)
    if flags:
        meanings = "; ".join(f"{words.plain(flag)} = {flag_label(flag)}" for flag in sorted(flags))
        yield textwrap.fill(f"To choose by flag, --flag: {meanings}.", width)


def _below(folder: str, scanned: Sequence[str]) -> str:
    """A folder as it lies below the scanned one; its own name where it is that one, or below none."""
    own = PurePath(folder)
    holding = [place for place in scanned if own.is_relative_to(place)]
    inside = own.relative_to(max(holding, key=len)).as_posix() if holding else "."
    return own.name if inside == "." else inside


def _file_name(path: str | None) -> str:
    # pathlib takes ten times as long: half a minute for the names of a million frames.
    return words.plain(os.path.basename(path or words.NOT_KNOWN))  # noqa: PTH119  # as said above


def _with_notes(line: str, notes: Sequence[str], width: int) -> Iterator[str]:
    """The line with its flags, and why it is unclear, behind it where they fit, else below it."""
    notes_text = words.plain(", ".join(notes))
    if not notes_text:
        yield line.rstrip()
    elif len(line) + 2 + len(notes_text) <= width:
        yield f"{line}  {notes_text}"
    else:
        yield line.rstrip()
        indent = " " * 12
        fits = len(indent) + len(notes_text) <= width
        yield (
            indent + notes_text
            if fits
            else textwrap.fill(notes_text, width, initial_indent=indent, subsequent_indent=indent)
        )


def _shutter(seconds: float | None) -> str:
    return words.exposure_time(seconds).removesuffix(" s")


def _blur(pixels: float | None) -> str:
    return words.NOT_KNOWN if pixels is None else f"{pixels:.1f}"
