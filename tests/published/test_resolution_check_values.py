"""Contrast of lens, converter and sensor against handbook values.

Sources, with their letters: R recalled, D derived and computed independently (four of the system rows were
cross-checked with a galaxy-simulation library when the table was made).
"""

import math

import pytest

from auditor.optics import resolution
from auditor.optics.resolution import Chain

FF24, FF45, SMALL = 5.97, 4.35, 3.9
EXCELLENT, SOFT = 1.5, 6.0


@pytest.mark.parametrize(("share", "contrast"), [(0.25, 0.685038), (0.5, 0.391002), (0.75, 0.144294)])  # R
def test_a_perfect_pupil_leaves_the_textbook_contrast(share: float, contrast: float) -> None:
    cutoff = 1 / (0.55 * 5.6)
    assert resolution.diffraction_mtf(share * cutoff, 5.6) == pytest.approx(contrast, abs=1e-6)


def test_the_cutoff_of_f_5_6_in_green_light() -> None:  # R: 324.68 and 131.16 lp/mm
    assert resolution.diffraction_mtf(0.32468, 5.6) == pytest.approx(0, abs=1e-6)
    assert resolution.diffraction_mtf(0.13116, 5.6) == pytest.approx(0.5, abs=2e-5)


def test_a_pixel_leaves_half_at_0_60335_of_its_frequency() -> None:  # D
    assert resolution.pixel_mtf(0.60335 / FF24, FF24) == pytest.approx(0.5, abs=1e-5)
    assert resolution.pixel_mtf(0.5 / FF24, FF24) == pytest.approx(0.63662, abs=1e-5)


def test_a_gaussian_edge_has_half_contrast_at_0_187391_over_sigma() -> None:  # D: sqrt(2 ln 2) / (2 pi)
    assert resolution.gaussian_mtf(0.187391 / 2.5, 2.5) == pytest.approx(0.5, abs=2e-6)


@pytest.mark.parametrize(  # D, tolerance 0.1 %
    ("pixel", "lens", "bare", "small_converter", "large_converter"),
    [
        (FF24, EXCELLENT, 62.50, 70.40, 76.03),
        (FF24, SOFT, 27.44, 27.92, 28.18),
        (FF45, EXCELLENT, 70.01, 75.53, 79.04),
        (FF45, SOFT, 27.90, 28.16, 28.31),
        (SMALL, EXCELLENT, 72.07, 76.83, 79.76),
        (SMALL, SOFT, 28.00, 28.22, 28.33),
    ],
)
def test_half_contrast_with_and_without_a_converter(
    pixel: float, lens: float, bare: float, small_converter: float, large_converter: float
) -> None:
    for factor, line_pairs in ((1.0, bare), (1.4, small_converter), (2.0, large_converter)):
        chain = Chain(f_number=5.6, lens_sigma_um=lens, pixel_pitch_um=pixel, converter_factor=factor)
        assert 1000 * resolution.mtf50_per_um(chain) == pytest.approx(line_pairs, rel=1e-3)


@pytest.mark.parametrize(  # D
    ("pixel", "lens", "gain_of_small", "gain_of_large"),
    [
        (FF24, EXCELLENT, 1.400, 1.841),
        (FF24, SOFT, 1.019, 1.029),
        (FF45, EXCELLENT, 1.331, 1.405),
        (FF45, SOFT, 1.010, 1.015),
        (SMALL, EXCELLENT, 1.218, 1.273),
        (SMALL, SOFT, 1.008, 1.012),
    ],
)
def test_where_detail_ends_moves_as_far_as_the_table_says(
    pixel: float, lens: float, gain_of_small: float, gain_of_large: float
) -> None:
    def limit(factor: float) -> float:
        return resolution.limit_per_um(
            Chain(f_number=5.6, lens_sigma_um=lens, pixel_pitch_um=pixel, converter_factor=factor)
        )

    assert limit(1.4) / limit(1.0) == pytest.approx(gain_of_small, rel=1e-3)
    assert limit(2.0) / limit(1.0) == pytest.approx(gain_of_large, rel=1e-3)


@pytest.mark.parametrize(  # D: lens blur at which the gain in half contrast has fallen to 5 %
    ("pixel", "factor", "lens"),
    [
        (FF24, 1.4, 3.24),
        (FF24, 2.0, 4.27),
        (FF45, 1.4, 2.20),
        (FF45, 2.0, 2.98),
        (SMALL, 1.4, 1.90),
        (SMALL, 2.0, 2.62),
    ],
)
def test_the_gain_vanishes_where_the_table_says(pixel: float, factor: float, lens: float) -> None:
    gain = 1 / (1 - resolution.expected_gain(5.6, pixel, factor, lens)) - 1
    assert gain == pytest.approx(0.05, abs=5e-4)


@pytest.mark.parametrize(  # D: p sqrt((m^2 - 1) / 12), by variances
    ("pixel", "factor", "own"),
    [
        (FF24, 1.4, 1.69),
        (FF24, 2.0, 2.99),
        (FF45, 1.4, 1.23),
        (FF45, 2.0, 2.18),
        (SMALL, 1.4, 1.10),
        (SMALL, 2.0, 1.95),
    ],
)
def test_a_converters_own_blur_breaks_even_where_the_table_says(
    pixel: float, factor: float, own: float
) -> None:
    def variance_um2(chain: Chain) -> float:
        """From the curve's fall near frequency 0, diffraction (the same in both) left out."""
        frequency = 1e-4
        own_um = chain.converter_sigma_um / chain.converter_factor
        fall = 1 - resolution.pixel_mtf(frequency, chain.pixel_um) * resolution.gaussian_mtf(
            frequency, own_um
        )
        return fall / frequency**2

    bare = Chain(f_number=5.6, lens_sigma_um=0, pixel_pitch_um=pixel)
    with_own = Chain(
        f_number=5.6, lens_sigma_um=0, pixel_pitch_um=pixel, converter_factor=factor, converter_sigma_um=own
    )
    assert variance_um2(with_own) == pytest.approx(variance_um2(bare), rel=0.01)


def test_a_blur_disc_and_the_gaussian_that_stands_for_it() -> None:
    """Sigma c / 4 on each axis; half contrast at 0.7051 / c against 0.7496 / c (D)."""
    assert resolution.disc_mtf(0.7051 / 30, 30) == pytest.approx(0.5, abs=1e-4)
    assert resolution.gaussian_mtf(0.7496 / 30, 30 / 4) == pytest.approx(0.5, abs=1e-4)


@pytest.mark.parametrize("sigma_um", [1.5, 3.0, 6.0])
def test_the_blur_of_a_lens_is_found_again_from_its_half_contrast(sigma_um: float) -> None:
    """62.50 and 27.44 lp/mm are rows of the table above (D)."""
    chain = Chain(f_number=5.6, lens_sigma_um=sigma_um, pixel_pitch_um=FF24)
    half = resolution.mtf50_per_um(chain)
    assert resolution.lens_sigma_um(half, 5.6, FF24) == pytest.approx(sigma_um, rel=1e-6)
    assert resolution.lens_sigma_um(0.0625, 5.6, FF24) == pytest.approx(1.5, rel=5e-3)


def test_sharper_than_optics_allow_is_no_blur() -> None:
    assert resolution.lens_sigma_um(0.12, 5.6, FF24) == 0


def test_the_airy_pattern() -> None:
    """First dark ring 2.4393 lambda N across, width at half maximum 1.0290 lambda N (R)."""
    from scipy.special import j1

    assert resolution.airy_first_zero_um(5.6, 0.55) / (0.55 * 5.6) == pytest.approx(2.4393, abs=1e-4)
    half = resolution.airy_width_um(5.6, 0.55) / (0.55 * 5.6) / 2
    turn = math.pi * half
    assert (2 * j1(turn) / turn) ** 2 == pytest.approx(0.5, abs=1e-5)


def test_half_contrast_of_a_perfect_pupil_lies_at_0_403973_of_its_cutoff() -> None:  # R
    cutoff = 1 / (0.55 * 5.6)
    assert resolution.diffraction_mtf(0.403973 * cutoff, 5.6) == pytest.approx(0.5, abs=1e-5)


def test_rayleigh_and_sparrow() -> None:
    """Two points are told apart at 1.2197 and 0.9472 lambda / D (R)."""
    from scipy.special import j1

    assert resolution.airy_first_zero_um(1.0, 1.0) / 2 == pytest.approx(1.2197, abs=1e-4)

    def intensity(place: float) -> float:
        return float((2 * j1(math.pi * place) / (math.pi * place)) ** 2)

    def dip(apart: float) -> float:
        """Curvature half-way between two points: above 0 where there is a dip."""
        step = 1e-3
        middle, aside = apart / 2, (apart / 2 - step, apart / 2 + step)
        return 2 * (intensity(aside[0]) + intensity(aside[1]) - 2 * intensity(middle))

    assert dip(resolution.SPARROW - 2e-3) < 0 < dip(resolution.SPARROW + 2e-3)
    assert pytest.approx(0.9472, abs=1e-4) == resolution.SPARROW
