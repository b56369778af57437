"""Exposure in stops: f-numbers as marked and as meant, and the light that settings imply.

One convention throughout: more light is a higher EV.

References
----------
Exif 2.2, annex C (APEX): Av = 2 log2 N, Tv = -log2 t, Sv = log2(S / 3.125).
"""

from __future__ import annotations

import math
from functools import lru_cache

LARGEST_OFF_MARK_STOPS = 1 / 12
"""An f-number further from every mark than this was not meant as one."""

_MARKED_THIRDS = (
    1, 1.1, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 2.5, 2.8, 3.2, 3.5, 4, 4.5, 5, 5.6, 6.3, 7.1, 8, 9, 10, 11, 13, 14,
    16, 18, 20, 22, 25, 29, 32, 36, 40, 45,
)  # fmt: skip
"""Third stops as marked, in their order: the exact value of the k-th is 2^(k/6)."""
_MARKED = {float(mark): step for step, mark in enumerate(_MARKED_THIRDS)}
_MARKED_HALVES = {1.7: 3, 2.4: 5, 3.3: 7, 3.4: 7, 4.8: 9, 6.7: 11, 9.5: 13, 19.0: 17, 27.0: 19, 38.0: 21}
"""Marked half stops that no third stop shares, beside the exact step k of 2^(k/4)."""


def settings_ev(f_number: float, exposure_time_s: float, iso: float) -> float:
    """Light, in EV at ISO 100, for which these settings give a normal exposure.

    Parameters
    ----------
    f_number
        In effect, the converter included.
    exposure_time_s
        Of the shutter.
    iso
        As set.

    Returns
    -------
    float
        EV at ISO 100; more light is a higher EV.

    Raises
    ------
    ValueError
        for a value that is not above 0.

    References
    ----------
    Exif 2.2, annex C: Ev = Av + Tv = Bv + Sv.
    """
    for name, value in (("f_number", f_number), ("exposure_time_s", exposure_time_s), ("iso", iso)):
        _require_positive(name, value)
    return 2 * math.log2(f_number) - math.log2(exposure_time_s) - math.log2(iso / 100)


METER_CONSTANT = 12.5
"""K of reflected-light meters, cd s / (m^2 ISO) (ISO 2720, R)."""


def luminance_cd_m2(light_ev: float) -> float:
    """Luminance of a scene that meters at this EV at ISO 100: 2^EV K / 100.

    Parameters
    ----------
    light_ev
        EV at ISO 100.

    Returns
    -------
    float
        cd/m^2.
    """
    return 2**light_ev * METER_CONSTANT / 100


def exposure_time_s(light_ev: float, f_number: float, iso: float) -> float:
    """Exposure time that suits this light; the inverse of `settings_ev`.

    Parameters
    ----------
    light_ev
        EV at ISO 100.
    f_number
        In effect.
    iso
        As set.

    Returns
    -------
    float
        Seconds.

    Raises
    ------
    ValueError
        for an f-number or ISO that is not above 0.
    """
    return 2 ** (settings_ev(f_number, 1.0, iso) - light_ev)


def iso_needed(light_ev: float, f_number: float, exposure_time_s: float) -> float:
    """ISO that suits this light at an f-number and exposure time.

    Parameters
    ----------
    light_ev
        EV at ISO 100.
    f_number
        In effect.
    exposure_time_s
        Of the shutter.

    Returns
    -------
    float
        ISO, not rounded to a step that cameras offer.

    Raises
    ------
    ValueError
        for an f-number or exposure time that is not above 0.
    """
    return 100 * 2 ** (settings_ev(f_number, exposure_time_s, 100) - light_ev)


@lru_cache(maxsize=1024)
def snap_f_number(f_number: float) -> float:
    """The exact f-number that a marked one stands for: 5.6 is 4 * sqrt(2), 6.3 is 2^(16/6).

    A value that is itself a mark is that mark's step. Any other is moved to the nearest exact third
    or half stop if one lies within LARGEST_OFF_MARK_STOPS (7.84, a 5.6 behind a 1.4x, is f/8), and
    is left as it is if none does.

    Parameters
    ----------
    f_number
        As marked, recorded, or worked out from a converter's factor.

    Returns
    -------
    float
        A power of the sixth or the fourth root of two where one was meant, else as given.

    Raises
    ------
    ValueError
        for an f-number that is not above 0.
    """
    _require_positive("f_number", f_number)
    tenths = round(f_number, 1)
    if abs(tenths - f_number) < 1e-6:
        if tenths in _MARKED:
            return float(2 ** (_MARKED[tenths] / 6))
        if tenths in _MARKED_HALVES:
            return float(2 ** (_MARKED_HALVES[tenths] / 4))
    stops = 2 * math.log2(f_number)
    nearest = min((round(stops * 3) / 3, round(stops * 2) / 2), key=lambda step: abs(step - stops))
    if abs(nearest - stops) <= LARGEST_OFF_MARK_STOPS:
        return float(2 ** (nearest / 2))
    return f_number


def marked_f_number(f_number: float) -> float:
    """The nearest third-stop f-number as lenses and cameras mark it: 7.84 is f/8.

    Parameters
    ----------
    f_number
        Exact, or near a mark.

    Returns
    -------
    float
        From 1 to 45.

    Raises
    ------
    ValueError
        for an f-number that is not above 0.
    """
    _require_positive("f_number", f_number)
    step = min(max(round(6 * math.log2(f_number)), 0), len(_MARKED_THIRDS) - 1)
    return float(_MARKED_THIRDS[step])


def stops_between(wider: float, narrower: float) -> float:
    """Stops from one f-number to another, both snapped; negative when the second is the wider.

    Parameters
    ----------
    wider, narrower
        f-numbers, as marked or exact.

    Returns
    -------
    float
        Stops of light lost on the way.

    Raises
    ------
    ValueError
        for an f-number that is not above 0.
    """
    return 2 * math.log2(snap_f_number(narrower) / snap_f_number(wider))


def _require_positive(name: str, value: float) -> None:
    if not (math.isfinite(value) and value > 0):
        raise ValueError(f"{name} must be above 0, not {value!r}")
