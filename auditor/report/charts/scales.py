"""From numbers to places in a drawing, and the marks of its axes in the values that cameras show."""

from __future__ import annotations

import math
from dataclasses import dataclass

from auditor.planning.outing import LIGHTS
from auditor.report.text.values import MARKED_EXPOSURE_TIMES_S

LIGHT_WORDS = {LIGHTS["dusk"][0]: "dusk", LIGHTS["overcast"][0]: "overcast", LIGHTS["bright sun"][0]: "sun"}
"""Lights by which photographers know the others, by their EV at ISO 100."""
_STEPS = (1, 2, 5)


@dataclass(frozen=True, slots=True)
class Scale:
    """A straight or a doubling scale: `low` lies at `start`, `high` at `end`, in units of the drawing."""

    low: float
    high: float
    start: float
    end: float
    doubling: bool = False
    """Whether equal steps double the value, as stops do."""

    def __call__(self, value: float) -> float:
        """The place of a value; one outside the scale lies at its end."""
        low, high = self.low, self.high
        value = min(max(value, low), high)
        if self.doubling:
            low, high, value = math.log2(low), math.log2(high), math.log2(value)
        share = (value - low) / (high - low) if high > low else 0.5
        return self.start + share * (self.end - self.start)


def nice(low: float, high: float, most: int = 6) -> list[float]:
    """Round values from low to high: steps of 1, 2 or 5 times a power of ten, at most so many of them."""
    if not high > low:
        return [low]
    power = math.floor(math.log10((high - low) / most))
    for exponent in (power, power + 1):
        for step in _STEPS:
            width = step * 10.0**exponent
            first, last = math.ceil(low / width - 1e-9), math.floor(high / width + 1e-9)
            if last - first < most:
                return [round(place * width, 10) for place in range(first, last + 1)]
    return [low]


def round_doublings(low: float, high: float, most: int = 7) -> list[float]:
    """Values of a doubling scale that are easily read: 0.5, 1, 2, 5, 10, at most so many."""
    readable = [
        step * 10.0**power
        for power in range(math.floor(math.log10(low)) - 1, math.ceil(math.log10(high)) + 1)
        for step in _STEPS
        if low <= step * 10.0**power <= high
    ]
    return _thinned(readable, most)


def isos(low: float, high: float, most: int = 8) -> list[float]:
    """ISO speeds that double, from low to high: 100, 200, 400."""
    marked = [25 / 8 * 2**power for power in range(40) if low <= 25 / 8 * 2**power <= high]
    return _thinned(marked, most)


def shutters(low_s: float, high_s: float, most: int = 8) -> list[float]:
    """Whole stops of exposure time as cameras mark them, in seconds: 1/2000, 1/1000, 1/500."""
    whole_stops = MARKED_EXPOSURE_TIMES_S[::3]
    return _thinned([time_s for time_s in whole_stops if low_s <= time_s <= high_s], most)


def lights(low_ev: float, high_ev: float, most: int = 6) -> list[tuple[float, str]]:
    """Light in EV: the lights that photographers have words for, and even steps between them.

    Parameters
    ----------
    most
        Even steps at most; one is left out where a word stands within half a step of it.

    Returns
    -------
    (EV, word) in rising order; no word for even steps.
    """
    worded = [(ev, word) for ev, word in LIGHT_WORDS.items() if low_ev <= ev <= high_ev]
    step = next((step for step in (2, 4, 6) if (high_ev - low_ev) / step < most), 10)
    even = (place * step for place in range(math.ceil(low_ev / step), math.floor(high_ev / step) + 1))
    plain = [(float(ev), "") for ev in even if all(abs(ev - other) > step / 2 for other, _word in worded)]
    return sorted(worded + plain)


def hours(first_h: float, last_h: float, room: float, letters: float) -> list[int]:
    """Hours of the clock between two times, so many that each has room.

    Parameters
    ----------
    room, letters
        Width that there is, and that one hour's name needs, in units of the drawing.
    """
    most = max(1, int(room / letters))
    for step in (1, 2, 3, 6, 12):
        marked = [hour for hour in range(math.ceil(first_h), math.floor(last_h) + 1) if hour % step == 0]
        if len(marked) <= most:
            return marked
    return []


def _thinned(marks: list[float], most: int) -> list[float]:
    """Every one, or every second, third and so on, so that no more than `most` are left."""
    return marks[:: max(1, math.ceil(len(marks) / most))]
