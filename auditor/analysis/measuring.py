"""How far measuring has come: rates of a part of the frames are told as such."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.store import readings
from auditor.store.logbook import Logbook

LARGEST_WAITING_SHARE = 0.05
"""A kit of which more frames wait is not answered on: what is measured first is not drawn by lot, and an
interrupted run has moved a kit's rate by 18 points (chosen)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class KitMeasuring:
    """Frames of one kit."""

    kit_id: int
    frames: int
    waiting: int
    """Those whose file is there and that have not been measured yet."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measuring:
    """Frames of a trip, or of all trips."""

    frames: int
    waiting: int
    """Those whose file is there and that have not been measured yet."""
    kits: tuple[KitMeasuring, ...]

    @property
    def measured(self) -> int:
        """Frames that do not wait: measured, or impossible to measure."""
        return self.frames - self.waiting

    @property
    def enough(self) -> bool:
        """Whether every kit is measured far enough for an answer."""
        return all(kit.waiting <= LARGEST_WAITING_SHARE * kit.frames for kit in self.kits)


def measuring(logbook: Logbook, trip_id: int | None = None) -> Measuring:
    """How many frames of a trip, or of all, wait to be measured.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    Measuring
        In all, and by kit.
    """
    from auditor import __version__

    counted = readings.waiting_by_kit(logbook, trip_id, auditor_version=__version__)
    kits = tuple(KitMeasuring(**row) for row in counted)
    return Measuring(
        frames=sum(kit.frames for kit in kits), waiting=sum(kit.waiting for kit in kits), kits=kits
    )
