"""Invented gear for the tests of planning."""

from typing import Any

from auditor.store.gear import UsedKit


def used(kit_id: int, *, factor: float = 1.0, **facts: Any) -> UsedKit:
    """A kit of a 24-megapixel full-frame body and a 500 mm f/5.6."""
    values: dict[str, Any] = {
        "body_key": ("", "F2", "1"), "lens_name": "500mm f/5.6",
        "lens_focal_length_mm": 500.0,
        "lens_widest_f_number": 5.6, "pixel_pitch_um": 5.97, "sensor_diagonal_mm": 43.27, "width_px": 6000,
        "height_px": 4000,
    }  # fmt: skip
    return UsedKit(kit_id=kit_id, converter_factor=factor, **(values | facts))
