"""The sensor: its size, its pixels, and what they see."""

from __future__ import annotations

import math

FULL_FRAME_DIAGONAL_MM = math.hypot(36.0, 24.0)
"""43.267 mm: the frame that crop factors are counted from."""
CRITERION_SHARE = 1500
"""A blur spot of the diagonal / 1500 counts as sharp (common practice of the trade)."""
_UNIT_UM = {2: 25_400.0, 3: 10_000.0, 4: 1_000.0, 5: 1.0}
"""Exif FocalPlaneResolutionUnit: 2 inch, 3 cm; 4 mm and 5 um are written by some makers."""


def crop_factor(width_mm: float, height_mm: float) -> float:
    """Crop factor by the diagonal.

    Parameters
    ----------
    width_mm, height_mm
        Of the full sensor.

    Returns
    -------
    float
        1 for 36 x 24 mm; larger for smaller sensors.
    """
    return FULL_FRAME_DIAGONAL_MM / math.hypot(width_mm, height_mm)


def diagonal_from_crop_mm(crop: float) -> float:
    """Diagonal of a sensor with this crop factor.

    Parameters
    ----------
    crop
        Crop factor of the sensor.

    Returns
    -------
    float
        Diagonal, mm.

    Raises
    ------
    ValueError
        for a crop factor that is not above 0.
    """
    if not crop > 0:
        raise ValueError(f"crop must be above 0, not {crop!r}")
    return FULL_FRAME_DIAGONAL_MM / crop


def pixel_pitch_um(pixels_per_unit: float, unit: int) -> float:
    """Pixel pitch from Exif FocalPlaneXResolution and FocalPlaneResolutionUnit.

    Parameters
    ----------
    pixels_per_unit
        As Exif states it.
    unit
        FocalPlaneResolutionUnit: 2 inch, 3 cm, 4 mm, 5 um.

    Returns
    -------
    float
        From one pixel to the next, um.

    Raises
    ------
    ValueError
        for a resolution that is not above 0 or a unit that Exif does not have.
    """
    if not pixels_per_unit > 0:
        raise ValueError(f"pixels_per_unit must be above 0, not {pixels_per_unit!r}")
    if unit not in _UNIT_UM:
        raise ValueError(f"unit must be one of {sorted(_UNIT_UM)}, not {unit!r}")
    return _UNIT_UM[unit] / pixels_per_unit


def angle_of_view_deg(size_mm: float, focal_length_mm: float) -> float:
    """Angle that a side (or diagonal) of the sensor sees, focused far away.

    Parameters
    ----------
    size_mm
        Side or diagonal of the sensor.
    focal_length_mm
        In effect.

    Returns
    -------
    float
        Degrees, from edge to edge.
    """
    return math.degrees(2 * math.atan(size_mm / (2 * focal_length_mm)))


def mm_per_px(distance_mm: float, focal_length_mm: float, pitch_um: float) -> float:
    """Size on the subject of one pixel (thin lens, distance from the lens).

    Parameters
    ----------
    distance_mm
        From the lens to the subject.
    focal_length_mm
        In effect.
    pitch_um
        Of the pixels.

    Returns
    -------
    float
        mm on the subject.
    """
    return pitch_um / 1000 * (distance_mm - focal_length_mm) / focal_length_mm


def criterion_diameter_um(sensor_diagonal_mm: float, crop: float = 1.0) -> float:
    """Largest blur spot that counts as sharp, as a diameter on the sensor.

    Parameters
    ----------
    sensor_diagonal_mm
        Of the full sensor.
    crop
        How much closer than the frame the picture will be cut; 1 for not at all.

    Returns
    -------
    float
        Diameter, um.
    """
    return sensor_diagonal_mm * 1000 / CRITERION_SHARE / crop


def criterion_sigma_px(sensor_diagonal_mm: float, pitch_um: float, crop: float = 1.0) -> float:
    """The same as the sigma of a Gaussian, in pixels: a disc of diameter c has sigma c / 4 on each axis.

    Parameters
    ----------
    sensor_diagonal_mm
        Of the full sensor.
    pitch_um
        Of the pixels.
    crop
        How much closer than the frame the picture will be cut; 1 for not at all.

    Returns
    -------
    float
        Sigma, px.
    """
    return criterion_diameter_um(sensor_diagonal_mm, crop) / 4 / pitch_um


def microradians(size_um: float, focal_length_mm: float) -> float:
    """The angle that a small length on the sensor stands for.

    Parameters
    ----------
    size_um
        On the sensor.
    focal_length_mm
        In effect.

    Returns
    -------
    float
        Microradians.
    """
    return size_um / focal_length_mm * 1000
