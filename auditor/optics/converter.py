"""What a teleconverter does to focal length, f-number and light."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache

from auditor.optics.exposure import snap_f_number, stops_between

MARKED_FACTORS = (1.25, 1.4, 1.7, 2.0)
FACTOR_TOLERANCE = 0.02
"""A factor this close (as a share) to a marked one is taken for it: 1.41 is 1.4."""
_MARKED_LOSS_STOPS = {1.25: 2 / 3, 1.4: 1.0, 1.7: 1.5, 2.0: 2.0}
"""Common practice of the trade: a 1.4x counts as one stop, a 2x as two; 1.25 and 1.7 rounded alike."""
CONTRADICTION_STOPS = 1 / 3
"""How much wider than it can be an f-number may read: cameras round to third stops."""
ROUNDING_STOPS = 1 / 6
"""Half the step between marked f-numbers."""


@dataclass(frozen=True, slots=True)
class ForcedPush:
    """How far the aperture in effect was from the lens's own widest, in stops.

    `forced_ev` is what the converter took; `chosen_ev` what the photographer stopped down besides.
    """

    forced_ev: float
    chosen_ev: float


@lru_cache(maxsize=1024)
def marked_factor(factor: float) -> float | None:
    """The marked factor that a measured or recorded one stands for; None when it is near none.

    Parameters
    ----------
    factor
        As measured or recorded.

    Returns
    -------
    float or None
        One of MARKED_FACTORS, or None.
    """
    nearest = min(MARKED_FACTORS, key=lambda marked: abs(factor / marked - 1))
    return nearest if abs(factor / nearest - 1) <= FACTOR_TOLERANCE else None


def entrance_pupil_mm(focal_length_mm: float, f_number: float) -> float:
    """Diameter of the opening that the subject sees: a converter leaves it as it is.

    Parameters
    ----------
    focal_length_mm, f_number
        Both in effect, or both of the bare lens: the quotient is the same.

    Returns
    -------
    float
        Diameter, mm.
    """
    return focal_length_mm / f_number


def light_loss_stops(factor: float) -> float:
    """Stops of light that a converter costs; 0 without one.

    Parameters
    ----------
    factor
        Of the converter; 1 for none.

    Returns
    -------
    float
        As the trade counts them for a marked factor, else 2 log2(factor).

    Raises
    ------
    ValueError
        for a factor below 1.
    """
    if not (math.isfinite(factor) and factor >= 1):
        raise ValueError(f"factor must be 1 or more, not {factor!r}")
    marked = marked_factor(factor)
    return 2 * math.log2(factor) if marked is None else _MARKED_LOSS_STOPS[marked]


@lru_cache(maxsize=4096)
def forced_push(f_number: float, lens_widest: float, factor: float) -> ForcedPush:
    """Split the stops between the lens's widest and the f-number in effect.

    Parameters
    ----------
    f_number
        In effect, converter included.
    lens_widest
        Widest f-number of the lens alone at this focal length.
    factor
        Of the converter; 1 for none.

    Returns
    -------
    ForcedPush
        Both in stops; they add up to the way from the lens's widest to the f-number in effect.
    """
    total_stops = stops_between(lens_widest, f_number)
    forced = min(max(total_stops, 0.0), light_loss_stops(factor))
    # Rounded, so that floats leave no stray 1e-16 of a stop.
    return ForcedPush(forced_ev=round(forced, 9), chosen_ev=round(total_stops - forced, 9))


def contradicts(f_number: float, lens_widest: float, factor: float) -> bool:
    """Whether an f-number in effect is too wide for this lens behind this converter.

    A third of a stop is allowed for rounding.

    Parameters
    ----------
    f_number
        In effect.
    lens_widest
        Widest f-number of the lens alone at this focal length.
    factor
        Of the converter; 1 for none.

    Returns
    -------
    bool
        True where the lens or the converter must be another one.
    """
    widest_stops = 2 * math.log2(snap_f_number(lens_widest)) + light_loss_stops(factor)
    return 2 * math.log2(snap_f_number(f_number)) < widest_stops - CONTRADICTION_STOPS - 1e-9


def darker_than(f_number: float, lens_widest: float, factor: float) -> bool:
    """Whether a lens wide open behind a converter is darker than an f-number.

    A sixth of a stop is allowed for rounding: f-numbers are marked by thirds, and f/9 is darker than f/8.

    Parameters
    ----------
    f_number
        Such as the highest with which a body focuses.
    lens_widest
        Widest f-number of the lens alone at this focal length.
    factor
        Of the converter; 1 for none.

    Returns
    -------
    bool
        False where it is as light as that, or lighter.
    """
    return stops_between(f_number, lens_widest) + light_loss_stops(factor) > ROUNDING_STOPS


def iso_without_converter(iso: float, forced_ev: float, base_iso: float) -> float:
    """The highest ISO that the bare lens would have needed at the same shutter speed.

    An upper bound: the bare lens could also have been stopped down.

    Parameters
    ----------
    iso
        As used.
    forced_ev
        Stops that the converter forced.
    base_iso
        The lowest ISO of the body.

    Returns
    -------
    float
        ISO, never above the one used nor below the base.
    """
    return min(iso, max(base_iso, iso / 2**forced_ev))
