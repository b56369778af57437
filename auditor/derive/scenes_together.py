"""Frames of a scene read together, from the spectra that measuring stored: their blur and verdict.

Of one subject, ratios of spectra tell which frame is more blurred, and by how much, far better than single
readings do (`focus.scene_blur`). What is compared was taken within half a minute under the same settings;
where spectra say that two frames do not show the same, nothing is joined and each frame's own reading stands.
"""

from __future__ import annotations

import math
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from auditor.derive import camera_blur
from auditor.focus.ring_spectrum import unpacked
from auditor.focus.scene_blur import Joined, compared, together
from auditor.frames.flags import words_disagree
from auditor.frames.verdicts import in_scene
from auditor.store.scene_blur import SceneBlur, SceneFrame
from auditor.words import BlurKind, FrameFlag, MissingReason, ReadingFlag, Verdict

NEIGHBOURS = 6
"""A frame is compared with so many of those before it."""
FARTHEST_S = 30.0
"""Frames further apart in time are not compared: by then the animal may have turned (chosen)."""
SAME_ISO = 1.3
"""A third of a stop: automatic ISO wanders by as much within a burst, and noise reduction hardly changes."""
SAME_FOCAL_LENGTH = 1.02
"""Focal lengths within this ratio count as the same (chosen)."""
MOST_FRAMES = 200
"""Frames that are read together at once; a longer scene is cut, since the work grows with the cube."""
MAY_BE_BACKGROUND = {
    ReadingFlag.AREA_MOSTLY_BACKGROUND,
    ReadingFlag.ONLY_THIN_SHARP,
    ReadingFlag.SHARP_BESIDE_AREA,
}
"""Readings that are of one thing or of another."""
SPREADS_IN_90 = 2 * 1.645
"""Standard deviations of a normal distribution between the ends of a 90 % interval."""
UNKNOWN_SPREAD = 1.0
"""Of the logarithm of the blur, for a frame whose own reading does not count."""


def read_together(frames: list[SceneFrame], crop: float) -> list[SceneBlur]:
    """What the frames of one scene say together, for each that was joined with others.

    Parameters
    ----------
    frames
        In order of time.
    crop
        The crop that the photographer means to make.

    Returns
    -------
    list[SceneBlur]
        One a frame that was joined; none for a scene of frames that cannot be compared.
    """
    blurs = []
    for start in range(0, len(frames), MOST_FRAMES):
        blurs += _part(frames[start : start + MOST_FRAMES], crop)
    return blurs


def _part(frames: list[SceneFrame], crop: float) -> list[SceneBlur]:
    spectra = [unpacked(frame.reading.rings) for frame in frames]
    frames = [frame for frame, spectrum in zip(frames, spectra, strict=True) if spectrum is not None]
    pairs = _pairs(frames)
    if not pairs:
        return []
    first, second = (np.array(ends, np.intp) for ends in zip(*pairs, strict=True))
    power = np.array([spectrum for spectrum in spectra if spectrum is not None])
    joined = together(compared(power, first, second), *_readings(frames))
    groups: dict[int, int] = {}
    blurs = []
    for frame, spectrum in zip(frames, joined, strict=True):
        if spectrum is not None:
            groups.setdefault(spectrum.group, frame.frame_id)
            blurs.append(_blur_of(frame, spectrum, groups[spectrum.group], crop))
    return blurs


def _pairs(frames: list[SceneFrame]) -> list[tuple[int, int]]:
    """Frames with those before them that were taken soon and alike."""
    times = [datetime.fromisoformat(frame.taken_at).timestamp() + frame.shift_s for frame in frames]
    return [
        (earlier, later)
        for later in range(len(frames))
        for earlier in range(max(0, later - NEIGHBOURS), later)
        if times[later] - times[earlier] <= FARTHEST_S and _alike(frames[earlier], frames[later])
    ]


def _alike(frame: SceneFrame, other_frame: SceneFrame) -> bool:
    """Whether two frames were taken and measured under the same settings."""
    return (
        frame.f_number == other_frame.f_number
        and frame.reading.scale == other_frame.reading.scale
        and frame.reading.measured_on == other_frame.reading.measured_on
        and _near(frame.iso, other_frame.iso, SAME_ISO)
        and _near(frame.focal_length_mm, other_frame.focal_length_mm, SAME_FOCAL_LENGTH)
    )


def _near(value: float | None, other_value: float | None, factor: float) -> bool:
    if not value or not other_value:
        return value == other_value
    return max(value, other_value) <= factor * min(value, other_value)


def _readings(frames: list[SceneFrame]) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Each frame's own blur, px, NaN where it has none that counts; and the spread of its logarithm."""
    blurs, spreads = np.full(len(frames), math.nan), np.full(len(frames), UNKNOWN_SPREAD)
    for place, frame in enumerate(frames):
        reading = camera_blur.applied(frame.reading, frame.camera_blur_px) or frame.reading
        sigma_px, low_px, high_px = reading.sigma_px, reading.sigma_low_px, reading.sigma_high_px
        if sigma_px is None or low_px is None or high_px is None:
            continue
        if reading.kind == BlurKind.ELSEWHERE or MAY_BE_BACKGROUND & set(reading.flags):
            continue  # what was read may not be the animal: its scene decides
        blurs[place] = sigma_px
        spreads[place] = math.log(high_px / low_px) / SPREADS_IN_90
    return blurs, spreads


def _blur_of(frame: SceneFrame, joined: Joined, together_id: int, crop: float) -> SceneBlur:
    judged = in_scene(frame, (joined.sigma_px, joined.low_px, joined.high_px), crop)
    flags = set(frame.flags) - {FrameFlag.WORDS_DISAGREE.value}
    if judged.verdict != Verdict.MISS:
        flags.discard(FrameFlag.FOCUS_ELSEWHERE.value)
    if words_disagree(judged.verdict, judged.source, frame.camera_word):
        flags.add(FrameFlag.WORDS_DISAGREE.value)
    missing = {name: why for name, why in frame.missing.items() if name != "verdict"}
    if judged.verdict == Verdict.UNCLEAR:
        missing["verdict"] = frame.missing.get("verdict", MissingReason.NEAR_CRITERION.value)
    return SceneBlur(
        frame_id=frame.frame_id,
        together_id=together_id,
        blur_px=joined.sigma_px,
        blur_low_px=joined.low_px,
        blur_high_px=joined.high_px,
        place=joined.rank,
        verdict=judged.verdict,
        verdict_source=judged.source,
        verdict_on_subject=judged.on_subject,
        hit_probability=judged.hit_probability,
        flags=tuple(sorted(flags)),
        missing=missing,
    )
