"""Hit, miss or unclear, and what decided it: pixels, the scene, or the camera's word."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from auditor.focus.sharpness import decided
from auditor.optics.sensor import criterion_diameter_um

_BY_CAMERA_WORD = {"confirmed": "hit", "not_confirmed": "miss"}
FINEST_TOLD_PX = 0.8
"""Sharper than this, blur cannot be told from none: a finer criterion is answered `unclear`."""


@dataclass(frozen=True, slots=True)
class Verdict:
    """A frame's verdict as framed, what decided it, and the verdict on the subject."""

    verdict: str
    source: str
    on_subject: str | None = None
    missing: str | None = None
    """A word of `MissingReason`: why pixels could not tell."""


def from_camera_word(camera_word: str | None) -> tuple[str, str]:
    """Verdict and its source where there are no pixels to go by.

    `manual` and `silent` say nothing about focus, so they decide nothing.
    """
    verdict = _BY_CAMERA_WORD.get(camera_word or "")
    return (verdict, "camera_word") if verdict else ("unclear", "nothing_recorded")


def judge(
    reading: dict[str, Any] | None, facts: dict[str, Any], camera_word: str | None, *, crop: float = 1.0
) -> Verdict:
    """The verdict of one frame by itself.

    Parameters
    ----------
    reading
        A row of `readings`; None for a frame that was not measured.
    facts
        Its columns of `inferred`.
    crop
        The crop that the photographer means to make.
    """
    limit_px = _limit_px(reading, facts, crop)
    if reading is None or limit_px is None or reading["sigma_px"] is None:
        return Verdict(*from_camera_word(camera_word))
    factor = facts["converter_factor"]
    verdict = _against(reading, limit_px)
    too_fine = verdict == "unclear" and limit_px < FINEST_TOLD_PX
    if too_fine and limit_px * reading["scale"] >= FINEST_TOLD_PX:
        # The frame's own pixels would tell, but only a smaller picture of it was there.
        return Verdict(*from_camera_word(camera_word), missing="finer_than_measurable")
    return Verdict(
        verdict=verdict,
        source="pixels",
        missing="finer_than_measurable" if too_fine else None,
        # One angle for all kits: the bare kit's criterion over its focal length.
        on_subject=_against(reading, limit_px * factor) if factor else None,
    )


def within_scene(frames: list[dict[str, Any]]) -> list[tuple[str, str | None, int]]:
    """What the frames of one scene decide for those near the criterion.

    Parameters
    ----------
    frames
        Rows with frame_id, verdict, verdict_source, verdict_on_subject, system_sigma_px.

    Returns
    -------
    (verdict, verdict on the subject, frame_id) for each frame that is sharper than one that pixels called a
    hit, or more blurred than one that they called a miss: of one scene, frames can be put in order.
    """
    decided = []
    for frame in frames:
        if frame["verdict_source"] != "pixels" or frame["verdict"] != "unclear":
            continue
        verdict = _placed(frame, frames, "verdict")
        if verdict is not None:
            on_subject = frame["verdict_on_subject"]
            if on_subject == "unclear":
                on_subject = _placed(frame, frames, "verdict_on_subject") or on_subject
            decided.append((verdict, on_subject, int(frame["frame_id"])))
    return decided


def _placed(frame: dict[str, Any], frames: list[dict[str, Any]], column: str) -> str | None:
    sigma = frame["system_sigma_px"]
    sure = [other for other in frames if other["verdict_source"] == "pixels"]
    like_hit = any(other[column] == "hit" and sigma <= other["system_sigma_px"] for other in sure)
    like_miss = any(other[column] == "miss" and sigma >= other["system_sigma_px"] for other in sure)
    if like_hit == like_miss:
        return None
    return "hit" if like_hit else "miss"


def _limit_px(reading: dict[str, Any] | None, facts: dict[str, Any], crop: float) -> float | None:
    """The criterion as a sigma in px of the picture that was measured."""
    pitch_um, diagonal_mm = facts["pixel_pitch_um"], facts["sensor_diagonal_mm"]
    if reading is None or pitch_um is None or diagonal_mm is None:
        return None
    return float(criterion_diameter_um(diagonal_mm, crop) / 4 / (pitch_um * reading["scale"]))


def _against(reading: dict[str, Any], limit_px: float) -> str:
    if reading["kind"] == "elsewhere":
        return "miss"
    sigma, low, high = (reading[name] for name in ("sigma_px", "sigma_low_px", "sigma_high_px"))
    if limit_px < FINEST_TOLD_PX:
        return "miss" if decided(sigma, low, high, FINEST_TOLD_PX) else "unclear"
    return {True: "miss", False: "hit", None: "unclear"}[decided(sigma, low, high, limit_px)]
