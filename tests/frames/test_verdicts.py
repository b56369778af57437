"""Verdicts: the criterion on the sensor, one angle for all kits, the scene, frames without pixels."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.frames.flags import reading_flags
from auditor.frames.verdicts import judge, within_scene

FULL_FRAME = {"pixel_pitch_um": 5.97, "sensor_diagonal_mm": 43.267, "converter_factor": 1.0}
"""Criterion (C: full diagonal / 1500): a disc of 28.84 um, so sigma 7.21 um, so 1.208 px."""


def reading(sigma_px: float, spread: float = 1.2, **more: Any) -> dict[str, Any]:
    return {
        "sigma_px": sigma_px,
        "sigma_low_px": sigma_px / spread,
        "sigma_high_px": sigma_px * spread,
        "scale": 1.0,
        "kind": "sharp",
        "flags": "[]",
        **more,
    }


@pytest.mark.parametrize(
    ("sigma_px", "expected"), [(0.9, "hit"), (1.05, "hit"), (1.2, "unclear"), (1.36, "miss"), (4.0, "miss")]
)
def test_pixels_decide_by_the_criterion(sigma_px: float, expected: str) -> None:
    found = judge(reading(sigma_px), FULL_FRAME, "confirmed")
    assert (found.verdict, found.source) == (expected, "pixels")


def test_on_the_subject_a_converter_is_judged_by_the_angle_of_the_bare_lens() -> None:
    """1.6 px at twice the focal length is as small on the animal as 0.8 px on the bare lens."""
    found = judge(reading(1.6), FULL_FRAME | {"converter_factor": 2.0}, "confirmed")
    assert (found.verdict, found.on_subject) == ("miss", "hit")
    assert judge(reading(0.8), FULL_FRAME, None).on_subject == "hit"
    assert judge(reading(0.8), FULL_FRAME | {"converter_factor": None}, None).on_subject is None


def test_a_raw_developed_at_half_size_is_judged_by_its_own_pixels() -> None:
    assert judge(reading(0.8, scale=2.0), FULL_FRAME, None).verdict != "hit"


def test_a_criterion_finer_than_pixels_tell_gives_no_hit() -> None:
    assert judge(reading(0.3), FULL_FRAME, None, crop=2.0).verdict == "unclear"
    assert judge(reading(1.5), FULL_FRAME, None, crop=2.0).verdict == "miss"


def test_a_criterion_finer_than_pixels_tell_says_so() -> None:
    found = judge(reading(0.3), FULL_FRAME, "confirmed", crop=2.0)
    assert (found.verdict, found.source, found.missing) == ("unclear", "pixels", "finer_than_measurable")
    assert judge(reading(1.2), FULL_FRAME, None).missing is None


def test_a_small_preview_that_cannot_tell_leaves_it_to_the_camera() -> None:
    """At a third of the size the criterion is 0.4 px: a sharp preview tells nothing, a soft one does."""
    sharp = judge(reading(0.3, scale=3.0), FULL_FRAME, "confirmed")
    assert (sharp.verdict, sharp.source) == ("hit", "camera_word")
    silent = judge(reading(0.3, scale=3.0), FULL_FRAME, None)
    assert (silent.verdict, silent.missing) == ("unclear", "finer_than_measurable")
    soft = judge(reading(1.5, scale=3.0), FULL_FRAME, "confirmed")
    assert (soft.verdict, soft.source) == ("miss", "pixels")


def test_without_pixels_the_camera_decides() -> None:
    for untold in (None, reading(1.0) | {"sigma_px": None}):
        found = judge(untold, FULL_FRAME, "not_confirmed")
        assert (found.verdict, found.source, found.on_subject) == ("miss", "camera_word", None)
    assert judge(reading(0.5), FULL_FRAME | {"pixel_pitch_um": None}, "manual").source == "nothing_recorded"


def test_focus_elsewhere_misses() -> None:
    assert judge(reading(2.0, kind="elsewhere"), FULL_FRAME, "confirmed").verdict == "miss"


def test_flags_of_pixels() -> None:
    soft = reading(3.0, kind="smeared")
    assert reading_flags(soft, judge(soft, FULL_FRAME, "confirmed"), "confirmed") == [
        "smeared",
        "words_disagree",
    ]
    assert reading_flags(None, judge(None, FULL_FRAME, "confirmed"), "confirmed") == []


def scene(*frames: tuple[str, float]) -> list[dict[str, Any]]:
    return [
        {
            "frame_id": number,
            "verdict": verdict,
            "verdict_source": "pixels",
            "verdict_on_subject": verdict,
            "system_sigma_px": sigma_px,
        }
        for number, (verdict, sigma_px) in enumerate(frames)
    ]


def test_the_scene_decides_between_its_sure_frames() -> None:
    frames = scene(("hit", 1.3), ("unclear", 1.2), ("unclear", 1.5), ("miss", 1.8), ("unclear", 1.9))
    assert within_scene(frames) == [("hit", "hit", 1), ("miss", "miss", 4)]


def test_a_scene_that_contradicts_itself_decides_nothing() -> None:
    assert within_scene(scene(("hit", 1.9), ("unclear", 1.5), ("miss", 1.2))) == []
