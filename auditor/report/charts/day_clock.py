"""One clock a day for bursts of several time zones: light and kits of one moment stand at one place."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from auditor.analysis.changes import Change
from auditor.report.charts.figure import Kit
from auditor.report.text import values
from auditor.store.chart_rows import KitBurst


@dataclass(frozen=True, slots=True)
class DayClock:
    """Bursts by one clock a day, and what was moved for it."""

    bursts: list[KitBurst]
    """In order of time by that clock."""
    moved_s: Mapping[int, Mapping[str, float]]
    """By kit_id, and by the first moment of a burst as its camera recorded it: what was added."""
    words: str
    """Which bodies were moved, in sentences; empty where none was."""

    def change(self, change: Change) -> Change:
        """A stretch of a kit by this clock.

        Parameters
        ----------
        change
            By the clock of its camera.

        Returns
        -------
        Change
            Its ends moved as its bursts were.
        """
        moved = self.moved_s.get(change.kit_id, {})
        until_at = change.until_at
        return replace(
            change,
            from_at=_later(change.from_at, moved.get(change.from_at, 0.0)),
            until_at=None if until_at is None else _later(until_at, moved.get(until_at, 0.0)),
        )


def day_clock(bursts: Sequence[KitBurst], kits: Mapping[int, Kit]) -> DayClock:
    """Bursts by the clock of the zone that, of those of their day, most frames of the trip were taken in.

    Parameters
    ----------
    bursts
        Of a trip, by the clocks of their cameras.
    kits
        Those that the bursts are of, by kit_id.

    Returns
    -------
    DayClock
        Bursts of days with one zone, and of zones that cannot be trusted, stay as they are.
    """
    frames: dict[float, int] = defaultdict(int)
    on_day: dict[str, set[float]] = defaultdict(set)
    for burst in bursts:
        frames[burst.shift_s] += burst.frames
        on_day[burst.first_at[:10]].add(burst.shift_s)
    most = {day: max(shifts, key=lambda shift: (frames[shift], shift)) for day, shifts in on_day.items()}
    moved_s: dict[int, dict[str, float]] = defaultdict(dict)
    amounts: dict[str, set[float]] = defaultdict(set)
    by_clock = []
    for burst in bursts:
        later_s = burst.shift_s - most[burst.first_at[:10]]
        amounts[kits[burst.kit_id].body_name].add(later_s)
        if later_s:
            moved_s[burst.kit_id][burst.first_at] = later_s
            ends = (_later(at, later_s) for at in (burst.first_at, burst.last_at))
            burst = replace(burst, first_at=next(ends), last_at=next(ends))
        by_clock.append(burst)
    by_clock.sort(key=lambda burst: (burst.first_at, burst.kit_id))
    return DayClock(by_clock, moved_s, _words(amounts))


def _words(amounts: Mapping[str, set[float]]) -> str:
    sentences = []
    for body, moved in sorted(amounts.items()):
        for later_s in sorted(moved - {0.0}):
            some = "part of " if len(moved) > 1 else ""
            way = "later" if later_s > 0 else "earlier"
            sentences.append(f"{some}{body} is drawn {values.apart(later_s)} {way} than its clock showed")
    return f" By one clock: {'; '.join(sentences)}." if sentences else ""


def _later(at: str, seconds: float) -> str:
    return (datetime.fromisoformat(at) + timedelta(seconds=seconds)).isoformat() if seconds else at
