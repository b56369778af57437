"""A body whose frames record time zones, and whether those can be true."""

from __future__ import annotations

from array import array
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from auditor.statistics.meetings import MEETING_S, RUN_PAUSE_S, fall_together, may_fall_together
from auditor.store.zones import MOST_ZONES

WRAP = 5000
"""A file number lower by more than this than the one before began again at 0001."""


@dataclass(frozen=True, slots=True)
class ZonedBody:
    """Frames of one body in order of its own time, those of one moment by file number."""

    own_s: NDArray[np.float64]
    """Times by its clock, seconds, shape (frames,) as the others."""
    zone_s: NDArray[np.float64]
    """Its zone, seconds ahead of universal time."""
    number: NDArray[np.float64]
    """File numbers; NaN where there is none."""

    @classmethod
    def of(cls, own_s: array[float], zone_s: array[float], number: array[float]) -> ZonedBody:
        """A body of its frames' own times, zones and file numbers."""
        return cls(np.array(own_s), np.array(zone_s), np.array(number))

    @property
    def universal_s(self) -> NDArray[np.float64]:
        """Universal times, in the order of its own."""
        return self.own_s - self.zone_s

    def goes_with_its_zone(self) -> bool:
        """Whether its clock was set together with its zone, as far as its frames tell.

        Where its frames come in another order by universal time than by its own, its file numbers must
        fit that order better. Where they come in the same, its clock may have been right and its zone wrong
        before it changes: so if only one of both times has a pause there, the other must go on at once.
        """
        if (self.zone_s == self.zone_s[0]).all():
            return True
        universal_s = self.universal_s
        order = np.argsort(universal_s, kind="stable")
        set_anew = np.flatnonzero(np.diff(self.zone_s[order]))
        if len(set_anew) >= MOST_ZONES:
            return False
        if (np.diff(order) < 0).any():
            return self._is_proved()
        own_pause_s, pause_s = np.diff(self.own_s)[set_anew], np.diff(universal_s)[set_anew]
        paused = pause_s > np.where(own_pause_s < RUN_PAUSE_S, RUN_PAUSE_S, MEETING_S)
        return not (paused & (np.minimum(own_pause_s, pause_s) < RUN_PAUSE_S)).any()

    def _is_proved(self) -> bool:
        """Whether its file numbers fit the order by universal time better than that by its own."""
        order = np.argsort(self.universal_s, kind="stable")
        return _steps_back(self.number[order]) < _steps_back(self.number)

    def meets(self, other: ZonedBody) -> bool:
        """Whether it meets another body by universal time wherever they stand side by side in two zones.

        Side by side by either time, unless both are proved right by their file numbers: by a zone that was
        wrong, frames come to lie where they were not.
        """
        reference, body = (self, other) if len(self.own_s) >= len(other.own_s) else (other, self)
        apart = body._apart_from(reference, reference.universal_s, body.universal_s)
        if not (body._is_proved() and reference._is_proved()):
            apart |= body._apart_from(reference, reference.own_s, body.own_s)
        if not apart.any():
            return True
        own_s = np.sort(body.own_s[apart])
        universal_s = np.sort(body.universal_s[apart])
        return fall_together(np.sort(reference.universal_s), universal_s) and not may_fall_together(
            reference.own_s, own_s
        )

    def _apart_from(
        self, reference: ZonedBody, reference_s: NDArray[np.float64], times_s: NDArray[np.float64]
    ) -> NDArray[np.bool_]:
        """Frames in another zone than the reference is in before and after them, by times of one kind."""
        order = np.argsort(reference_s, kind="stable")
        place = np.searchsorted(reference_s[order], times_s, side="right")
        zones_s: NDArray[np.float64] = reference.zone_s[order]
        before_s = zones_s[np.maximum(place - 1, 0)]
        after_s = zones_s[np.minimum(place, len(zones_s) - 1)]
        apart: NDArray[np.bool_] = (before_s != self.zone_s) & (after_s != self.zone_s)
        return apart


def _steps_back(number: NDArray[np.float64]) -> int:
    """How often a file number is lower than the one before, without having begun again."""
    known = number[~np.isnan(number)]
    step = np.diff(known)
    return int(np.count_nonzero((step < 0) & (step > -WRAP)))
