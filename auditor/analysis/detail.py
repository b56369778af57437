"""What was measured of each kit's detail: the system blur as an angle, and the noise on the animal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from auditor.statistics.detail import Blurs
from auditor.store import trip_numbers
from auditor.store.logbook import Logbook

PATCH_URAD = 100.0
"""Noise on the animal is that of a patch of so many microradians a side: one patch for all kits, in which a
kit with more pixels averages more of them."""


@dataclass(frozen=True, slots=True)
class Measured:
    """The measured frames of a kit."""

    blurs: Blurs
    noise_on_subject: float | None
    """Median over the frames, in levels of luma (0 to 255), as if pixels were independent; None where
    none."""

    @classmethod
    def nothing(cls) -> Measured:
        """A kit of which no frame was measured."""
        none = np.zeros(0, dtype=np.int64)
        return cls(Blurs(np.zeros(0), none, none), None)


def measured_by_kit(logbook: Logbook, trip_id: int | None = None) -> dict[int, Measured]:
    """The measured frames of every kit, by kit_id, of one trip or of all.

    Parameters
    ----------
    trip_id
        None for all trips.

    Returns
    -------
    dict[int, Measured]
        Kits without a measured frame are left out.
    """
    columns = trip_numbers.measured_detail(logbook, trip_id).T
    kits = columns[0].astype(np.int64)
    measured = {}
    for kit_id in np.flatnonzero(np.bincount(kits)).tolist():
        measured[kit_id] = _of_kit(columns[:, np.flatnonzero(kits == kit_id)])
    return measured


def _of_kit(columns: np.ndarray[Any, Any]) -> Measured:
    _kit, scene, encounter, noise, pixel_urad, sigma_px, light_ev = columns
    blurs = Blurs(
        sigma_px * pixel_urad, scene.astype(np.int64), encounter.astype(np.int64), light_ev, sigma_px
    )
    return Measured(blurs, float(np.median(noise * pixel_urad / PATCH_URAD)))
