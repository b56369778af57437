"""Numbers and their units as people write them: each kind in one function, one style everywhere.

Intervals are "64 to 93 %", counts "1 encounter" and "14,959 frames", differences between shares "-4 points".
"""

from __future__ import annotations

import math
import re
import textwrap
from bisect import bisect_left
from datetime import datetime

NOT_KNOWN = "–"
NO_BREAK = "\u00a0"
"""The space at which no line ends."""
_MONTHS = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October",
    "November", "December",
)  # fmt: skip
"""In English whatever the computer's language is, as all of the page."""

_SPACE_TO_KEEP = re.compile(
    r"(?<=\d) (?=%|(?:mm|m|px|EV|s)\b|of 100\b)| (?=x [\d?])|(?<= x) (?=[\d?])|(?<=\bISO) (?=\d)"
)
_MARKED_ISO = (
    25, 32, 40, 50, 64, 80, 100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500,
    3200, 4000, 5000, 6400, 8000, 10000, 12800, 16000, 20000, 25600, 32000, 40000, 51200, 64000, 80000,
    102400, 128000, 160000, 204800, 256000, 320000, 409600,
)  # fmt: skip
"""ISO speeds in third stops as cameras mark them (ISO 12232 gives the series; C from 12800 on)."""
_MARKED_FRACTIONS = (
    32000, 25000, 20000, 16000, 12800, 10000, 8000, 6400, 5000, 4000, 3200, 2500, 2000, 1600, 1250, 1000,
    800, 640, 500, 400, 320, 250, 200, 160, 125, 100, 80, 60, 50, 40, 30, 25, 20, 15, 13, 10, 8, 6, 5, 4,
)  # fmt: skip
_MARKED_SECONDS = (0.3, 0.4, 0.5, 0.6, 0.8, 1, 1.3, 1.6, 2, 2.5, 3.2, 4, 5, 6, 8, 10, 13, 15, 20, 25, 30)
MARKED_EXPOSURE_TIMES_S = (*(1 / mark for mark in _MARKED_FRACTIONS), *_MARKED_SECONDS)
"""Exposure times in third stops as cameras mark them (C)."""


def apart(seconds: float) -> str:
    """How far two clocks are apart, to the minute: "5 hours", "4 hours 45 minutes", "30 minutes".

    Parameters
    ----------
    seconds
        In either direction.

    Returns
    -------
    str
        Empty where it is less than half a minute.
    """
    hours, minutes = divmod(round(abs(seconds) / 60), 60)
    return " ".join(count(number, word) for number, word in ((hours, "hour"), (minutes, "minute")) if number)


def count(number: float, word: str) -> str:
    """A whole number of things: "1 encounter", "14,959 frames"."""
    return f"{number:,.0f} {word}" if round(number) == 1 else f"{number:,.0f} {word}s"


def trip_named(name: str) -> str:
    """A trip as text calls it: "trip 2026-04-18"; a name that begins with the word says it once."""
    return name if name.lower().startswith("trip ") else f"trip {name}"


def capital(text: str) -> str:
    """Text as it begins a sentence."""
    return text[:1].upper() + text[1:]


def whole(value: float | None) -> str:
    """A number without decimals, thousands apart; a dash where it is not known."""
    return NOT_KNOWN if value is None or value != value else f"{value:,.0f}"


def percent(share: float | None) -> str:
    """A share from 0 to 1 as a whole percentage."""
    return NOT_KNOWN if share is None or share != share else f"{100 * share:.0f} %"


def interval(low: float | None, high: float | None) -> str:
    """The ends of a share's interval: "64 to 93 %"."""
    if low is None or high is None or low != low:
        return NOT_KNOWN
    return f"{100 * low:.0f} to {100 * high:.0f} %"


def signed(share: float) -> str:
    """A difference between shares in points with its sign; nothing is plain 0."""
    points = round(100 * share)
    return f"{points:+d}" if points else "0"


def points(share: float) -> str:
    """A difference between shares: "-4 points", "+1 point"."""
    return f"{signed(share)} {'point' if abs(round(100 * share)) == 1 else 'points'}"


def points_interval(low: float, high: float) -> str:
    """The ends of such a difference: "-22 to +17"."""
    return f"{signed(low)} to {signed(high)}"


def fewer(share: float) -> str:
    """A loss as frames of 100: "20 of 100", "20 more of 100" where it is a gain."""
    points_lost = round(-100 * share)
    return f"{points_lost}" if points_lost >= 0 else f"{-points_lost} more"


def finer(gain: float) -> str:
    """A gain in detail: "12 % finer", "8 % coarser", "the same"."""
    if gain < -1:
        return "more than 100 % coarser"
    hundredths = round(100 * abs(gain))
    if not hundredths:
        return "the same"
    return f"{hundredths} % {'finer' if gain > 0 else 'coarser'}"


def finer_interval(low: float, high: float) -> str:
    """The ends of a gain in detail: "4 to 20 % finer", "0 to 3 % finer", "8 % coarser to 3 % finer"."""
    low_text, high_text = finer(low), finer(high)
    way, other_way = (text.partition(" % ")[2] for text in (low_text, high_text))
    none_at_one_end = bool(way) != bool(other_way)
    way = way or other_way
    if way and (none_at_one_end or way == other_way) and not low_text.startswith("more"):
        ends = sorted((round(100 * abs(low)), round(100 * abs(high))))
        return f"{ends[0]} to {ends[1]} % {way}"
    return f"{low_text} to {high_text}"


def stops(value: float | None) -> str:
    """Stops or EV, to one decimal; whole ones without."""
    if value is None or value != value:
        return NOT_KNOWN
    return f"{round(value, 1) + 0.0:g}"


def stops_counted(value: float) -> str:
    """So many stops: "1 stop", "1.4 stops"."""
    return f"{stops(value)} {'stop' if stops(value) in ('1', '-1') else 'stops'}"


def iso(value: float | None) -> str:
    """A frame's ISO, as it was recorded."""
    return NOT_KNOWN if value is None or value != value else f"{value:.0f}"


def typical_iso(value: float | None) -> str:
    """A median or a computed ISO, to the nearest third stop that cameras mark."""
    if value is None or value != value or value <= 0:
        return NOT_KNOWN
    return str(_nearest(value, _MARKED_ISO))


def f_number(value: float | None) -> str:
    """An f-number as it is written."""
    return NOT_KNOWN if value is None or value != value else f"f/{value:.3g}"


def exposure_time(seconds: float | None) -> str:
    """An exposure time as it is written: "1/250 s", "1.3 s"."""
    if seconds is None or seconds != seconds:
        return NOT_KNOWN
    return f"1/{1 / seconds:.0f} s" if seconds < 0.3 else f"{seconds:.3g} s"


def marked_exposure_time_s(seconds: float) -> float:
    """The nearest exposure time in third stops that cameras mark, in seconds: 1/2000, never 1/2048."""
    return _nearest(seconds, MARKED_EXPOSURE_TIMES_S)


def typical_exposure_time(seconds: float) -> str:
    """A median or a computed exposure time, to the nearest third stop that cameras mark."""
    return exposure_time(marked_exposure_time_s(seconds))


def moment(taken_at: str | None) -> str:
    """Camera time to the minute: "2025-03-01 10:04"."""
    return NOT_KNOWN if taken_at is None else taken_at[:16].replace("T", " ")


def days(first_at: str, last_at: str) -> str:
    """Camera days in words: "18 April 2026", "18 to 19 April 2026", "30 April to 2 May 2026"."""
    first, last = (datetime.fromisoformat(at[:10]) for at in (first_at, last_at))
    end = f"{last.day} {_MONTHS[last.month - 1]} {last.year}"
    if first == last:
        return end
    start = [str(first.day)]
    if (first.year, first.month) != (last.year, last.month):
        start.append(_MONTHS[first.month - 1])
    if first.year != last.year:
        start.append(str(first.year))
    return f"{' '.join(start)} to {end}"


def month(number: int) -> str:
    """The name of a month, from 1."""
    return _MONTHS[number - 1]


def plain(text: object) -> str:
    """Text from a file, with whatever could steer a terminal or turn the line made visible."""
    written = str(text)
    if written.isprintable():
        return written
    return "".join(
        letter if letter.isprintable() or letter == NO_BREAK else repr(letter)[1:-1] for letter in written
    )


def unbroken(text: str) -> str:
    """The same text, in which no line ends between a number and its unit, or inside the name of a kit."""
    return _SPACE_TO_KEEP.sub(NO_BREAK, text)


def wrapped(text: str, width: int, *, first: str = "", then: str = "") -> list[str]:
    """Lines for a terminal that end as `unbroken` lets them; what the first and the others begin with."""
    lines = textwrap.wrap(unbroken(text), width, initial_indent=first, subsequent_indent=then)
    return [line.replace(NO_BREAK, " ") for line in lines]


def shortened(text: object, longest: int) -> str:
    """Plain text of at most so many letters: the middle goes, since a kit's converter stands at the end."""
    whole_text = plain(text)
    if len(whole_text) <= longest:
        return whole_text
    tail = longest // 2
    return f"{whole_text[: longest - tail - 1]}…{whole_text[-tail:]}"


def listed(names: list[str] | tuple[str, ...], last: str = "and") -> str:
    """Several things in a row: "light, shutter and activity"."""
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} {last} {names[-1]}"


def _nearest(value: float, marks: tuple[float, ...]) -> float:
    """The mark closest in stops; marks rise."""
    place = bisect_left(marks, value)
    around = marks[max(0, place - 1) : place + 1]
    return min(around, key=lambda mark: abs(math.log2(mark / value)))
