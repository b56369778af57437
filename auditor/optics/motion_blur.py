"""Blur from movement of the subject and of the hand, and the shutter that holds it."""

from __future__ import annotations

import math


def subject_motion_px(
    speed_m_s: float,
    exposure_time_s: float,
    focal_length_mm: float,
    distance_m: float,
    pixel_pitch_um: float,
) -> float:
    """How many pixels a subject that crosses the view moves during the exposure: v t f / (d p).

    The subject is far: at `f / (d - f)` instead a subject at 30 m reads 1 % more.

    Parameters
    ----------
    speed_m_s
        Across the view.
    exposure_time_s
        Of the shutter.
    focal_length_mm
        In effect.
    distance_m
        From the lens to the subject.
    pixel_pitch_um
        Of the sensor.

    Returns
    -------
    float
        Length of the streak on the sensor, px.
    """
    moved_mm = speed_m_s * exposure_time_s * focal_length_mm / distance_m
    return moved_mm * 1000 / pixel_pitch_um


def shutter_for_motion_s(
    speed_m_s: float,
    most_px: float,
    focal_length_mm: float,
    distance_m: float,
    pixel_pitch_um: float,
) -> float:
    """Longest exposure in which a crossing subject moves at most so many pixels; infinite at rest.

    Parameters
    ----------
    speed_m_s
        Across the view.
    most_px
        Length of the longest streak to allow.
    focal_length_mm
        In effect.
    distance_m
        From the lens to the subject.
    pixel_pitch_um
        Of the sensor.

    Returns
    -------
    float
        Seconds.
    """
    px_per_s = subject_motion_px(speed_m_s, 1.0, focal_length_mm, distance_m, pixel_pitch_um)
    return most_px / px_per_s if px_per_s > 0 else math.inf


def hand_held_shutter_s(focal_length_mm: float, stabiliser_stops: float = 0.0) -> float:
    """The reciprocal rule, 1 / focal length (common practice of the trade), and what a stabiliser adds.

    Stops of a stabiliser are counted as CIPA DC-X011 does (S second-hand): 5 stops at 400 mm give 0.08 s. It
    holds the camera still, not the animal.

    Parameters
    ----------
    focal_length_mm
        In effect, as a full frame sees it.
    stabiliser_stops
        As its maker states them; 0 for none.

    Returns
    -------
    float
        Seconds.
    """
    return 2**stabiliser_stops / focal_length_mm
