"""Detail against noise (D: derived and computed independently; Wagner 1979 and Barrett 1996 for NEQ)."""

import numpy as np
import pytest

from auditor.optics import detail_and_noise as weighed
from auditor.optics.resolution import Chain, pixel_mtf, system_mtf

FF24 = Chain(f_number=5.6, lens_sigma_um=1.5, pixel_pitch_um=5.97)
CONVERTED = Chain(f_number=5.6, lens_sigma_um=1.5, pixel_pitch_um=5.97, converter_factor=2.0)


@pytest.mark.parametrize(
    ("electrons", "factor", "stops"), [(20, 1.4, 0.21), (20, 2, 0.58), (100, 1.4, 0.05), (100, 2, 0.16)]
)
def test_read_noise_is_all_that_a_converter_adds_on_the_animal(
    electrons: float, factor: float, stops: float
) -> None:
    assert weighed.read_noise_cost_stops(electrons, 2, factor) == pytest.approx(stops, abs=6e-3)


def test_without_read_noise_only_the_pixel_tells_the_kits_apart() -> None:
    """The animal sends the same photons, so only the contrast that the pixels leave differs."""
    at = {"electrons_per_um2": 5.0, "read_noise_e": 0.0, "contrast": 0.3}
    ratio = weighed.signal_to_noise(0.05, CONVERTED, **at) / weighed.signal_to_noise(0.05, FF24, **at)
    assert ratio == pytest.approx(pixel_mtf(0.05, 5.97 / 2) / pixel_mtf(0.05, 5.97))


def test_clearness_grows_as_the_root_of_the_light() -> None:
    dim, bright = (
        weighed.signal_to_noise(0.05, FF24, electrons_per_um2=light, read_noise_e=0.0, contrast=0.3)
        for light in (1.0, 4.0)
    )
    assert bright / dim == pytest.approx(2)


def test_bright_light_ends_at_the_pixels_and_no_light_shows_nothing() -> None:
    bright = weighed.finest_detail_per_um(FF24, electrons_per_um2=1e6, read_noise_e=2, contrast=0.5)
    assert bright == pytest.approx(1 / (2 * 5.97))
    assert weighed.finest_detail_per_um(FF24, electrons_per_um2=1e-9, read_noise_e=2, contrast=0.5) == 0


def test_in_between_it_ends_where_the_threshold_is_met() -> None:
    at = {"electrons_per_um2": 0.5, "read_noise_e": 3.0, "contrast": 0.2}
    finest = weighed.finest_detail_per_um(FF24, **at, threshold=5)
    assert 0 < finest < 1 / (2 * 5.97)
    assert weighed.signal_to_noise(finest, FF24, **at) == pytest.approx(5, rel=1e-3)
    assert weighed.finest_detail_per_um(FF24, **at, threshold=10) < 0.95 * finest


@pytest.mark.parametrize("chain", [FF24, CONVERTED], ids=["bare", "2x"])
def test_bars_in_drawn_noise_stand_out_as_far_as_is_told(chain: Chain) -> None:
    """The ideal observer of a known pattern is a matched filter, and its signal over noise is the distance of
    its mean answers in their standard deviation (Barrett and Myers, Foundations of Image Science, R). Here it
    looks at patches whose photons (Poisson) and read noise (normal, a pixel each) are drawn."""
    cycles, px_a_cycle, electrons_per_px, read_noise_e, contrast = 5, 16, 10.0, 4.0, 0.05
    frequency = 1 / (px_a_cycle * chain.pixel_um)
    side = cycles * px_a_cycle
    bars = np.tile(np.cos(2 * np.pi * (np.arange(side) + 0.5) / px_a_cycle), (side, 1))
    random = np.random.default_rng(20260418)
    answers = []
    for left in (0.0, contrast * system_mtf(frequency, chain)):
        photons = random.poisson(electrons_per_px * (1 + left * bars), (400, side, side))
        drawn = photons + random.normal(0, read_noise_e, photons.shape)
        answers.append((drawn * bars).sum(axis=(1, 2)))
    flat, with_bars = answers
    drawn_ratio = (with_bars.mean() - flat.mean()) / np.sqrt((with_bars.var() + flat.var()) / 2)
    told = weighed.signal_to_noise(
        frequency,
        chain,
        electrons_per_um2=electrons_per_px / chain.pixel_um**2,
        read_noise_e=read_noise_e,
        contrast=contrast,
        cycles=cycles,
    )
    assert drawn_ratio == pytest.approx(told, rel=0.1)
