"""What moving air leaves of detail: long exposures through even turbulence.

Shimmer over warm ground differs by a hundred times within a day, so these figures tell an order of
magnitude, and how it grows with distance, and nothing finer.

References
----------
Fried's coherence length for a spherical wave (R): r0 = (0.423 k^2 Cn2 3/8 L)^(-3/5). Near-ground Cn2
over 8 km: 3e-15 to 6e-15 m^-2/3, about 1e-15 near sunrise and sunset (JOSA 1967, abstract, S).
"""

from __future__ import annotations

import math

from auditor.optics.resolution import WAVELENGTH_UM

CALM_CN2, USUAL_CN2, WARM_GROUND_CN2 = 1e-15, 5e-15, 1e-13
"""Strength of turbulence, m^-2/3: near sunrise and sunset, by day, and low over sunlit ground (R)."""
SEEING_WIDTH = 0.98
"""Full width at half maximum of the long-exposure image, in wavelengths over r0 (R)."""


def coherence_length_m(cn2: float, path_m: float, wavelength_um: float = WAVELENGTH_UM) -> float:
    """Fried's r0 of a spherical wave over an even path.

    Parameters
    ----------
    cn2
        Strength of the turbulence, m^-2/3.
    path_m
        From the subject to the lens.
    wavelength_um
        Of the light.

    Returns
    -------
    float
        r0, m: a wider pupil gains no sharpness in a long exposure.
    """
    wave_number = 2 * math.pi / (wavelength_um * 1e-6)
    return float((0.423 * wave_number**2 * cn2 * 0.375 * path_m) ** -0.6)


def seeing_urad(cn2: float, path_m: float, wavelength_um: float = WAVELENGTH_UM) -> float:
    """Width at half maximum of a point seen through the air, in microradians; grows as path^0.6.

    Parameters
    ----------
    cn2
        Strength of the turbulence, m^-2/3.
    path_m
        From the subject to the lens.
    wavelength_um
        Of the light.

    Returns
    -------
    float
        Full width at half maximum, microradians.
    """
    return SEEING_WIDTH * wavelength_um / coherence_length_m(cn2, path_m, wavelength_um)


def pupil_width_urad(pupil_mm: float, wavelength_um: float = WAVELENGTH_UM) -> float:
    """Width at half maximum of the lens's own diffraction, in microradians (1.029 lambda / D, R).

    Parameters
    ----------
    pupil_mm
        Diameter of the entrance pupil.
    wavelength_um
        Of the light.

    Returns
    -------
    float
        Full width at half maximum, microradians.
    """
    return 1.0290 * wavelength_um / pupil_mm * 1000


def air_sets_the_limit(cn2: float, path_m: float, pupil_mm: float) -> bool:
    """Whether the air blurs more than the lens's own diffraction does.

    The formula assumes a lens far wider than r0 and a long exposure: where this is False its figure
    means nothing, and the lens sets the limit.

    Parameters
    ----------
    cn2
        Strength of the turbulence, m^-2/3.
    path_m
        From the subject to the lens.
    pupil_mm
        Diameter of the entrance pupil.

    Returns
    -------
    bool
        True where the figures of this module may be used.
    """
    return seeing_urad(cn2, path_m) > pupil_width_urad(pupil_mm)
