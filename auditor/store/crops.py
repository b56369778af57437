"""Pictures of frames, kept in a folder beside the logbook: focus areas, grey or in colour, and wholes."""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Iterable
from pathlib import Path
from typing import Literal

Kept = Literal["area", "whole", "square"]
"""In colour: the focus area cut out at 100 %; the whole frame, small; just what the grey picture shows."""
KEPT: tuple[Kept, ...] = ("area", "whole", "square")


def remove_crops(logbook_path: Path, frame_ids: Iterable[int]) -> None:
    """Take away the pictures of frames that have left the logbook.

    Parameters
    ----------
    logbook_path
        The logbook's own file.
    frame_ids
        Of frames that have left.
    """
    for frame_id in frame_ids:
        crop_path(logbook_path, frame_id).unlink(missing_ok=True)
        forget_colour(logbook_path, frame_id)


def pictures_folder(logbook_path: Path) -> Path:
    """The folder that holds every picture of a logbook.

    Parameters
    ----------
    logbook_path
        The logbook's own file: the folder lies beside it.

    Returns
    -------
    Path
        It need not be there.
    """
    return logbook_path.with_name(f"{logbook_path.stem}-focus")


def crop_path(logbook_path: Path, frame_id: int) -> Path:
    """Where the grey picture of a frame's focus area lies, if it has one: a JPEG, a thousand to a folder.

    Parameters
    ----------
    logbook_path
        The logbook's own file: pictures lie beside it.
    frame_id
        Of the frame.

    Returns
    -------
    Path
        The file need not be there.
    """
    return pictures_folder(logbook_path) / f"{frame_id // 1000:04d}" / f"{frame_id}.jpg"


def colour_path(logbook_path: Path, frame_id: int, what: Kept) -> Path:
    """Where a frame's picture in colour lies, if it has one: made when a page first shows the frame.

    Parameters
    ----------
    logbook_path
        The logbook's own file.
    frame_id
        Of the frame.
    what
        The focus area, or the whole frame.

    Returns
    -------
    Path
        The file need not be there.
    """
    return crop_path(logbook_path, frame_id).with_suffix(f".{what}.jpg")


def forget_colour(logbook_path: Path, frame_id: int) -> None:
    """Take away what is kept in colour: the frame was measured anew, perhaps elsewhere in its picture.

    Parameters
    ----------
    logbook_path
        The logbook's own file.
    frame_id
        Of the frame.
    """
    for what in KEPT:
        colour_path(logbook_path, frame_id, what).unlink(missing_ok=True)


def keep(path: Path, data: bytes) -> None:
    """Keep a picture; where there is no room or no permission, it is made again next time.

    Parameters
    ----------
    path
        As `crop_path` or `colour_path` gives it.
    data
        A whole JPEG.
    """
    unfinished = path.with_suffix(f".{os.getpid()}-{threading.get_ident()}.unfinished")
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        try:
            unfinished.write_bytes(data)
            unfinished.replace(path)
        finally:
            unfinished.unlink(missing_ok=True)
