"""What a lens, a converter and a sensor can show of the animal, by optics alone.

Everything is counted in the focal plane of the bare lens, so that kits of one lens compare. A converter
leaves the pupil as it is, so neither diffraction nor the lens's own blur change there; a perfect one only
makes the pixels smaller, by its factor."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

WAVELENGTH_UM = 0.55
"""Green light."""
EXCELLENT_LENS_UM, SOFT_LENS_UM = 1.5, 6.0
"""Blur (sigma) on the sensor of a very good lens and of a soft one: assumed, to span what there is."""
SPARROW = 0.9472
"""Two points closer than this, in wavelengths over the pupil, show no dip between them (R)."""
LIMIT_MTF = 0.1
"""Contrast at which detail is taken to end."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Chain:
    """A lens, a converter and a sensor."""

    f_number: float
    """Of the bare lens, without the converter."""
    lens_sigma_um: float
    pixel_pitch_um: float
    converter_factor: float = 1.0
    converter_sigma_um: float = 0.0
    """The converter's own blur at the sensor."""
    demosaicked: bool = False
    """Whether colours are filled in between pixels of one colour each."""

    @property
    def pixel_um(self) -> float:
        """A pixel as it lies in the focal plane of the bare lens."""
        return self.pixel_pitch_um / self.converter_factor


def diffraction_mtf(frequency_per_um: float, f_number: float, wavelength_um: float = WAVELENGTH_UM) -> float:
    """Contrast that a perfect round pupil leaves, 1 at frequency 0 and 0 from the cutoff on.

    Parameters
    ----------
    frequency_per_um
        Cycles per um on the sensor.
    f_number
        Of the lens.
    wavelength_um
        Of the light.

    Returns
    -------
    float
        Contrast, 0 to 1.

    References
    ----------
    J. W. Goodman, Introduction to Fourier Optics, incoherent transfer function of a circular pupil (R).
    """
    share = frequency_per_um * wavelength_um * f_number
    if share >= 1:
        return 0.0
    return 2 / math.pi * (math.acos(share) - share * math.sqrt(1 - share * share))


def gaussian_mtf(frequency_per_um: float, sigma_um: float) -> float:
    """Contrast that a Gaussian blur leaves.

    Parameters
    ----------
    frequency_per_um
        Cycles per um on the sensor.
    sigma_um
        Standard deviation of the blur.

    Returns
    -------
    float
        Contrast, 0 to 1.
    """
    return math.exp(-2 * (math.pi * sigma_um * frequency_per_um) ** 2)


def disc_mtf(frequency_per_um: float, diameter_um: float) -> float:
    """Contrast that an even blur disc leaves, as defocus draws it: 2 J1(x) / x, x = pi c u (R).

    Parameters
    ----------
    frequency_per_um
        Cycles per um on the sensor.
    diameter_um
        Of the disc.

    Returns
    -------
    float
        Contrast, 0 to 1; where bars are turned light for dark its size alone.
    """
    from scipy.special import j1

    turn = math.pi * diameter_um * frequency_per_um
    return 1.0 if turn == 0 else abs(2 * float(j1(turn)) / turn)


def airy_first_zero_um(f_number: float, wavelength_um: float = WAVELENGTH_UM) -> float:
    """Diameter of the first dark ring of a perfect lens: 2.4393 lambda N (R).

    Parameters
    ----------
    f_number
        Of the lens.
    wavelength_um
        Of the light.

    Returns
    -------
    float
        Diameter on the sensor, um.
    """
    return 2 * 1.219670 * wavelength_um * f_number


def airy_width_um(f_number: float, wavelength_um: float = WAVELENGTH_UM) -> float:
    """Full width at half maximum of a point behind a perfect lens: 1.0290 lambda N (R).

    Parameters
    ----------
    f_number
        Of the lens.
    wavelength_um
        Of the light.

    Returns
    -------
    float
        Width on the sensor, um.
    """
    return 1.028993 * wavelength_um * f_number


def pixel_mtf(frequency_per_um: float, pixel_um: float) -> float:
    """Contrast that a square pixel leaves, along its side; it is sensitive all over.

    Parameters
    ----------
    frequency_per_um
        Cycles per um on the sensor.
    pixel_um
        Side of the pixel.

    Returns
    -------
    float
        Contrast, 0 to 1.
    """
    turn = math.pi * pixel_um * frequency_per_um
    return 1.0 if turn == 0 else abs(math.sin(turn) / turn)


def demosaicking_mtf(frequency_per_um: float, pixel_um: float) -> float:
    """Contrast that filling in colours leaves of green, along the side of a pixel.

    Half of the pixels have green of their own, the other half the mean of their four neighbours: on average
    3/4 + cos(2 pi f p) / 4. That is the plainest way; better ones lose less, so a typical camera lies
    between this and no loss.

    Parameters
    ----------
    frequency_per_um
        Cycles per um on the sensor.
    pixel_um
        Side of the pixel.

    Returns
    -------
    float
        Contrast, 0.5 to 1.

    References
    ----------
    B. E. Bayer, Color imaging array, US patent 3,971,065 (1976): green at every other pixel (R); the mean
    follows from it (D).
    """
    return 0.75 + 0.25 * math.cos(2 * math.pi * frequency_per_um * pixel_um)


def system_mtf(frequency_per_um: float, chain: Chain) -> float:
    """Contrast that the whole chain leaves.

    Parameters
    ----------
    frequency_per_um
        Cycles per um in the focal plane of the bare lens.
    chain
        Lens, converter and sensor.

    Returns
    -------
    float
        Contrast, 0 to 1: the product of its parts.
    """
    own_um = chain.converter_sigma_um / chain.converter_factor
    return (
        diffraction_mtf(frequency_per_um, chain.f_number)
        * gaussian_mtf(frequency_per_um, math.hypot(chain.lens_sigma_um, own_um))
        * pixel_mtf(frequency_per_um, chain.pixel_um)
        * (demosaicking_mtf(frequency_per_um, chain.pixel_um) if chain.demosaicked else 1.0)
    )


def mtf50_per_um(chain: Chain) -> float:
    """Cycles per um at which half of the contrast is left.

    Parameters
    ----------
    chain
        Lens, converter and sensor.

    Returns
    -------
    float
        Cycles per um in the focal plane of the bare lens.
    """
    return _frequency_of(0.5, lambda frequency: system_mtf(frequency, chain), 1 / chain.pixel_um)


def limit_per_um(chain: Chain) -> float:
    """Cycles per um at which detail ends: a tenth of the contrast, or what the pixels can sample.

    Parameters
    ----------
    chain
        Lens, converter and sensor.

    Returns
    -------
    float
        Cycles per um in the focal plane of the bare lens, at most Nyquist's.
    """
    at_limit = _frequency_of(LIMIT_MTF, lambda frequency: system_mtf(frequency, chain), 1 / chain.pixel_um)
    return min(at_limit, 1 / (2 * chain.pixel_um))


def expected_gain(
    f_number: float,
    pixel_pitch_um: float,
    converter_factor: float,
    lens_sigma_um: float,
    *,
    demosaicked: bool = False,
) -> float:
    """How much finer half-contrast detail typically gets with a perfect converter: 0.1 is a tenth finer.

    Compares as `statistics.detail.gain` does: 1 - bare / with, in sizes on the animal. A typical value, no
    limit: what a camera does to a picture beyond this chain can favour finer sampling still more.

    Parameters
    ----------
    f_number
        Of the bare lens.
    pixel_pitch_um
        Of the sensor.
    converter_factor
        Of the converter.
    lens_sigma_um
        Blur of the lens on the sensor, sigma.
    demosaicked
        Whether colours are filled in between pixels of one colour each.

    Returns
    -------
    float
        A share; below 0 where detail gets coarser.
    """
    bare = Chain(
        f_number=f_number,
        lens_sigma_um=lens_sigma_um,
        pixel_pitch_um=pixel_pitch_um,
        demosaicked=demosaicked,
    )
    converted = replace(bare, converter_factor=converter_factor)
    return 1 - mtf50_per_um(bare) / mtf50_per_um(converted)


def lens_sigma_um(half_contrast_per_um: float, f_number: float, pixel_um: float) -> float:
    """The lens blur at which a chain keeps half of the contrast at a frequency; `mtf50_per_um` turned round.

    Parameters
    ----------
    half_contrast_per_um
        As measured, in the focal plane of the bare lens.
    f_number
        Of the bare lens.
    pixel_um
        As it lies there: behind a converter the pitch over the factor.

    Returns
    -------
    float
        Sigma, um; 0 for a measurement better than optics and pixel allow (a sharpened picture).
    """
    left = diffraction_mtf(half_contrast_per_um, f_number) * pixel_mtf(half_contrast_per_um, pixel_um)
    if left <= 0.5:
        return 0.0
    return math.sqrt(math.log(2 * left) / 2) / (math.pi * half_contrast_per_um)


def _frequency_of(contrast: float, mtf: Callable[[float], float], highest: float) -> float:
    """Where a falling curve crosses a contrast, by halving: pixels' first zero is an upper end."""
    low, high = 0.0, highest
    for _half in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if mtf(middle) > contrast else (low, middle)
    return (low + high) / 2
