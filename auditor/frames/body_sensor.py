"""The sensor behind a frame: two things, its full size and the size of its pixels."""

from __future__ import annotations

from dataclasses import dataclass, field
from math import hypot

from auditor.frames import gear_database
from auditor.optics import sensor
from auditor.records import KitFacts, Recorded
from auditor.store.exposure_identity import is_resized

FULL_FRAME_CROP_TOLERANCE = 0.03
"""A crop factor this close to 1 is 1: the two focal lengths that it comes from are rounded."""
CROP_RANGE = (0.3, 8.0)
PITCH_RANGE_UM = (0.5, 20.0)
"""What is recorded beyond these is a slip, not a sensor."""
CROP_MODES = (0.3, 0.9)
"""Shares of the sensor's diagonal that a crop made in the camera keeps; a smaller piece was cut out later."""
LARGER_THAN_SENSOR = 1.1
"""A picture that would cover this much more than the sensor has a pixel size that is not its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Sensor:
    """The full sensor, and a pixel of this picture on it."""

    crop_factor: float | None = None
    diagonal_mm: float | None = None
    pixel_pitch_um: float | None = None
    resized: bool = False
    cropped: bool = False
    missing: dict[str, str] = field(default_factory=dict)


def sensor_of(recorded: Recorded | KitFacts, *, declared_diagonal_mm: float | None = None) -> Sensor:
    """Full size: declared, else from the lensfun database by model, else from the 35 mm-equivalent.

    Pixel pitch: from the focal-plane resolution, else from what the picture covers and its size. A
    picture that was resized has no pitch: its pixels are not the sensor's.

    Parameters
    ----------
    recorded
        Of one file.
    declared_diagonal_mm
        Of the full sensor, where the photographer said it.

    Returns
    -------
    Sensor
        None with a reason for each size that cannot be told.
    """
    missing: dict[str, str] = {}
    stated_crop = _stated_crop(recorded)
    if declared_diagonal_mm:
        crop: float | None = sensor.FULL_FRAME_DIAGONAL_MM / declared_diagonal_mm
    else:
        crop = gear_database.crop_factor(recorded.body_make, recorded.body_model) or stated_crop
    diagonal_mm = sensor.diagonal_from_crop_mm(crop) if crop else None
    if crop is None:
        missing["crop_factor"] = missing["sensor_diagonal_mm"] = "needs_sensor"
    resized = is_resized(recorded)
    pitch_um = None if resized else _pitch_um(recorded, stated_crop or crop, diagonal_mm, missing)
    if resized:
        missing["pixel_pitch_um"] = "resized"
    return Sensor(
        crop_factor=crop,
        diagonal_mm=diagonal_mm,
        pixel_pitch_um=pitch_um,
        resized=resized,
        cropped=_is_cropped(crop, stated_crop, _picture_px(recorded), pitch_um),
        missing=missing,
    )


def _stated_crop(recorded: Recorded | KitFacts) -> float | None:
    """Crop factor of what the picture covers: a crop made in the camera is in it, where the body says so."""
    if not recorded.focal_length_35mm_mm or not recorded.focal_length_mm:
        return None
    crop = recorded.focal_length_35mm_mm / recorded.focal_length_mm
    if abs(crop - 1) <= FULL_FRAME_CROP_TOLERANCE:
        crop = 1.0
    return crop if CROP_RANGE[0] <= crop <= CROP_RANGE[1] else None


def _is_cropped(
    crop: float | None, stated_crop: float | None, picture_px: float | None, pitch_um: float | None
) -> bool:
    """Whether the camera kept a part of its sensor: its 35 mm-equivalent shows it, or its pixels."""
    if crop is None:
        return False
    covered = [crop / stated_crop] if stated_crop else []
    if picture_px is not None and pitch_um is not None:
        covered.append(picture_px * pitch_um / 1000 / sensor.diagonal_from_crop_mm(crop))
    return any(CROP_MODES[0] <= share < CROP_MODES[1] for share in covered)


def _picture_px(recorded: Recorded | KitFacts) -> float | None:
    """The picture's diagonal as recorded."""
    width_px = recorded.recorded_width_px or recorded.width_px
    height_px = recorded.recorded_height_px or recorded.height_px
    return hypot(width_px, height_px) if width_px and height_px else None


def _pitch_um(
    recorded: Recorded | KitFacts,
    covered_crop: float | None,
    diagonal_mm: float | None,
    missing: dict[str, str],
) -> float | None:
    picture_px = _picture_px(recorded)
    pitch_um = recorded.pixel_pitch_um
    if pitch_um is not None:
        covered_mm = pitch_um * picture_px / 1000 if picture_px else 0.0
        if not PITCH_RANGE_UM[0] <= pitch_um <= PITCH_RANGE_UM[1]:
            missing["pixel_pitch_um"] = "out_of_range"
        elif diagonal_mm and covered_mm > diagonal_mm * LARGER_THAN_SENSOR:
            missing["pixel_pitch_um"] = "contradiction"
        else:
            return pitch_um
    if picture_px is None or covered_crop is None:
        missing.setdefault("pixel_pitch_um", "needs_sensor")
        return None
    worked_out_um = sensor.diagonal_from_crop_mm(covered_crop) * 1000 / picture_px
    if not PITCH_RANGE_UM[0] <= worked_out_um <= PITCH_RANGE_UM[1]:
        missing.setdefault("pixel_pitch_um", "out_of_range")
        return None
    missing.pop("pixel_pitch_um", None)
    return worked_out_um
