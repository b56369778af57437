"""Hit, miss or unclear, and what decided it: pixels, the scene, or the camera's word."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from statistics import NormalDist

from auditor.errors import CorruptFileError, IncompleteFileError
from auditor.focus.sharpness import decided, over, probability_under
from auditor.optics.sensor import criterion_sigma_px
from auditor.records import CriterionFacts
from auditor.statistics.telling import LEAST_PROBABILITY
from auditor.store.readings import Reading
from auditor.store.scene_blur import SceneFrame
from auditor.words import WHY_UNCLEAR, BlurKind, CameraWord, MissingReason, Verdict, VerdictSource

_BY_CAMERA_WORD = {CameraWord.CONFIRMED: Verdict.HIT, CameraWord.NOT_CONFIRMED: Verdict.MISS}
FINEST_TOLD_PX = 0.8
"""Blur below this cannot be told from none: by a finer criterion every frame is `unclear`."""


@dataclass(frozen=True, slots=True)
class Judged:
    """A frame's verdict as framed, what decided it, and the verdict on the subject."""

    verdict: Verdict
    source: VerdictSource
    on_subject: Verdict | None = None
    missing: MissingReason | None = None
    """Why the pixels could not decide."""
    hit_probability: float | None = None
    """How likely it is a hit on the subject, by the pixels; None where they do not say."""


def from_camera_word(camera_word: str | None) -> tuple[Verdict, VerdictSource]:
    """Verdict and its source where there are no pixels to go by.

    `manual` and `silent` say nothing about focus, so they decide nothing.

    Parameters
    ----------
    camera_word
        What the camera recorded about focus; None where it recorded nothing.

    Returns
    -------
    tuple[Verdict, VerdictSource]
        `unclear` for what decides nothing.
    """
    verdict = _BY_CAMERA_WORD.get(CameraWord(camera_word)) if camera_word else None
    if verdict is None:
        return Verdict.UNCLEAR, VerdictSource.NOTHING_RECORDED
    return verdict, VerdictSource.CAMERA_WORD


@cache
def _by_camera_word(camera_word: str | None) -> Judged:
    """The same for every frame of a card that was not measured yet."""
    return Judged(*from_camera_word(camera_word))


_WHY_UNDECODABLE = {
    CorruptFileError.__name__: MissingReason.UNDECODABLE,
    IncompleteFileError.__name__: MissingReason.CUT_SHORT,
}


def why_undecodable(error_class: str | None) -> MissingReason | None:
    """Why no picture of a frame can be decoded, by the class of the failure; None where one can, or may.

    Parameters
    ----------
    error_class
        Name of the exception that decoding raised; None for none.

    Returns
    -------
    MissingReason or None
        A word of `missing`.
    """
    return _WHY_UNDECODABLE.get(error_class or "")


def judge(
    reading: Reading | None,
    facts: CriterionFacts,
    camera_word: str | None,
    *,
    crop: float = 1.0,
    undecodable: MissingReason | None = None,
) -> Judged:
    """The verdict of one frame by itself.

    Parameters
    ----------
    reading
        Without this camera's own blur; None for a frame that was not measured.
    facts
        Its pixel pitch, sensor and converter.
    camera_word
        What the camera recorded about focus.
    crop
        The crop that the photographer means to make.
    undecodable
        Why none of its pictures can be decoded: it is unclear then, whatever the camera said.

    Returns
    -------
    Judged
        Verdict, what decided it, and the verdict by one angle.
    """
    if undecodable is not None and reading is None:
        return Judged(Verdict.UNCLEAR, VerdictSource.PIXELS, missing=undecodable)
    limit_px = criterion_px(reading, facts, crop)
    if reading is None or limit_px is None:
        return _by_camera_word(camera_word)
    if reading.sigma_px is None:
        by_camera = from_camera_word(camera_word)
        why = why_unclear(reading) if by_camera[0] == Verdict.UNCLEAR else None
        return Judged(*by_camera, missing=why)
    factor = facts.converter_factor
    verdict = _against(reading, limit_px)
    too_fine = verdict == Verdict.UNCLEAR and limit_px < FINEST_TOLD_PX
    if too_fine and limit_px * reading.scale >= FINEST_TOLD_PX:
        # The full-size picture would decide, but there was only a smaller one.
        return Judged(*from_camera_word(camera_word), missing=MissingReason.FINER_THAN_MEASURABLE)
    return Judged(
        verdict=verdict,
        source=VerdictSource.PIXELS,
        missing=_why(verdict, reading, too_fine),
        # One angle for all kits: the bare kit's criterion over its focal length.
        on_subject=_against(reading, limit_px * factor) if factor else None,
        hit_probability=_probability(reading, limit_px * factor) if factor else None,
    )


def why_unclear(reading: Reading) -> MissingReason:
    """Why the pixels do not decide, by what measuring noted.

    Parameters
    ----------
    reading
        That decides nothing.

    Returns
    -------
    MissingReason
        A word of `missing`.
    """
    noted = [reason for reason in WHY_UNCLEAR if reason in reading.flags]
    return noted[0] if noted else MissingReason.NEAR_CRITERION


def _why(verdict: Verdict, reading: Reading, too_fine: bool) -> MissingReason | None:
    if too_fine:
        return MissingReason.FINER_THAN_MEASURABLE
    return why_unclear(reading) if verdict == Verdict.UNCLEAR else None


def in_scene(frame: SceneFrame, together_px: tuple[float, float, float], crop: float = 1.0) -> Judged:
    """The verdict of a frame that was read together with others of its scene.

    Parameters
    ----------
    frame
        With its own reading and verdict.
    together_px
        Its blur as the scene tells it, and the 90 % interval, px.
    crop
        The crop that the photographer means to make.

    Returns
    -------
    Judged
        The frame's own verdict where the scene leaves it open.
    """
    own = Judged(frame.verdict, frame.verdict_source, frame.verdict_on_subject)
    limit_px = criterion_px(frame.reading, frame.facts, crop)
    if limit_px is None:
        return own
    by_pixels = own.verdict if own.source == VerdictSource.PIXELS else Verdict.UNCLEAR
    verdict = _with_scene(by_pixels, together_px, limit_px)
    factor, on_subject = frame.facts.converter_factor, own.on_subject
    if factor:
        on_subject = _with_scene(on_subject or Verdict.UNCLEAR, together_px, limit_px * factor)
    decided_by = (own.verdict, own.source) if verdict == by_pixels else (verdict, VerdictSource.SCENE)
    probability = _probability_between(*together_px[1:], limit_px * factor) if factor else None
    if decided_by[1] == VerdictSource.CAMERA_WORD:
        probability = None
    return Judged(*decided_by, on_subject, hit_probability=probability)


def _with_scene(own: Verdict, together_px: tuple[float, float, float], limit_px: float) -> Verdict:
    """What a scene makes of a frame's own verdict.

    It decides what was unclear, or decides otherwise, only where its whole interval is beyond the limit: 96
    of 100 such decisions were right, 84 of those made by half of it (benchmarks/scene_blur.py). A verdict of
    the frame's own that half of the interval does not bear out is unclear: two thirds of those were wrong.
    """
    sigma_px, low_px, high_px = together_px
    finest = limit_px < FINEST_TOLD_PX
    limit_px = max(limit_px, FINEST_TOLD_PX)
    if low_px > limit_px:
        return Verdict.MISS
    if high_px < limit_px and not finest:
        return Verdict.HIT
    missed = decided(sigma_px, low_px, high_px, limit_px)
    borne_out = {True: Verdict.MISS, False: None if finest else Verdict.HIT, None: None}
    return own if borne_out[missed] == own else Verdict.UNCLEAR


def _probability(reading: Reading, limit_px: float) -> float | None:
    """How likely the blur of a reading is under a limit; None where the limit is too fine to measure."""
    if reading.kind == BlurKind.ELSEWHERE:
        return LEAST_PROBABILITY
    if limit_px < FINEST_TOLD_PX:
        return None
    if reading.quantiles_px:
        return _bounded(probability_under(reading.quantiles_px, limit_px))
    if reading.sigma_low_px is None or reading.sigma_high_px is None:
        return None
    return _probability_between(reading.sigma_low_px, reading.sigma_high_px, limit_px)


def _probability_between(low_px: float, high_px: float, limit_px: float) -> float | None:
    """The same from a 90 % interval, whose logarithm counts as normal."""
    if limit_px < FINEST_TOLD_PX or not 0 < low_px <= high_px:
        return None
    middle = (math.log(low_px) + math.log(high_px)) / 2
    spread = math.log(high_px / low_px) / (2 * NormalDist().inv_cdf(0.95))
    return _bounded(NormalDist(middle, max(spread, 1e-6)).cdf(math.log(limit_px)))


def _bounded(probability: float) -> float:
    return min(max(probability, LEAST_PROBABILITY), 1 - LEAST_PROBABILITY)


def criterion_px(reading: Reading | None, facts: CriterionFacts, crop: float) -> float | None:
    """The criterion as a sigma in px of the picture that was measured.

    Parameters
    ----------
    reading
        Whose picture is meant: its scale counts.
    facts
        Pixel pitch in um and the sensor's diagonal in mm.
    crop
        The crop that the photographer means to make: 2 for half the width.

    Returns
    -------
    float or None
        None where there is no reading, or pixel pitch or sensor is not known.
    """
    pitch_um, diagonal_mm = facts.pixel_pitch_um, facts.sensor_diagonal_mm
    if reading is None or pitch_um is None or diagonal_mm is None:
        return None
    return criterion_sigma_px(diagonal_mm, pitch_um * reading.scale, crop)


def _against(reading: Reading, limit_px: float) -> Verdict:
    if reading.kind == BlurKind.ELSEWHERE:
        return Verdict.MISS
    sigma_px, low_px, high_px = reading.sigma_px, reading.sigma_low_px, reading.sigma_high_px
    if sigma_px is None or low_px is None or high_px is None:
        return Verdict.UNCLEAR
    finest = limit_px < FINEST_TOLD_PX
    limit_px = max(limit_px, FINEST_TOLD_PX)
    if reading.quantiles_px:
        missed = over(reading.quantiles_px, limit_px)
    else:
        missed = decided(sigma_px, low_px, high_px, limit_px)
    if finest:
        return Verdict.MISS if missed else Verdict.UNCLEAR
    return {True: Verdict.MISS, False: Verdict.HIT, None: Verdict.UNCLEAR}[missed]
