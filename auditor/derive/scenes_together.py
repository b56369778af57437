"""Frames of a scene read together, from the spectra that measuring stored: their blur and verdict.

Of one subject, ratios of spectra tell which frame is more blurred, and by how much, far better than single
readings do (`focus.scene_blur`). What is compared was taken within half a minute under the same settings;
where spectra say that two frames do not show the same, nothing is joined and each frame's own reading stands.
"""

from __future__ import annotations

import json
import math
from datetime import datetime
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.derive import camera_blur
from auditor.focus.ring_spectrum import unpacked
from auditor.focus.scene_blur import Joined, compared, together
from auditor.focus.sharpness import UNTRUSTED
from auditor.frames.flags import words_disagree
from auditor.frames.verdicts import in_scene

NEIGHBOURS = 6
"""A frame is compared with so many of those before it."""
FARTHEST_S = 30.0
SAME_ISO = 1.3
"""A third of a stop: automatic ISO wanders by as much within a burst, and noise reduction hardly changes."""
SAME_FOCAL_LENGTH = 1.02
MOST_FRAMES = 200
"""Frames that are read together at once; a longer scene is cut, since the work grows with the cube."""
SPREADS_IN_90 = 2 * 1.645
UNKNOWN_SPREAD = 1.0


def read_together(frames: list[dict[str, Any]], crop: float) -> list[dict[str, Any]]:
    """What the frames of one scene tell together.

    Parameters
    ----------
    frames
        Rows of `store.scene_blur.scenes`, in order of time.
    crop
        The crop that the photographer means to make.

    Returns
    -------
    Rows for `store.scene_blur.write`, of the frames that were joined with others.
    """
    found = []
    for first in range(0, len(frames), MOST_FRAMES):
        found += _part(frames[first : first + MOST_FRAMES], crop)
    return found


def _part(frames: list[dict[str, Any]], crop: float) -> list[dict[str, Any]]:
    pairs = _pairs(frames)
    if not pairs:
        return []
    spectra = np.array([unpacked(frame["rings"]) for frame in frames])
    first, second = (np.array(ends, np.intp) for ends in zip(*pairs, strict=True))
    readings = [camera_blur.applied(frame, frame["camera_blur_px"]) or frame for frame in frames]
    joined = together(compared(spectra, first, second), *_readings(readings))
    groups: dict[int, int] = {}
    found = []
    for frame, one in zip(frames, joined, strict=True):
        if one is not None:
            groups.setdefault(one.group, frame["frame_id"])
            found.append(_told(frame, one, groups[one.group], crop))
    return found


def _pairs(frames: list[dict[str, Any]]) -> list[tuple[int, int]]:
    """Frames with those before them that were taken soon and alike."""
    times = [datetime.fromisoformat(frame["taken_at"]).timestamp() for frame in frames]
    return [
        (earlier, later)
        for later in range(len(frames))
        for earlier in range(max(0, later - NEIGHBOURS), later)
        if times[later] - times[earlier] <= FARTHEST_S and _alike(frames[earlier], frames[later])
    ]


def _alike(one: dict[str, Any], other: dict[str, Any]) -> bool:
    """Whether two frames were taken and measured under the same settings."""
    if any(one[name] != other[name] for name in ("f_number", "scale", "measured_on")):
        return False
    return _near(one["iso"], other["iso"], SAME_ISO) and _near(
        one["focal_length_mm"], other["focal_length_mm"], SAME_FOCAL_LENGTH
    )


def _near(one: float | None, other: float | None, factor: float) -> bool:
    if not one or not other:
        return one == other
    return max(one, other) <= factor * min(one, other)


def _readings(readings: list[dict[str, Any]]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Each frame's own blur, px, NaN where it has none that counts; and the spread of its logarithm."""
    blurs, spreads = np.full(len(readings), math.nan), np.full(len(readings), UNKNOWN_SPREAD)
    for place, reading in enumerate(readings):
        if reading["sigma_px"] is None or any(flag in reading["flags"] for flag in UNTRUSTED):
            continue
        blurs[place] = reading["sigma_px"]
        low, high = reading["sigma_low_px"], reading["sigma_high_px"]
        spreads[place] = math.log(high / low) / SPREADS_IN_90 if high > low > 0 else UNKNOWN_SPREAD
    return blurs, spreads


def _told(frame: dict[str, Any], one: Joined, together_id: int, crop: float) -> dict[str, Any]:
    verdict, source, on_subject = in_scene(frame, (one.sigma_px, one.low_px, one.high_px), crop)
    flags = set(json.loads(frame["frame_flags"])) - {"words_disagree"}
    if words_disagree(verdict, source, frame["camera_word"]):
        flags.add("words_disagree")
    missing = json.loads(frame["missing"])
    for name in ("blur_px", "verdict"):
        missing.pop(name, None)
    return {
        "frame_id": frame["frame_id"],
        "together_id": together_id,
        "blur_px": one.sigma_px,
        "blur_low_px": one.low_px,
        "blur_high_px": one.high_px,
        "place": one.rank,
        "verdict": verdict,
        "verdict_source": source,
        "verdict_on_subject": on_subject,
        "frame_flags": sorted(flags),
        "missing": missing,
    }
