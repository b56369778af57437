"""Pictures of the frames that a page shows: the focus area in colour at 100 %, and the whole frame, small.

Measuring keeps focus areas in grey. Those that a page shows are made in colour while the file is there, and
kept beside the logbook; where the file has gone before that, the grey picture stays.
"""

from __future__ import annotations

import base64
import os
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.errors import UnreadableFileError
from auditor.store.crops import colour_path, crop_path, keep
from auditor.store.listed_frames import FrameToShow

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

AREA_PX = 528
"""Side of a focus area: two of them fill a phone of 390 points with three pixels to a point."""
WHOLE_PX = 288
"""The longer side of a whole frame."""
FINER_THAN_WHOLE = 4
"""What a whole frame is made from is so many times as large: enough to average over."""
AREA_QUALITY = 70
WHOLE_QUALITY = 72
LARGEST_FILE_BYTES = 200_000_000
MOST_AT_ONCE = 4
"""Frames that are decoded at a time: one of 60 megapixels takes 180 MB."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture as text for the page."""

    data: str
    """A JPEG in base64."""
    width_px: int
    height_px: int


@dataclass(frozen=True, slots=True)
class FramePictures:
    """What there is to show of a frame."""

    area: Picture | None
    whole: Picture | None


def frame_pictures(logbook_path: Path, frames: Iterable[FrameToShow]) -> dict[int, FramePictures]:
    """The pictures of frames, by frame id: kept ones, else made from the file, else the grey one.

    Parameters
    ----------
    logbook_path
        Pictures lie beside it.

    Returns
    -------
    A part that cannot be shown is None.
    """
    wanted = list(frames)
    with ThreadPoolExecutor(max_workers=min(MOST_AT_ONCE, os.cpu_count() or 1)) as workers:
        made = workers.map(lambda frame: _pictures(logbook_path, frame), wanted)
        return {frame.frame_id: pictures for frame, pictures in zip(wanted, made, strict=True)}


def true_sizes(areas: Iterable[Picture | None]) -> str:
    """Style rules that tell the page how many pixels each focus area has: few differ, so they are few."""
    sides = {min(area.width_px, area.height_px) for area in areas if area}
    return "".join(f".own-{side} {{ --own: {side}px; }}\n" for side in sorted(sides))


def cut(picture: NDArray[np.uint8], centre: tuple[float, float], side_px: int) -> NDArray[np.uint8]:
    """A square of a picture, moved inside it where its centre lies near the border.

    Parameters
    ----------
    picture
        Shape (rows, columns, 3).
    centre
        x and y as fractions.
    side_px
        Less where the picture is smaller.
    """
    side = min(side_px, *picture.shape[:2])
    return part(picture, centre, side, side)


def part(
    picture: NDArray[np.uint8], centre: tuple[float, float], height_px: int, width_px: int
) -> NDArray[np.uint8]:
    """A part of a picture, moved inside it where its centre lies near the border.

    Parameters
    ----------
    picture
        Shape (rows, columns, 3).
    centre
        x and y as fractions.
    height_px, width_px
        All there is where the picture is smaller.
    """
    rows, columns = picture.shape[:2]
    height, width = min(height_px, rows), min(width_px, columns)
    top = min(max(round(centre[1] * rows - height / 2), 0), rows - height)
    left = min(max(round(centre[0] * columns - width / 2), 0), columns - width)
    return picture[top : top + height, left : left + width]


def as_jpeg(picture: NDArray[np.uint8], quality: int) -> bytes:
    """A picture in colour as a JPEG."""
    import numpy as np
    import simplejpeg

    data: bytes = simplejpeg.encode_jpeg(
        np.ascontiguousarray(picture), quality=quality, colorsubsampling="420"
    )
    return data


def in_colour(frame: FrameToShow) -> NDArray[np.uint8] | None:
    """A frame's picture, upright; None where its file is not there or cannot be decoded."""
    from auditor.readers.colour import colour

    try:
        if frame.path is None or Path(frame.path).stat().st_size > LARGEST_FILE_BYTES:
            return None
        return colour(frame.path, frame.orientation)
    except (UnreadableFileError, OSError):
        return None


def picture_of(jpeg: bytes) -> Picture | None:
    """A JPEG as text for the page; None for what is none."""
    import simplejpeg

    try:
        height_px, width_px, *_ = simplejpeg.decode_jpeg_header(jpeg, strict=False)
    except (ValueError, KeyError):
        return None
    return Picture(base64.b64encode(jpeg).decode("ascii"), width_px, height_px)


def _pictures(logbook_path: Path, frame: FrameToShow) -> FramePictures:
    area_at = colour_path(logbook_path, frame.frame_id, "area")
    whole_at = colour_path(logbook_path, frame.frame_id, "whole")
    area, whole = _kept(area_at), _kept(whole_at)
    if (area is None or whole is None) and (decoded := in_colour(frame)) is not None:
        area_jpeg = as_jpeg(cut(decoded, (frame.x, frame.y), AREA_PX), AREA_QUALITY)
        whole_jpeg = as_jpeg(_shrunk(decoded), WHOLE_QUALITY)
        keep(area_at, area_jpeg)
        keep(whole_at, whole_jpeg)
        area, whole = picture_of(area_jpeg), picture_of(whole_jpeg)
    return FramePictures(area or _kept(crop_path(logbook_path, frame.frame_id)), whole)


def _kept(path: Path) -> Picture | None:
    try:
        return picture_of(path.read_bytes())
    except OSError:
        return None


def _shrunk(picture: NDArray[np.uint8]) -> NDArray[np.uint8]:
    """The whole frame, small; of a large one every so many pixels are enough, and quicker."""
    import numpy as np
    from PIL import Image

    rows, columns = picture.shape[:2]
    scale = WHOLE_PX / max(rows, columns)
    if scale >= 1:
        return picture
    size = (max(1, round(columns * scale)), max(1, round(rows * scale)))
    step = max(1, round(1 / scale) // FINER_THAN_WHOLE)
    whole = Image.fromarray(np.ascontiguousarray(picture[::step, ::step]))
    return np.asarray(whole.resize(size, Image.Resampling.HAMMING))
