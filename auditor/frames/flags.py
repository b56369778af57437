"""Flags that the metadata of one frame raises by itself: computed, never a mark that the user sets."""

from __future__ import annotations

from auditor.frames.declared import NOTHING, ForFrame
from auditor.frames.kit import Kit
from auditor.frames.light import Light
from auditor.frames.verdicts import Judged, from_camera_word
from auditor.optics import converter
from auditor.records import Recorded
from auditor.store.readings import Reading
from auditor.words import BlurKind, FrameFlag, MissingReason, Verdict, VerdictSource

ISO_CEILING_FULL_FRAME = 6400.0
ISO_CEILING_SMALLER = 3200.0
"""The highest ISO a photographer is taken to accept, until another is declared for the body."""
FULL_FRAME_CROP = 1.15
"""A sensor with a smaller crop factor counts as full frame."""
_BY_KIND = {BlurKind.ELSEWHERE: FrameFlag.FOCUS_ELSEWHERE, BlurKind.SMEARED: FrameFlag.SMEARED}


def frame_flags(recorded: Recorded, kit: Kit, light: Light, declared: ForFrame = NOTHING) -> list[FrameFlag]:
    """Flags of one frame, in the order of their names.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    kit, light
        As inferred of it.
    declared
        What the photographer declared of it.

    Returns
    -------
    list[FrameFlag]
        Those that need no pixels.
    """
    flags = []
    if _beyond_focus_limit(kit, declared.focus_limit_f_number):
        flags.append(FrameFlag.BEYOND_FOCUS_LIMIT)
    if kit.contradiction:
        flags.append(FrameFlag.CONVERTER_UNKNOWN)
    if kit.cropped:
        flags.append(FrameFlag.CROPPED_IN_CAMERA)
    if _iso_pushed(recorded, light, declared.iso_ceiling or iso_ceiling(kit.crop_factor)):
        flags.append(FrameFlag.ISO_PUSHED)
    if kit.resized:
        flags.append(FrameFlag.RESIZED)
    return flags


def reading_flags(reading: Reading | None, judged: Judged, camera_word: str | None) -> list[FrameFlag]:
    """Flags that the pixels raise.

    Parameters
    ----------
    reading
        As measured; None for a frame that was not.
    judged
        Its verdict.
    camera_word
        What the camera recorded about focus.

    Returns
    -------
    list[FrameFlag]
        In the order of their names.
    """
    if judged.missing == MissingReason.CUT_SHORT:
        return [FrameFlag.INCOMPLETE]
    if reading is None:
        return []
    flags = [flag for kind, flag in _BY_KIND.items() if reading.kind == kind]
    if words_disagree(judged.verdict, judged.source, camera_word):
        flags.append(FrameFlag.WORDS_DISAGREE)
    return flags


def words_disagree(verdict: Verdict, source: VerdictSource, camera_word: str | None) -> bool:
    """Whether the pixels, of the frame or of its scene, contradict the camera.

    Parameters
    ----------
    verdict, source
        Of the frame, and what decided it.
    camera_word
        What the camera recorded about focus.

    Returns
    -------
    bool
        False where the verdict rests on the camera's word itself.
    """
    believed = from_camera_word(camera_word)[0]
    by_pixels = source in (VerdictSource.PIXELS, VerdictSource.SCENE)
    return by_pixels and {verdict, believed} == {Verdict.HIT, Verdict.MISS}


def iso_ceiling(crop_factor: float | None) -> float | None:
    """The default ISO ceiling for a sensor of this size; None where the size is not known.

    Parameters
    ----------
    crop_factor
        Of the full sensor.

    Returns
    -------
    float or None
        ISO, lower for smaller sensors.
    """
    if crop_factor is None:
        return None
    return ISO_CEILING_FULL_FRAME if crop_factor < FULL_FRAME_CROP else ISO_CEILING_SMALLER


def _beyond_focus_limit(kit: Kit, limit: float | None) -> bool:
    """Whether the lens wide open, behind its converter, is darker than the body still focuses with."""
    if limit is None or kit.widest_low is None or kit.converter_factor is None:
        return False
    # A body focuses with the aperture wide open, so the f-number that was set does not count.
    return converter.darker_than(limit, kit.widest_low, kit.converter_factor)


def _iso_pushed(recorded: Recorded, light: Light, ceiling: float | None) -> bool:
    return bool(
        light.forced_push_ev
        # Set by hand, it was the photographer's choice; so it is taken to be where all else was.
        and recorded.auto_iso is not False
        and light.missing.get("light_value_ev") != "manual_exposure"
        and recorded.iso is not None
        and light.iso_without_converter is not None
        and ceiling is not None
        and recorded.iso > ceiling >= light.iso_without_converter
    )
