"""Hit, miss or unclear, and what decided it."""

from __future__ import annotations

_BY_CAMERA_WORD = {"confirmed": "hit", "not_confirmed": "miss"}


def from_camera_word(camera_word: str | None) -> tuple[str, str]:
    """Verdict and its source where there are no pixels to go by.

    `manual` and `silent` say nothing about focus, so they decide nothing.
    """
    verdict = _BY_CAMERA_WORD.get(camera_word or "")
    return (verdict, "camera_word") if verdict else ("unclear", "nothing_recorded")
