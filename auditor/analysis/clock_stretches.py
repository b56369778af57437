"""Stretches of a trip in which one body's clock was away from another's by whole, half or quarter hours."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING

from auditor.analysis.hint_kinds import HOUR_S
from auditor.store.bursts import BurstLight
from auditor.store.zones import MOST_ZONES, ahead_s

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

QUARTERS = 4
"""Zones lie whole, half and three quarter hours from universal time (as of India and Nepal)."""
LONGEST_SHIFT_H = 14
FEWEST_MEETINGS = 5
"""So many runs of bursts that meet when shifted tell of a clock that was off (chosen)."""
MORE, TIMES_AS_MANY = 3, 1.5
"""Than at any other shift: then at most 2 in 40 simulated trips whose bodies never met are asked about.
Of one day with 8 animals and clocks that were off, one in eight is."""
FEWEST_UNSHIFTED = 3
"""So many meetings without a shift tell that a clock was right, at least for a part of the trip (chosen)."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Bursts of a body, and the hours, to the quarter, to add to its clock in them."""

    hours: float
    bursts: Sequence[BurstLight]


@dataclass(frozen=True, slots=True)
class _Zoned:
    """A burst with the time zone that its body's clock was set to."""

    true_s: float
    """Seconds since any fixed moment, by universal time."""
    zone_s: float
    burst: BurstLight


def zones_set(bursts: Sequence[BurstLight]) -> list[float]:
    """The time zones that a body's clock was set to, one after another.

    Parameters
    ----------
    bursts
        Of one body, in order of time.

    Returns
    -------
    list[float]
        Seconds ahead of universal time; empty where it states none, or changes too often to be one body.
    """
    zones = [zone for zone, _own in groupby(_zoned(bursts), key=lambda zoned: zoned.zone_s)]
    return zones if len(zones) <= MOST_ZONES else []


def zones_apart(
    reference_bursts: Sequence[BurstLight], body_bursts: Sequence[BurstLight]
) -> list[Stretch] | None:
    """Where a body states another time zone than the reference does at that moment.

    Between two bursts of the reference its zone is that of the earlier one, or where the body states it
    already, of the later one: either was the first to be set.

    Parameters
    ----------
    reference_bursts, body_bursts
        In order of time.

    Returns
    -------
    list[Stretch] or None
        None where one of them states none, or was put right already, or zones are no quarters of hours apart.
        Stretches in which they meet as they are all the same are left out.
    """
    if any(burst.first_at != burst.camera_first_at for burst in (*reference_bursts, *body_bursts)):
        return None
    if not zones_set(reference_bursts) or not zones_set(body_bursts):
        return None
    reference = _zoned(reference_bursts)
    moments = [zoned.true_s for zoned in reference]

    def apart_s(zoned: _Zoned) -> float:
        place = bisect_right(moments, zoned.true_s)
        around = [beside.zone_s for beside in reference[max(place - 1, 0) : place + 1]]
        return 0.0 if zoned.zone_s in around else around[0] - zoned.zone_s

    found = []
    for seconds, own in groupby(_zoned(body_bursts), key=apart_s):
        bursts = [zoned.burst for zoned in own]
        hours = seconds / HOUR_S
        if hours * QUARTERS % 1:
            return None
        if hours and _alone(bursts, body_bursts) and not _agree(reference_bursts, bursts, hours):
            found.append(Stretch(hours, bursts))
    return found


def _agree(reference_bursts: Sequence[BurstLight], bursts: Sequence[BurstLight], hours: float) -> bool:
    """Whether bursts meet as they are: the clock was set by hand, and its zone left as it was."""
    import numpy as np

    from auditor.statistics.meetings import fall_together, may_fall_together

    reference = np.sort([burst.first_s for burst in reference_bursts])
    moments = np.sort([burst.first_s for burst in bursts])
    return may_fall_together(reference, moments) and not fall_together(reference, moments, hours * HOUR_S)


def _zoned(bursts: Sequence[BurstLight]) -> list[_Zoned]:
    """Bursts in their true order; those without a zone have that of the burst before, or the first one."""
    zone = next((burst.utc_offset for burst in bursts if burst.utc_offset), None)
    zoned = []
    for burst in bursts:
        zone = burst.utc_offset or zone
        if zone is not None:
            zone_s = ahead_s(zone)
            zoned.append(_Zoned(burst.first_s - zone_s, zone_s, burst))
    return sorted(zoned, key=lambda each: each.true_s)


def _alone(stretch: Sequence[BurstLight], bursts: Sequence[BurstLight]) -> bool:
    """Whether no other burst lies in their span by the camera's clock: a declaration would move it too."""
    first_at = min(burst.camera_first_at for burst in stretch)
    last_at = max(burst.camera_last_at for burst in stretch)
    within = [b for b in bursts if b.camera_last_at >= first_at and b.camera_first_at <= last_at]
    return len(within) == len(stretch)


def shifted_stretch(
    reference_bursts: Sequence[BurstLight], body_bursts: Sequence[BurstLight]
) -> list[Stretch]:
    """The shift, to the quarter of an hour, at which two bodies meet far oftener than they do as they are.

    Where they meet as they are up to some moment, and shifted from then on, the clock was set there; or it
    was put right there. Only the part that meets when shifted is told.

    Parameters
    ----------
    reference_bursts, body_bursts
        In order of time.

    Returns
    -------
    list[Stretch]
        One, or none.
    """
    import numpy as np

    reference = np.sort([burst.first_s for burst in reference_bursts])
    moments = np.array([burst.first_s for burst in body_bursts])
    met = _Meetings(reference, moments)
    parts = [(hours, part) for hours in met.shifts if hours for part in met.parts(hours)]
    clear = [(hours, part) for hours, part in parts if met.far_more(hours, part)]
    if not clear:
        return []
    hours, part = max(clear, key=lambda each: (met.explained(*each), -abs(each[0])))
    bursts = body_bursts[part]
    return [Stretch(hours, bursts)] if _alone(bursts, body_bursts) else []


class _Meetings:
    """How many runs of the first so many bursts of a body meet the reference, by the shift of its clock."""

    shifts = tuple(
        step / QUARTERS for step in range(-QUARTERS * LONGEST_SHIFT_H, QUARTERS * LONGEST_SHIFT_H + 1)
    )

    def __init__(self, reference_s: NDArray[np.float64], moments_s: NDArray[np.float64]) -> None:
        import numpy as np

        from auditor.statistics.meetings import first_meetings

        self._first = {
            hours: np.append(0, np.cumsum(first_meetings(reference_s, moments_s, hours * HOUR_S)))
            for hours in self.shifts
        }
        pauses_s = np.diff(moments_s)
        self._pauses = pauses_s / (pauses_s.max(initial=0.0) + 1)
        self._all = slice(0, len(moments_s))

    def parts(self, hours: float) -> list[slice]:
        """The whole, and what the clock's being set once leaves: from there on, or up to there."""
        if not self._pauses.size:
            return [self._all]
        as_it_is, shifted = self._first[0], self._first[hours]
        # Of like places the longest pause: a clock is set between two outings.
        later = as_it_is[1:-1] - shifted[1:-1] + self._pauses
        earlier = shifted[1:-1] - as_it_is[1:-1] + self._pauses
        parts = [slice(int(later.argmax()) + 1, self._all.stop), slice(0, int(earlier.argmax()) + 1)]
        return [self._all, *(part for part in parts if self._unshifted_outside(hours, part))]

    def far_more(self, hours: float, part: slice) -> bool:
        """Whether runs meet far oftener when shifted so than as they are, or shifted otherwise."""
        next_most = max(self._count(other, part) for other in self.shifts if other != hours)
        return self._count(hours, part) >= max(FEWEST_MEETINGS, next_most + MORE, TIMES_AS_MANY * next_most)

    def explained(self, hours: float, part: slice) -> int:
        """How many runs meet where the clock was off in a part alone."""
        return self._count(hours, part) + self._outside(0, part)

    def _unshifted_outside(self, hours: float, part: slice) -> bool:
        return self._outside(0, part) >= max(FEWEST_UNSHIFTED, 3 * self._outside(hours, part) + 1)

    def _outside(self, hours: float, part: slice) -> int:
        return self._count(hours, self._all) - self._count(hours, part)

    def _count(self, hours: float, part: slice) -> int:
        first = self._first[hours]
        return int(first[part.stop] - first[part.start])
