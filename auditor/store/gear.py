"""The gear that the frames of a logbook show: one row a kit, with what planning needs of it."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.store.logbook import Logbook

# Of a zoom, its long end: the bare columns of a query with one max() are those of that row (SQLite, "bare
# columns in an aggregate query").
_USED_KITS = """
SELECT k.kit_id, k.body_make, k.body_model, k.body_serial, k.lens_name, k.converter_factor,
       max(i.focal_length_mm) AS focal_length_mm, i.lens_widest_f_number, i.pixel_pitch_um,
       i.sensor_diagonal_mm, f.width_px, f.height_px, count(*) AS frames
FROM inferred AS i JOIN frames AS f USING (frame_id) JOIN kits AS k ON k.kit_id = i.kit_id
WHERE NOT i.excluded AND k.converter_factor IS NOT NULL AND k.lens_name IS NOT NULL
  AND i.lens_widest_f_number > 0 AND i.pixel_pitch_um > 0 AND i.sensor_diagonal_mm > 0
  AND f.width_px > 0 AND f.height_px > 0
GROUP BY k.kit_id ORDER BY k.kit_id
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedKit:
    """A kit that took frames; facts that were declared of its body are None where they were not."""

    kit_id: int
    body_key: tuple[str, str, str]
    """Make, model, serial number."""
    body_name: str
    lens_name: str
    lens_focal_length_mm: float
    """Without the converter, at the long end."""
    lens_widest_f_number: float
    converter_factor: float
    pixel_pitch_um: float
    sensor_diagonal_mm: float
    width_px: int
    """The longer side of its pictures."""
    height_px: int
    base_iso: float | None = None
    iso_ceiling: float | None = None
    focus_limit_f_number: float | None = None


def used_kits(logbook: Logbook) -> list[UsedKit]:
    """Every kit whose lens, converter, sensor and pixels are known."""
    return [
        UsedKit(
            kit_id=row["kit_id"],
            body_key=(row["body_make"] or "", row["body_model"] or "", row["body_serial"] or ""),
            body_name=row["body_model"] or "unknown body",
            lens_name=row["lens_name"],
            lens_focal_length_mm=row["focal_length_mm"] / row["converter_factor"],
            lens_widest_f_number=row["lens_widest_f_number"],
            converter_factor=row["converter_factor"],
            pixel_pitch_um=row["pixel_pitch_um"],
            sensor_diagonal_mm=row["sensor_diagonal_mm"],
            width_px=max(row["width_px"], row["height_px"]),
            height_px=min(row["width_px"], row["height_px"]),
        )
        for row in logbook.query(_USED_KITS)
        if row["focal_length_mm"]
    ]
