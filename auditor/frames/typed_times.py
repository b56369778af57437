"""Moments and offsets of clocks as people type them."""

from __future__ import annotations

import re
from datetime import datetime, timedelta

LONGEST_OFFSET_S = 24 * 3600
"""A clock that is off by more is a matter of dates."""
_OFFSET = re.compile(r"([+-]?)(\d{1,3})(?::([0-5]\d)(?::([0-5]\d))?)?")
_UNITS = {10: timedelta(days=1), 16: timedelta(minutes=1)}


def moment(text: str) -> datetime:
    """The first moment of what was typed: 2026-04-18, 2026-04-18T09:30 or with seconds.

    Parameters
    ----------
    text
        As a person types it, a space or a T between day and time.

    Returns
    -------
    datetime
        Local time.

    Raises
    ------
    ValueError
        for what is none.
    """
    try:
        return datetime.fromisoformat(text.strip()).replace(tzinfo=None)
    except ValueError as error:
        raise ValueError(f"{text!r} is not a date or time: write 2026-04-18 or 2026-04-18T09:30") from error


def last_moment(text: str) -> datetime:
    """The last moment that is still within what was typed: a day, a minute or a second.

    Parameters
    ----------
    text
        As `moment` takes it.

    Returns
    -------
    datetime
        Local time.

    Raises
    ------
    ValueError
        for what is no moment.
    """
    unit = _UNITS.get(len(text.strip()), timedelta(seconds=1))
    return moment(text) + unit - timedelta(microseconds=1)


def offset_s(text: str) -> float:
    """Seconds from hours, minutes and seconds: +1, 1:00, +01:00, -0:02:30.

    Parameters
    ----------
    text
        As a person types it.

    Returns
    -------
    float
        Seconds, below 0 for a clock that is to be put back.

    Raises
    ------
    ValueError
        for what is no offset, or one of more than a day.
    """
    match = _OFFSET.fullmatch(text.strip())
    if match is None:
        raise ValueError(f"{text!r} is not an offset: write +1, 1:00, +01:00 or -0:02:30")
    sign, hours, minutes, seconds = match.groups()
    found_s = int(hours) * 3600 + int(minutes or 0) * 60 + int(seconds or 0)
    if found_s > LONGEST_OFFSET_S:
        raise ValueError("an offset of more than a day is refused: check the dates first")
    return -found_s if sign == "-" else found_s
