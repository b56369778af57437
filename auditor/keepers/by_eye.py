"""An encounter as it is looked at by eye: bursts of focus areas at one angle, lined up on the subject."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import TYPE_CHECKING

from auditor.store.best_frames import best_of
from auditor.store.crops import crop_path
from auditor.store.encounter_frames import EncounterFrame, frames_of_encounter
from auditor.store.logbook import Logbook
from auditor.words import Verdict

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

SHOWN_PX = 240
"""Side of the square in which each focus area is shown."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """How the kept picture of a focus area lies in its square, in px of the square from its top left."""

    x: float
    y: float
    width: float
    height: float


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedAt:
    """A frame of a burst."""

    frame: EncounterFrame
    sharpest: bool
    """The sharpest hit of its burst: what is suggested, and never chosen by itself."""
    placed: Placed | None
    """None where no picture of its focus area is kept."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LookedAtBurst:
    """A burst: frames of one body in a row."""

    burst_id: int
    frames: list[LookedAt]
    one_angle: bool
    """Its squares show the angle that those of the other bursts do; False where an angle is not known."""


def bursts_of(logbook: Logbook, encounter_id: int) -> list[LookedAtBurst]:
    """The bursts of an encounter, in order of time.

    Every square shows one angle, that of the picture that shows least around the animal, so that kits
    compare.

    Parameters
    ----------
    encounter_id
        As `membership` has it; an unknown one has no bursts.

    Returns
    -------
    list[LookedAtBurst]
        With how each focus area is placed in its square.
    """
    frames = frames_of_encounter(logbook, encounter_id)
    hits = [frame.frame_id for frame in frames if frame.verdict == Verdict.HIT]
    sharpest = set(best_of(logbook, hits))
    pictures = {frame.frame_id: _kept(crop_path(logbook.path, frame.frame_id)) for frame in frames}
    square_urad = min(
        (
            max(picture.shape) * frame.pixel_urad
            for frame in frames
            if frame.pixel_urad and (picture := pictures[frame.frame_id]) is not None
        ),
        default=None,
    )
    return [
        _burst(burst_id, list(members), pictures, sharpest, square_urad)
        for burst_id, members in groupby(frames, key=lambda frame: frame.burst_id)
    ]


def _burst(
    burst_id: int,
    frames: Sequence[EncounterFrame],
    pictures: Mapping[int, NDArray[np.uint8] | None],
    sharpest: set[int],
    square_urad: float | None,
) -> LookedAtBurst:
    first = next((frame for frame in frames if frame.frame_id in sharpest), frames[0])
    reference = pictures[first.frame_id]
    looked_at = [
        LookedAt(
            frame=frame,
            sharpest=frame.frame_id in sharpest,
            placed=_placed(frame, pictures[frame.frame_id], reference, square_urad),
        )
        for frame in frames
    ]
    one_angle = all(each.frame.pixel_urad for each in looked_at if each.placed is not None)
    return LookedAtBurst(burst_id=burst_id, frames=looked_at, one_angle=one_angle)


def _placed(
    frame: EncounterFrame,
    picture: NDArray[np.uint8] | None,
    reference: NDArray[np.uint8] | None,
    square_urad: float | None,
) -> Placed | None:
    if picture is None:
        return None
    rows, columns = picture.shape
    larger = SHOWN_PX / max(rows, columns)
    if frame.pixel_urad and square_urad:
        larger = SHOWN_PX * frame.pixel_urad / square_urad
    right, down = _beside(reference, picture)
    return Placed(
        x=SHOWN_PX / 2 - (columns / 2 + right) * larger,
        y=SHOWN_PX / 2 - (rows / 2 + down) * larger,
        width=columns * larger,
        height=rows * larger,
    )


def _beside(reference: NDArray[np.uint8] | None, picture: NDArray[np.uint8]) -> tuple[float, float]:
    """How far the subject lies to the right of and below where the burst's sharpest frame has it, px."""
    import numpy as np

    from auditor.focus.alignment import shift_between

    if reference is None or reference is picture or reference.shape != picture.shape:
        return 0.0, 0.0
    shift = shift_between(reference.astype(np.float32), picture.astype(np.float32))
    return (0.0, 0.0) if shift is None else (shift.right_px, shift.down_px)


def _kept(path: Path) -> NDArray[np.uint8] | None:
    """The kept picture of a focus area, in grey; None where there is none."""
    import simplejpeg

    try:
        luma: NDArray[np.uint8] = simplejpeg.decode_jpeg(path.read_bytes(), colorspace="GRAY")[..., 0]
    except (OSError, ValueError):
        return None
    return luma
