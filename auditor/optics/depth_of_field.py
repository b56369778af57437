"""From where to where a subject counts as sharp.

References
----------
US Army correspondence course SS0507 (hyperfocal distance); the usual thin-lens formulas of photographic
handbooks, distances from the lens.
"""

from __future__ import annotations

import math
from typing import NamedTuple


class Sharp(NamedTuple):
    """Nearest and farthest distance that count as sharp, mm; the far end may be infinite."""

    near_mm: float
    far_mm: float

    @property
    def depth_mm(self) -> float:
        """From one end to the other."""
        return self.far_mm - self.near_mm


def hyperfocal_mm(focal_length_mm: float, f_number: float, circle_mm: float) -> float:
    """Distance f^2 / (N c), from half of which all to infinity counts as sharp.

    Parameters
    ----------
    focal_length_mm, f_number
        In effect, the converter included.
    circle_mm
        Diameter of the largest blur spot on the sensor that counts as sharp.

    Returns
    -------
    float
        From the lens, mm.

    Raises
    ------
    ValueError
        for a value that is not above 0.
    """
    _check(focal_length_mm=focal_length_mm, f_number=f_number, circle_mm=circle_mm)
    return focal_length_mm**2 / (f_number * circle_mm)


def depth_of_field(focal_length_mm: float, f_number: float, distance_mm: float, circle_mm: float) -> Sharp:
    """Nearest and farthest distance that count as sharp.

    Parameters
    ----------
    focal_length_mm, f_number
        In effect, the converter included.
    distance_mm
        From the lens to the subject.
    circle_mm
        Diameter of the largest blur spot on the sensor that counts as sharp.

    Returns
    -------
    Sharp
        Both from the lens, mm; the far one infinite from the hyperfocal distance on.

    Raises
    ------
    ValueError
        for a value that is not above 0, or a subject nearer than the focal length.
    """
    if not distance_mm > focal_length_mm:
        raise ValueError(f"distance_mm must be beyond the focal length, not {distance_mm!r}")
    hyperfocal = hyperfocal_mm(focal_length_mm, f_number, circle_mm)
    reach = (distance_mm - focal_length_mm) / hyperfocal
    far = distance_mm / (1 - reach) if reach < 1 else math.inf
    return Sharp(distance_mm / (1 + reach), far)


def _check(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0):
            raise ValueError(f"{name} must be above 0, not {value!r}")
