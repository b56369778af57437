"""The gear that the frames of a logbook show: one row a kit, with what planning needs of it."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.store import summed
from auditor.store.logbook import Logbook

# Of a zoom, its long end: the bare columns of a query with one max() are those of that row (SQLite, "bare
# columns in an aggregate query"). The shape of the pictures is that of any frame that tells it: `frames` of a
# large logbook is not read through.
_USED_KITS = """
SELECT k.*, i.focal_length_mm, i.lens_widest_f_number, i.pixel_pitch_um, i.sensor_diagonal_mm,
       f.width_px, f.height_px
FROM ({longest}) AS i
JOIN kits AS k USING (kit_id)
JOIN frames AS f ON f.frame_id = (
    SELECT frame_id FROM inferred JOIN frames USING (frame_id)
    WHERE inferred.kit_id = i.kit_id AND width_px > 0 AND height_px > 0 LIMIT 1)
WHERE k.converter_factor IS NOT NULL AND k.lens_name IS NOT NULL ORDER BY k.kit_id
"""
_TOLD = "NOT excluded AND lens_widest_f_number > 0 AND pixel_pitch_um > 0 AND sensor_diagonal_mm > 0"
_LONGEST = f"""
    SELECT kit_id, max(focal_length_mm) AS focal_length_mm, lens_widest_f_number, pixel_pitch_um,
           sensor_diagonal_mm
    FROM inferred WHERE {_TOLD} AND focal_length_mm > 0 GROUP BY kit_id"""
# One frame a kit, found by the longest focal length that the sums know.
_LONGEST_OF_SUMS = f"""
    SELECT kit_id, focal_length_mm, lens_widest_f_number, pixel_pitch_um, sensor_diagonal_mm
    FROM inferred WHERE frame_id IN (
        SELECT (SELECT frame_id FROM inferred
                WHERE inferred.kit_id = s.kit_id AND {_TOLD} AND focal_length_mm = s.longest_mm LIMIT 1)
        FROM (SELECT kit_id, max(longest_mm) AS longest_mm FROM encounter_sums
              WHERE longest_mm IS NOT NULL GROUP BY kit_id) AS s)"""


@dataclass(frozen=True, slots=True, kw_only=True)
class UsedKit:
    """A kit that took frames."""

    kit_id: int
    body_key: tuple[str, str, str]
    """Make, model, serial number."""
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


def used_kits(logbook: Logbook) -> list[UsedKit]:
    """Every kit whose lens, converter, sensor and pixels are known."""
    longest = _LONGEST_OF_SUMS if summed.stand_for(logbook) else _LONGEST
    return [
        UsedKit(
            kit_id=row["kit_id"],
            body_key=(row["body_make"] or "", row["body_model"] or "", row["body_serial"] or ""),
            lens_name=row["lens_name"],
            lens_focal_length_mm=row["focal_length_mm"] / row["converter_factor"],
            lens_widest_f_number=row["lens_widest_f_number"],
            converter_factor=row["converter_factor"],
            pixel_pitch_um=row["pixel_pitch_um"],
            sensor_diagonal_mm=row["sensor_diagonal_mm"],
            width_px=max(row["width_px"], row["height_px"]),
            height_px=min(row["width_px"], row["height_px"]),
        )
        for row in logbook.query(_USED_KITS.format(longest=longest))
    ]
