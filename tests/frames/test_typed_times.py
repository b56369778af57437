"""Moments and offsets as people type them."""

from __future__ import annotations

import pytest

from auditor.frames.typed_times import last_moment, moment, offset_s


@pytest.mark.parametrize(
    ("text", "first", "last"),
    [
        ("2026-04-18", "2026-04-18T00:00:00", "2026-04-18T23:59:59.999999"),
        ("2026-04-18T09:30", "2026-04-18T09:30:00", "2026-04-18T09:30:59.999999"),
        (" 2026-04-18T09:30:05 ", "2026-04-18T09:30:05", "2026-04-18T09:30:05.999999"),
    ],
)
def test_a_day_a_minute_and_a_second_are_meant_whole(text: str, first: str, last: str) -> None:
    assert moment(text).isoformat() == first
    assert last_moment(text).isoformat() == last


@pytest.mark.parametrize(
    ("text", "seconds"),
    [("+1", 3600), ("1:00", 3600), ("+01:00", 3600), ("-0:02:30", -150), ("24", 86_400)],
)
def test_offsets(text: str, seconds: float) -> None:
    assert offset_s(text) == seconds


@pytest.mark.parametrize("text", ["", "soon", "1:75", "+25", "1.5", "::"])
def test_what_is_no_offset_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="offset"):
        offset_s(text)
