"""Verdicts: the criterion on the sensor, one angle for all kits, the scene, frames without pixels."""

from __future__ import annotations

from typing import Any

import pytest

from auditor.frames.flags import reading_flags
from auditor.frames.verdicts import Judged, in_scene, judge
from auditor.records import CriterionFacts
from auditor.store.readings import Reading
from auditor.store.scene_blur import SceneFrame
from auditor.words import MissingReason, Verdict, VerdictSource
from tests.written_readings import reading as written

FULL_FRAME = CriterionFacts(pixel_pitch_um=5.97, sensor_diagonal_mm=43.267, converter_factor=1.0)
"""Criterion (C: full diagonal / 1500): a disc of 28.84 um, so sigma 7.21 um, so 1.208 px."""


def reading(sigma_px: float | None, spread: float = 1.2, **more: Any) -> Reading:
    return written(sigma_px, spread=spread, **more)


@pytest.mark.parametrize(
    ("sigma_px", "expected"), [(0.9, "hit"), (1.05, "hit"), (1.2, "unclear"), (1.36, "miss"), (4.0, "miss")]
)
def test_pixels_decide_by_the_criterion(sigma_px: float, expected: str) -> None:
    found = judge(reading(sigma_px), FULL_FRAME, "confirmed")
    assert (found.verdict, found.source) == (expected, "pixels")


def test_on_the_subject_a_converter_is_judged_by_the_angle_of_the_bare_lens() -> None:
    """1.6 px at twice the focal length is as small on the animal as 0.8 px on the bare lens."""
    found = judge(reading(1.6), FULL_FRAME._replace(converter_factor=2.0), "confirmed")
    assert (found.verdict, found.on_subject) == ("miss", "hit")
    assert judge(reading(0.8), FULL_FRAME, None).on_subject == "hit"
    assert judge(reading(0.8), FULL_FRAME._replace(converter_factor=None), None).on_subject is None


def test_a_raw_developed_at_half_size_is_judged_by_its_own_pixels() -> None:
    assert judge(reading(0.8, scale=2.0), FULL_FRAME, None).verdict != "hit"


def test_a_criterion_finer_than_pixels_tell_gives_no_hit() -> None:
    assert judge(reading(0.3), FULL_FRAME, None, crop=2.0).verdict == "unclear"
    assert judge(reading(1.5), FULL_FRAME, None, crop=2.0).verdict == "miss"


def test_a_criterion_finer_than_pixels_tell_says_so() -> None:
    found = judge(reading(0.3), FULL_FRAME, "confirmed", crop=2.0)
    assert (found.verdict, found.source, found.missing) == ("unclear", "pixels", "finer_than_measurable")
    assert judge(reading(1.2), FULL_FRAME, None).missing == "near_criterion"
    assert judge(reading(0.5), FULL_FRAME, None).missing is None


def test_an_unclear_verdict_says_what_measuring_noted() -> None:
    noted = ("part_of_area", "area_mostly_background")
    assert judge(reading(1.2, flags=noted), FULL_FRAME, None).missing == "area_mostly_background"
    untold = reading(None, flags=("too_little_texture",))
    assert judge(untold, FULL_FRAME, None).missing == "too_little_texture"
    assert judge(untold, FULL_FRAME, "confirmed").missing is None


def test_a_reading_of_one_of_two_things_is_unclear_and_half_a_hit() -> None:
    """As likely of a sharp animal as of what lies behind it: the chance is between both (D)."""
    quantiles = (0.4, 0.45, 0.5, 0.7, 2.0, 6.0, 7.0, 8.0, 9.0)
    found = judge(reading(2.0, quantiles_px=quantiles), FULL_FRAME, "confirmed")
    assert found.verdict == "unclear"
    assert 0.35 < (found.hit_probability or 0) < 0.5


def test_a_small_preview_that_cannot_tell_leaves_it_to_the_camera() -> None:
    """At a third of the size the criterion is 0.4 px: a sharp preview tells nothing, a soft one does."""
    sharp = judge(reading(0.3, scale=3.0), FULL_FRAME, "confirmed")
    assert (sharp.verdict, sharp.source) == ("hit", "camera_word")
    silent = judge(reading(0.3, scale=3.0), FULL_FRAME, None)
    assert (silent.verdict, silent.missing) == ("unclear", "finer_than_measurable")
    soft = judge(reading(1.5, scale=3.0), FULL_FRAME, "confirmed")
    assert (soft.verdict, soft.source) == ("miss", "pixels")


def test_without_pixels_the_camera_decides() -> None:
    for untold in (None, reading(None)):
        found = judge(untold, FULL_FRAME, "not_confirmed")
        assert (found.verdict, found.source, found.on_subject) == ("miss", "camera_word", None)
    assert (
        judge(reading(0.5), FULL_FRAME._replace(pixel_pitch_um=None), "manual").source == "nothing_recorded"
    )


def test_focus_elsewhere_misses() -> None:
    assert judge(reading(2.0, kind="elsewhere"), FULL_FRAME, "confirmed").verdict == "miss"


def test_flags_of_pixels() -> None:
    soft = reading(3.0, kind="smeared")
    assert reading_flags(soft, judge(soft, FULL_FRAME, "confirmed"), "confirmed") == [
        "smeared",
        "words_disagree",
    ]
    assert reading_flags(None, judge(None, FULL_FRAME, "confirmed"), "confirmed") == []


def framed(own: str, source: str = "pixels", factor: float | None = None, kind: str = "sharp") -> SceneFrame:
    return SceneFrame(
        scene_id=1,
        frame_id=1,
        taken_at="2026-04-18T06:00:00",
        camera_word=None,
        verdict=Verdict(own),
        verdict_source=VerdictSource(source),
        verdict_on_subject=None,
        facts=FULL_FRAME._replace(converter_factor=factor),
        reading=written(1.2, kind=kind),
    )


@pytest.mark.parametrize(
    ("own", "together", "expected"),
    [
        ("unclear", (0.9, 0.8, 1.0), ("hit", "scene")),  # the whole interval is under 1.2 px
        ("unclear", (1.0, 0.8, 1.3), ("unclear", "pixels")),  # half of it would be: not enough for the scene
        ("unclear", (1.6, 1.3, 2.0), ("miss", "scene")),
        ("hit", (1.0, 0.8, 1.3), ("hit", "pixels")),  # borne out
        ("hit", (1.6, 1.1, 2.3), ("unclear", "scene")),  # not borne out, nor surely wrong
        ("hit", (1.6, 1.3, 2.0), ("miss", "scene")),
        ("miss", (0.9, 0.8, 1.0), ("hit", "scene")),
    ],
)
def test_a_scene_decides_where_its_whole_interval_does(
    own: str, together: tuple[float, float, float], expected: tuple[str, str]
) -> None:
    found = in_scene(framed(own), together)
    assert (found.verdict, found.source) == expected


def test_a_scene_decides_where_only_the_camera_spoke() -> None:
    untold = framed("hit", "camera_word")
    assert in_scene(untold, (2.0, 1.6, 2.5)) == Judged(Verdict.MISS, VerdictSource.SCENE)
    assert in_scene(untold, (1.2, 1.0, 1.4)) == Judged(Verdict.HIT, VerdictSource.CAMERA_WORD)


def test_focus_that_went_elsewhere_is_believed_where_the_scene_bears_it_out() -> None:
    elsewhere = framed("miss", kind="elsewhere")
    assert in_scene(elsewhere, (2.4, 1.1, 4.0)) == Judged(Verdict.MISS, VerdictSource.PIXELS)
    assert in_scene(elsewhere, (1.0, 0.8, 1.3)) == Judged(Verdict.UNCLEAR, VerdictSource.SCENE)
    assert in_scene(elsewhere, (0.9, 0.8, 1.0)) == Judged(Verdict.HIT, VerdictSource.SCENE)


def test_a_scene_tells_no_hit_finer_than_the_pixels_can() -> None:
    """Behind a crop the criterion is under 0.8 px: blur over that is a miss, less is not told."""
    frame = framed("unclear")
    fine, coarse = (in_scene(frame, px, crop=2.0) for px in ((0.4, 0.3, 0.5), (1.2, 1.0, 1.4)))
    assert fine == Judged(Verdict.UNCLEAR, VerdictSource.PIXELS)
    assert coarse == Judged(Verdict.MISS, VerdictSource.SCENE)


def test_on_the_subject_the_limit_is_the_bare_kits() -> None:
    found = in_scene(framed("miss", factor=2.0), (1.8, 1.5, 2.1))
    assert found == Judged(Verdict.MISS, VerdictSource.PIXELS, Verdict.HIT, hit_probability=0.98)


@pytest.mark.parametrize("why", [MissingReason.CUT_SHORT, MissingReason.UNDECODABLE])
def test_a_picture_that_cannot_be_decoded_is_unclear_whatever_the_camera_said(why: MissingReason) -> None:
    found = judge(None, FULL_FRAME, "confirmed", undecodable=why)
    assert (found.verdict, found.source, found.on_subject, found.missing) == ("unclear", "pixels", None, why)
    flags = ["incomplete"] if why == MissingReason.CUT_SHORT else []
    assert reading_flags(None, found, "confirmed") == flags


def test_a_probability_follows_from_the_quantiles() -> None:
    """At the median of the blur it is one half, at the 80 % quantile 0.8; never 0 or 1 (D)."""
    quantiles = (0.8, 0.85, 0.9, 1.0, 1.208, 1.3, 1.5, 1.7, 2.0)
    found = judge(reading(1.208, quantiles_px=quantiles), FULL_FRAME, None)
    assert found.hit_probability == pytest.approx(0.5, abs=0.001)
    with_converter = FULL_FRAME._replace(converter_factor=1.5 / 1.2079)
    found = judge(reading(1.208, quantiles_px=quantiles), with_converter, None)
    assert found.hit_probability == pytest.approx(0.8, abs=0.001)
    far = tuple(10 * one for one in quantiles)
    assert judge(reading(12.0, quantiles_px=far), FULL_FRAME, None).hit_probability == 0.02


def test_a_reading_without_quantiles_has_its_interval() -> None:
    assert judge(reading(1.208), FULL_FRAME, None).hit_probability == pytest.approx(0.5, abs=0.01)
    # A limit at the upper end of a 90 % interval: 95 % (D).
    at_end = reading(1.208 / 1.2, spread=1.2)
    assert judge(at_end, FULL_FRAME, None).hit_probability == pytest.approx(0.95, abs=0.01)


def test_no_probability_where_pixels_do_not_tell() -> None:
    assert judge(None, FULL_FRAME, "confirmed").hit_probability is None
    assert judge(reading(0.3), FULL_FRAME, None, crop=2.0).hit_probability is None
    assert judge(reading(1.0), FULL_FRAME._replace(converter_factor=None), None).hit_probability is None


@pytest.mark.parametrize("median_px", [0.5, 0.9, 1.05, 1.2, 1.4, 1.8, 3.0])
@pytest.mark.parametrize("step", [1.02, 1.1, 1.3])
def test_verdict_and_chance_of_a_hit_never_contradict(median_px: float, step: float) -> None:
    """A hit is at least 4 in 5 likely, a miss at most 1 in 5: both follow from the same quantiles (D)."""
    quantiles = tuple(median_px * step**place for place in range(-4, 5))
    found = judge(reading(median_px, quantiles_px=quantiles), FULL_FRAME, "not_confirmed")
    chance = found.hit_probability
    assert chance is not None
    expected = "hit" if chance >= 0.8 else "miss" if chance <= 0.2 else "unclear"
    assert (found.verdict, found.on_subject) == (expected, expected)
