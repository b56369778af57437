"""Detail weighed against noise: the finest detail on the animal that so many photons can show.

A kit that magnifies spreads the animal's light over more pixels. At the same shutter speed and pupil the
photons from each square of the animal stay the same; only the read noise is paid more often.

References
----------
NEQ = MTF^2 / NPS: Wagner et al. 1979; Barrett et al. 1996 (abstracts S). Rose's threshold of 5 (R).
"""

from __future__ import annotations

import math

from auditor.optics.resolution import Chain, system_mtf

ROSE_THRESHOLD = 5.0
"""Signal over noise at which a pattern is seen with certainty (R); the advice depends on it, so it is a
setting where advice is given."""
CYCLES = 5.0
"""Bars of the pattern that must be seen."""


def read_noise_cost_stops(electrons_per_px: float, read_noise_e: float, factor: float) -> float:
    """Light that a converter costs on the animal at the same shutter: read noise alone, in stops.

    Parameters
    ----------
    electrons_per_px
        Of the bare lens, per pixel.
    read_noise_e
        Electrons, root mean square, per pixel.
    factor
        Of the converter.

    Returns
    -------
    float
        0 where light alone makes the noise, at most 2 log2(factor).
    """
    bare = electrons_per_px + read_noise_e**2
    converted = electrons_per_px + (factor * read_noise_e) ** 2
    return math.log2(converted / bare)


def signal_to_noise(
    frequency_per_um: float,
    chain: Chain,
    *,
    electrons_per_um2: float,
    read_noise_e: float,
    contrast: float,
    cycles: float = CYCLES,
) -> float:
    """How clearly a patch of bars stands out of the noise: sqrt(C^2/2 (n/u)^2 NEQ(u)).

    Parameters
    ----------
    frequency_per_um
        Of the bars, u, in the focal plane of the bare lens, cycles per um.
    chain
        Lens, converter and sensor.
    electrons_per_um2
        Caught there from the animal, q: the same with and without a converter at one shutter speed.
    read_noise_e
        Electrons per pixel, r.
    contrast
        Of the bars on the animal, 0 to 1, C.
    cycles
        Bars in the patch, n, which is square.

    Returns
    -------
    float
        A ratio; ROSE_THRESHOLD is what an eye needs.
    """
    noise = electrons_per_um2 + read_noise_e**2 / chain.pixel_um**2
    neq = (electrons_per_um2 * system_mtf(frequency_per_um, chain)) ** 2 / noise
    return math.sqrt(contrast**2 / 2 * (cycles / frequency_per_um) ** 2 * neq)


def finest_detail_per_um(
    chain: Chain,
    *,
    electrons_per_um2: float,
    read_noise_e: float,
    contrast: float,
    threshold: float = ROSE_THRESHOLD,
) -> float:
    """Finest bars that can be told apart, in cycles per um of the bare lens's focal plane, at most Nyquist.

    0 where not even the coarsest bars that fit a thousand pixels can be.

    Parameters
    ----------
    chain
        Lens, converter and sensor.
    electrons_per_um2
        Caught from the animal in the focal plane of the bare lens.
    read_noise_e
        Electrons per pixel.
    contrast
        Of the bars on the animal, 0 to 1.
    threshold
        Signal over noise from which bars can be told apart.

    Returns
    -------
    float
        Cycles per um.
    """

    def resolves(frequency_per_um: float) -> bool:
        return (
            signal_to_noise(
                frequency_per_um,
                chain,
                electrons_per_um2=electrons_per_um2,
                read_noise_e=read_noise_e,
                contrast=contrast,
            )
            >= threshold
        )

    nyquist = 1 / (2 * chain.pixel_um)
    low, high = 1 / (1000 * chain.pixel_um), nyquist
    if resolves(high):
        return high
    if not resolves(low):
        return 0.0
    for _half in range(40):
        middle = math.sqrt(low * high)
        low, high = (middle, high) if resolves(middle) else (low, middle)
    return low
