"""Pictures of the frames that a page shows: the focus area in colour at 100 %, and the whole frame, small.

Measuring keeps focus areas in grey. Those that a page shows are made in colour while the file is there, and
kept beside the logbook; where the file has gone before that, the grey picture stays.
"""

from __future__ import annotations

import base64
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from auditor.file_names import as_path
from auditor.readers.colour_cuts import Cuts, cuts
from auditor.store.crops import colour_path, crop_path, keep
from auditor.store.listed_frames import FrameToShow

Cutter = Callable[[Sequence[FrameToShow]], Iterable[tuple[int, Cuts | None]]]
"""From frames to what was cut from each, by frame id, in any order; None where a file cannot be shown."""


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


def here(frames: Sequence[FrameToShow]) -> Iterator[tuple[int, Cuts | None]]:
    """Cut them in this process, one by one: a file over which a decoder crashes takes the page along."""
    for frame in frames:
        yield frame.frame_id, cuts(frame.path, frame.orientation, (frame.x, frame.y))


def frame_pictures(
    logbook_path: Path, frames: Iterable[FrameToShow], cutter: Cutter = here
) -> dict[int, FramePictures]:
    """The pictures of frames, by frame id: kept ones, else cut from the file, else the grey one.

    Parameters
    ----------
    logbook_path
        Pictures lie beside it.
    cutter
        Cuts those that are not kept yet.

    Returns
    -------
    A part that cannot be shown is None.
    """
    by_id = {frame.frame_id: frame for frame in frames}
    pictures = {frame_id: _kept_of(logbook_path, frame_id) for frame_id in by_id}
    lacking = [
        frame
        for frame_id, frame in by_id.items()
        if frame.path is not None
        and None in (pictures[frame_id].area, pictures[frame_id].whole)
        and as_path(frame.path).is_file()
    ]
    for frame_id, frame_cuts in cutter(lacking) if lacking else ():
        if frame_cuts is None:
            continue
        keep(colour_path(logbook_path, frame_id, "area"), frame_cuts.area)
        keep(colour_path(logbook_path, frame_id, "whole"), frame_cuts.whole)
        pictures[frame_id] = FramePictures(picture_of(frame_cuts.area), picture_of(frame_cuts.whole))
    return {
        frame_id: FramePictures(shown.area or _kept(crop_path(logbook_path, frame_id)), shown.whole)
        for frame_id, shown in pictures.items()
    }


def true_sizes(areas: Iterable[Picture | None]) -> str:
    """Style rules that tell the page how many pixels each focus area has: few differ, so they are few."""
    sides = {min(area.width_px, area.height_px) for area in areas if area}
    return "".join(f".own-{side} {{ --own: {side}px; }}\n" for side in sorted(sides))


def picture_of(jpeg: bytes) -> Picture | None:
    """A JPEG as text for the page; None for what is none."""
    import simplejpeg

    try:
        height_px, width_px, *_ = simplejpeg.decode_jpeg_header(jpeg, strict=False)
    except (ValueError, KeyError):
        return None
    return Picture(base64.b64encode(jpeg).decode("ascii"), width_px, height_px)


def _kept_of(logbook_path: Path, frame_id: int) -> FramePictures:
    area, whole = (_kept(colour_path(logbook_path, frame_id, what)) for what in ("area", "whole"))
    return FramePictures(area, whole)


def _kept(path: Path) -> Picture | None:
    try:
        return picture_of(path.read_bytes())
    except OSError:
        return None
