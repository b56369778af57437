"""Every state that the auditor can reach, in the words of page, terminal and strip.

Looked up here and never written out elsewhere; a test holds that no entry is missing.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from auditor.analysis.kit_table import KitRow
from auditor.analysis.rates import FEWEST_ENCOUNTERS
from auditor.report.text.values import plain
from auditor.words import (
    Advice,
    CameraWord,
    DetailOutcome,
    FocusOutcome,
    FrameFlag,
    KitFlag,
    MissingReason,
    NoRate,
    Verdict,
    VerdictSource,
)

FOCUS = {
    FocusOutcome.FELL: "fewer in focus than bare",
    FocusOutcome.FEWER_HITS: "fewer in focus, which farther animals could explain",
    FocusOutcome.NO_FALL: "no loss of more than 10 points",
    FocusOutcome.INCONCLUSIVE: "not settled",
    FocusOutcome.NOT_ENOUGH_EVIDENCE: "not enough evidence",
}
DETAIL = {
    DetailOutcome.GAIN: "finer detail on the animal",
    DetailOutcome.NO_GAIN: "no finer detail worth having",
    DetailOutcome.INCONCLUSIVE: "not settled",
    DetailOutcome.NOT_ENOUGH_EVIDENCE: "not enough evidence",
}
EVIDENCE = (
    (
        FOCUS[FocusOutcome.FELL],
        "a smaller share of frames was in focus, all else alike, by more than chance allows however often "
        "the record is looked at",
    ),
    (
        FOCUS[FocusOutcome.FEWER_HITS],
        "as sure as that, but no distance is known: the converter may have been on for farther animals",
    ),
    (
        FOCUS[FocusOutcome.NO_FALL],
        "a loss of more than 10 points is ruled out, however often it is looked at",
    ),
    ("not settled", "enough encounters were compared, but they allow both answers"),
    (
        "not enough evidence",
        "fewer than 8 encounters of either kit and fewer than 6 with both, or fewer than 8 scenes of either",
    ),
    (
        "counts only",
        f"fewer than {FEWEST_ENCOUNTERS} encounters: too few for an interval",
    ),
    (DETAIL[DetailOutcome.GAIN], "the blur is smaller as an angle, by more than chance allows"),
    (DETAIL[DetailOutcome.NO_GAIN], "the interval rules out a gain of 5 % or more"),
)
"""Every outcome that the page can name, and what it takes."""
ADVICE = {
    Advice.WORTH_ITS_COST: "It seems worth its cost: mount it when you need the reach and have the light.",
    Advice.FOR_STILL_ANIMALS: "It shows more of the animal but loses frames: mount it for animals that hold "
    "still, and take plenty.",
    Advice.LEAVE_IT_OFF: "It did not pay: leave it off and crop the bare frame.",
    Advice.LEAVE_IT_OFF_UNLESS_NEEDED_TO_AIM: "It cost focus, and whether it shows more is not settled: "
    "leave it off for now, unless the animal is too small in the finder to keep the focus area on it.",
    Advice.LEAVE_IT_OFF_IN_LOW_LIGHT: "It cost little focus, but a crop of the bare frame shows as much: "
    "leave it off in low light.",
    Advice.USE_IT_IN_GOOD_LIGHT: "It cost little focus; whether it shows more than a crop is not settled. "
    "In good light, take more of the same animals with it and without.",
    Advice.COSTS_FOCUS: "It cost focus; too little was measured to say whether it shows more.",
    Advice.SHOWS_MORE: "It shows more of the animal; whether it costs focus is not settled.",
    Advice.CROP_SHOWS_AS_MUCH: "A crop of the bare frame shows as much; whether the converter costs focus is "
    "not settled.",
    Advice.COSTS_LITTLE_FOCUS: "It cost little focus; too little was measured to say whether it shows more.",
    Advice.NOT_SETTLED: "These frames do not settle whether it pays: photograph the same animals in the same "
    "light with it and without.",
    Advice.NEVER_USED_BARE: "There are no frames of the same body and lens bare to compare it with: "
    "take some of the same animals in the same light.",
    Advice.NO_CONVERTER: "",
}
NO_RATE = {
    NoRate.NO_TIME: "no rate: its frames have no time, so they are in no encounter",
    NoRate.NOTHING_DECIDED: "no rate: neither pixels nor the camera decide any of these frames",
    NoRate.CONVERTER_UNKNOWN: "no rate until it is known whether a converter was on "
    "(auditor declare converter)",
    NoRate.CRITERION_TOO_FINE: "no rate: the limit for sharp is finer than these pixels can tell",
    NoRate.TOO_FEW_ENCOUNTERS: f"counts only: fewer than {FEWEST_ENCOUNTERS} encounters",
}
KIT_FLAGS = {
    KitFlag.HIT_RATE_FELL: "fewer in focus",
    KitFlag.NO_DETAIL_GAIN: "no finer detail",
    KitFlag.FELL_DURING_TRIP: "fell during the trip",
}
FLAGS = {
    FrameFlag.ISO_PUSHED: "The converter pushed ISO over your ceiling",
    FrameFlag.CONVERTER_UNKNOWN: "Lens, f-number and converter contradict each other",
    FrameFlag.BEYOND_FOCUS_LIMIT: "The lens wide open is darker than this body focuses with",
    FrameFlag.FOCUS_ELSEWHERE: "Another part of the picture is clearly sharper than the focus area",
    FrameFlag.SMEARED: "Blurred by motion",
    FrameFlag.WORDS_DISAGREE: "The camera and the pixels contradict each other",
    FrameFlag.CROPPED_IN_CAMERA: "The camera kept only part of its sensor",
    FrameFlag.RESIZED: "The picture was resized: its pixels are not the sensor's",
    FrameFlag.INCOMPLETE: "The file is cut short: part of the picture is missing",
}
"""Flags on frames, as sentences."""
FLAG_LABELS = {
    FrameFlag.ISO_PUSHED: "ISO pushed",
    FrameFlag.CONVERTER_UNKNOWN: "converter unknown",
    FrameFlag.BEYOND_FOCUS_LIMIT: "beyond focus limit",
    FrameFlag.FOCUS_ELSEWHERE: "focus elsewhere",
    FrameFlag.SMEARED: "blurred by motion",
    FrameFlag.WORDS_DISAGREE: "camera and pixels disagree",
    FrameFlag.CROPPED_IN_CAMERA: "cropped in camera",
    FrameFlag.RESIZED: "resized",
    FrameFlag.INCOMPLETE: "cut short",
}
"""Flags on frames, short, for tables and filters."""
VERDICTS = {Verdict.HIT: "in focus", Verdict.MISS: "missed", Verdict.UNCLEAR: "unclear"}
AS_FRAMED = (
    "Each frame is judged here as it was taken. Rates of kits go by one angle on the animal, so they count "
    "more frames behind a converter as in focus."
)
"""Beside counts of frames by their verdict, where kits with a converter are compared elsewhere."""
VERDICT_SOURCES = {
    VerdictSource.PIXELS: "from its pixels",
    VerdictSource.SCENE: "from its pixels, beside its scene",
    VerdictSource.CAMERA_WORD: "from the camera",
    VerdictSource.NOTHING_RECORDED: "nothing to go by",
}
CAMERA_WORDS = {
    CameraWord.CONFIRMED: "camera said in focus",
    CameraWord.NOT_CONFIRMED: "camera said not in focus",
    CameraWord.MANUAL: "manual focus",
    CameraWord.SILENT: "camera said nothing",
}


_KNOWN_FLAGS = frozenset(map(str, FrameFlag))


def flag_label(flag: str) -> str:
    """A flag on a frame as tables show it; one that a newer auditor wrote is shown as it is."""
    return FLAG_LABELS[FrameFlag(flag)] if flag in _KNOWN_FLAGS else plain(flag)


def flag_sentence(flag: str) -> str:
    """A flag on a frame as a sentence."""
    return FLAGS[FrameFlag(flag)] if flag in _KNOWN_FLAGS else plain(flag)


def verdict(word: str | None) -> str:
    """A verdict in words; a frame without one is unclear."""
    return VERDICTS[Verdict(word or Verdict.UNCLEAR)]


_WHY_UNCLEAR = ("verdict", "blur_px", "pixel_pitch_um")
"""Columns whose lack leaves a frame unclear, the nearest first: without its blur, or the size of a pixel, the
camera's word was asked."""


def why_unclear(word: str | None, missing: Mapping[str, str]) -> str | None:
    """Why a frame is unclear, as a phrase; None where it is not, or nothing is noted.

    Parameters
    ----------
    word
        The verdict.
    missing
        Column `missing` of frame_facts: reasons by column.

    Returns
    -------
    str or None
        Such as "the focus area is mostly background".
    """
    reason = next((missing[column] for column in _WHY_UNCLEAR if column in missing), None)
    if word != Verdict.UNCLEAR or reason is None:
        return None
    return MissingReason(reason).description if reason in set(MissingReason) else plain(reason)


def beside_why(flags: Iterable[str], why: str | None) -> list[str]:
    """The flags that say something else than why a frame is unclear, which stands beside them.

    Parameters
    ----------
    flags
        Of the frame.
    why
        As `why_unclear` says it.

    Returns
    -------
    list[str]
        All but `incomplete`, where the reason is that the file is cut short.
    """
    cut_short = why == MissingReason.CUT_SHORT.description
    return [flag for flag in flags if not (cut_short and flag == FrameFlag.INCOMPLETE)]


def verdict_source(word: str | None) -> str:
    """What decided a verdict."""
    return VERDICT_SOURCES[VerdictSource(word or VerdictSource.NOTHING_RECORDED)]


def camera_word(word: str | None) -> str:
    """What the camera recorded about focus."""
    return CAMERA_WORDS[CameraWord(word or CameraWord.SILENT)]


def no_rate(kit: KitRow) -> str | None:
    """Why a kit has no rate, and what could be asked for instead; None where it has one."""
    if kit.hit_rate_missing is None:
        return None
    reason = NO_RATE[kit.hit_rate_missing]
    return (
        reason
        if kit.finest_crop is None
        else f"{reason}; with the setting crop = {kit.finest_crop:g} they could"
    )
