"""Magnification and light near the closest focus: extension tubes (no glass) beside converters (glass).

A tube moves the lens away from the sensor: it focuses nearer and loses light. A converter leaves the
nearest distance as it is and magnifies what is seen from there. Thin-lens formulas throughout: a real long
lens with internal focusing shortens its focal length when it focuses near, so these are estimates.

References
----------
Photographic handbooks: magnification m = e / f for a lens at infinity; exposure factor (1 + m)^2.
"""

from __future__ import annotations

import math
from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class CloseUp:
    """How large, how near and how bright a lens sees at one setting of its focus ring."""

    magnification: float
    """Size on the sensor over size of the subject."""
    subject_to_sensor_mm: float
    light_loss_stops: float
    """Against the same lens focused at infinity."""


def exposure_factor(magnification: float) -> float:
    """How many times the light must grow at a magnification, (1 + m)^2, for a symmetric lens.

    Parameters
    ----------
    magnification
        Size on the sensor over size of the subject.

    Returns
    -------
    float
        A ratio, 1 at infinity.

    Raises
    ------
    ValueError
        for a magnification below 0.
    """
    if not magnification >= 0:
        raise ValueError(f"magnification must be 0 or more, not {magnification!r}")
    return (1 + magnification) ** 2


def magnification_at(focal_length_mm: float, subject_to_sensor_mm: float) -> float:
    """Magnification of a thin lens focused at a distance from subject to sensor.

    Solves d = f (2 + m + 1/m) for the smaller m.

    Parameters
    ----------
    focal_length_mm
        Of the lens at infinity.
    subject_to_sensor_mm
        From the subject to the sensor, not to the lens.

    Returns
    -------
    float
        Size on the sensor over size of the subject, at most 1.

    Raises
    ------
    ValueError
        for a distance under four focal lengths, nearer than which no thin lens forms an image.
    """
    turn = subject_to_sensor_mm / focal_length_mm - 2
    if turn < 2:
        raise ValueError(
            f"subject_to_sensor_mm must be at least four focal lengths ({4 * focal_length_mm:g} mm), "
            f"not {subject_to_sensor_mm!r}"
        )
    return (turn - math.sqrt(turn * turn - 4)) / 2


def with_tube(focal_length_mm: float, tube_mm: float, subject_to_sensor_mm: float | None = None) -> CloseUp:
    """What an extension tube does.

    Parameters
    ----------
    focal_length_mm
        Of the lens at infinity.
    tube_mm
        Length of the tube.
    subject_to_sensor_mm
        Where the lens focused without the tube; None for infinity.

    Returns
    -------
    CloseUp
        The setting with the tube; the light is lost against the lens at infinity without it.

    Raises
    ------
    ValueError
        for a tube that is not above 0, or a distance under four focal lengths.
    """
    before = 0.0 if subject_to_sensor_mm is None else magnification_at(focal_length_mm, subject_to_sensor_mm)
    magnification = before + tube_mm / focal_length_mm
    if magnification <= 0:
        raise ValueError(f"tube_mm must be above 0, not {tube_mm!r}")
    return CloseUp(
        magnification=magnification,
        subject_to_sensor_mm=focal_length_mm * (2 + magnification + 1 / magnification),
        light_loss_stops=math.log2(exposure_factor(magnification)),
    )


def with_converter(magnification: float, factor: float) -> float:
    """Magnification behind a converter, from the same distance: the lens's own times the factor (S).

    Parameters
    ----------
    magnification
        Of the lens alone.
    factor
        Of the converter.

    Returns
    -------
    float
        Size on the sensor over size of the subject.
    """
    return magnification * factor
