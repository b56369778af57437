"""What was measured of each kit's detail: the whole blur as an angle, and the noise on the animal."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from auditor.statistics.detail import Blurs
from auditor.store.logbook import Logbook

PATCH_URAD = 100.0
"""Noise on the animal is that of a patch of so many microradians a side: one patch for all kits, in which a
kit with more pixels averages more of them."""

_MEASURED = """
SELECT i.kit_id, m.scene_id, m.encounter_id, r.noise,
       r.scale * i.pixel_pitch_um / i.focal_length_mm * 1000 AS pixel_urad, r.system_sigma_px,
       coalesce(i.light_value_ev, -999.0)
FROM readings AS r JOIN inferred AS i USING (frame_id) JOIN membership AS m USING (frame_id)
WHERE r.system_sigma_px > 0 AND i.pixel_pitch_um > 0 AND i.focal_length_mm > 0 AND NOT i.excluded
  AND (:trip IS NULL OR m.trip_id = :trip)
"""


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
    """The measured frames of every kit, of one trip or of all."""
    cursor = logbook.db.conn.execute(_MEASURED, {"trip": trip_id})
    cursor.row_factory = None
    columns = np.fromiter(cursor, dtype=np.dtype((float, 7)))
    kits = columns[:, 0].astype(np.int64)
    return {int(kit_id): _of_kit(columns[kits == kit_id]) for kit_id in np.unique(kits)}


def _of_kit(rows: np.ndarray[Any, Any]) -> Measured:
    _kit, scene, encounter, noise, pixel_urad, sigma_px, light = rows.T
    blurs = Blurs(
        sigma_px * pixel_urad,
        scene.astype(np.int64),
        encounter.astype(np.int64),
        np.where(light == -999.0, np.nan, light),
    )
    return Measured(blurs, float(np.median(noise * pixel_urad / PATCH_URAD)))
