"""Every word that the logbook or the analysis can hold has its wording, so that no code reaches a person."""

from __future__ import annotations

from collections.abc import Mapping

import pytest

from auditor.report.text import outcomes
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
    Word,
)


@pytest.mark.parametrize(
    ("words", "wording"),
    [
        (Advice, outcomes.ADVICE),
        (CameraWord, outcomes.CAMERA_WORDS),
        (DetailOutcome, outcomes.DETAIL),
        (FocusOutcome, outcomes.FOCUS),
        (FrameFlag, outcomes.FLAGS),
        (FrameFlag, outcomes.FLAG_LABELS),
        (KitFlag, outcomes.KIT_FLAGS),
        (NoRate, outcomes.NO_RATE),
        (Verdict, outcomes.VERDICTS),
        (VerdictSource, outcomes.VERDICT_SOURCES),
    ],
)
def test_every_word_has_its_wording(words: type[Word], wording: Mapping[Word, str]) -> None:
    assert set(wording) == set(words)
    assert not [text for text in wording.values() if "_" in text]


def test_what_the_page_names_is_explained_on_it() -> None:
    explained = dict(outcomes.EVIDENCE)
    assert {*outcomes.FOCUS.values(), *outcomes.DETAIL.values()} <= set(explained)


def test_a_flag_of_a_newer_auditor_is_shown_as_it_is_and_harmless() -> None:
    assert outcomes.flag_label("moonlit") == "moonlit"
    assert "\x1b" not in outcomes.flag_sentence("a\x1b[2J")


@pytest.mark.parametrize("reason", MissingReason)
def test_an_unclear_frame_tells_why_in_words(reason: MissingReason) -> None:
    assert outcomes.why_unclear("unclear", {"verdict": str(reason)}) == reason.description
    assert outcomes.why_unclear("miss", {"verdict": str(reason)}) is None


def test_a_frame_left_to_a_camera_that_says_nothing_tells_why_its_pixels_were_not_asked() -> None:
    assert outcomes.why_unclear("unclear", {"blur_px": "region_too_small", "pixel_pitch_um": "resized"}) == (
        "too few pixels at the focus area to tell blur"
    )
    assert "resized" in str(outcomes.why_unclear("unclear", {"pixel_pitch_um": "resized"}))
    assert outcomes.why_unclear("hit", {"pixel_pitch_um": "resized"}) is None


def test_a_reason_of_a_newer_auditor_is_shown_as_it_is() -> None:
    assert outcomes.why_unclear("unclear", {"verdict": "not_of_this_version"}) == "not_of_this_version"
    assert outcomes.why_unclear("unclear", {}) is None
