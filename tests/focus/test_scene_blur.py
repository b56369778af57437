"""Frames read together: differences of blur come back from spectra that were made with them."""

from __future__ import annotations

import itertools
import math

import cv2
import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from auditor.focus.ring_spectrum import ROWS, SECTORS, frequencies, packed, ring_spectrum, unpacked
from auditor.focus.scene_blur import STEEPER, Pairs, compared, together

Blurs = st.lists(st.floats(0.3, 3.0), min_size=3, max_size=7)
NOISE = 1e-3


def content(seed: int, slope: float = 2.0) -> NDArray[np.float64]:
    """Power of a subject: it falls with frequency, and is its own in every ring, direction and part."""
    chance = np.random.default_rng(seed)
    return np.asarray(50 * np.exp(chance.normal(0, 0.5, (ROWS, 28))) * frequencies() ** -slope)


def seen(subject: NDArray[np.float64], sigma_px: float, contrast: float = 1.0) -> NDArray[np.float64]:
    """The subject's power behind a Gaussian (its transfer is exp(-2 pi^2 f^2 sigma^2)), and noise."""
    left = np.exp(-4 * math.pi**2 * frequencies() ** 2 * sigma_px**2)
    return np.asarray(subject * contrast * left + NOISE)


def all_pairs(count: int) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    first, second = zip(*itertools.combinations(range(count), 2), strict=True)
    return np.array(first), np.array(second)


@given(blurs=Blurs, seed=st.integers(0, 999), slope=st.floats(1.5, 3.0))
@settings(max_examples=40, deadline=None)
def test_differences_come_back_whatever_the_subject(blurs: list[float], seed: int, slope: float) -> None:
    """D: the ratio of two Gaussians' transfers is a Gaussian of the difference of their squares."""
    subject = content(seed, slope)
    first, second = all_pairs(len(blurs))
    pairs = compared(np.array([seen(subject, blur) for blur in blurs]), first, second)
    truth = np.square(blurs)[first] - np.square(blurs)[second]
    assert pairs.joined.all()
    # Discs are read steeper than Gaussians are, and the correction is for all: so Gaussians come out low.
    np.testing.assert_allclose(pairs.difference * STEEPER, truth, rtol=0.02, atol=0.02)


@given(blurs=Blurs, seed=st.integers(0, 999))
@settings(max_examples=20, deadline=None)
def test_contrast_that_differs_is_no_blur(blurs: list[float], seed: int) -> None:
    subject = content(seed)
    first, second = all_pairs(len(blurs))
    plain = compared(np.array([seen(subject, blur) for blur in blurs]), first, second)
    brighter = np.array([seen(subject, blur, 1 + 0.05 * place) for place, blur in enumerate(blurs)])
    np.testing.assert_allclose(
        compared(brighter, first, second).difference, plain.difference, rtol=0.03, atol=0.02
    )


def test_the_scene_corrects_what_all_its_readings_have_in_common() -> None:
    """All read 1.4 times too soft: the differences of squares tell so, which no reading does alone.

    The readings say of themselves what those of simulated bursts say in the median, .3 in logarithms. Those
    that are surer of themselves, .16, give way less, but all of them do.
    """
    blurs = np.array([0.5, 0.8, 1.2, 2.0, 3.0])
    first, second = all_pairs(5)
    pairs = compared(np.array([seen(content(3), blur) for blur in blurs]), first, second)
    largest = []
    for spread in (0.3, 0.16):
        found = together(pairs, 1.4 * blurs, np.full(5, spread))
        told = np.array([one.sigma_px if one else math.nan for one in found])
        largest.append(np.abs(np.log(told / blurs)).max())
        assert [one.rank for one in found if one] == [0, 1, 2, 3, 4]
    assert largest[0] < 0.75 * math.log(1.4)
    assert largest[0] < largest[1] < 0.85 * math.log(1.4)


def test_one_reading_that_is_far_off_is_put_right_by_the_others() -> None:
    blurs = np.array([0.6, 0.7, 1.5, 2.5])
    first, second = all_pairs(4)
    pairs = compared(np.array([seen(content(5), blur) for blur in blurs]), first, second)
    readings = blurs * np.array([1.0, 3.0, 1.0, 1.0])
    found = together(pairs, readings, np.full(4, 0.16))
    assert found[1] is not None
    assert found[1].sigma_px == pytest.approx(0.7, rel=0.25)
    assert found[1].low_px < 0.7 < found[1].high_px


def test_another_subject_is_not_joined() -> None:
    """Rings that differ without a line through them: nothing is said of how the frames differ in blur."""
    spectra = np.array([seen(content(1), 1.0), seen(content(2), 1.0)])
    pairs = compared(spectra, np.array([0]), np.array([1]))
    assert not pairs.joined[0]
    assert together(pairs, np.array([1.0, 1.0]), np.array([0.16, 0.16])) == [None, None]


def test_parts_that_disagree_are_not_joined() -> None:
    """The animal moved and the background did not: no one number says how much more blurred the frame is."""
    one, other = seen(content(1), 0.6), seen(content(1), 0.6)
    mixed = seen(content(1), 2.0)
    other[SECTORS : SECTORS + 3] = mixed[SECTORS : SECTORS + 3]
    pairs = compared(np.array([one, other]), np.array([0]), np.array([1]))
    assert not pairs.joined[0]


def test_frames_without_a_reading_get_one_from_their_scene() -> None:
    blurs = np.array([0.6, 1.5, 2.5])
    first, second = all_pairs(3)
    pairs = compared(np.array([seen(content(8), blur) for blur in blurs]), first, second)
    found = together(pairs, np.array([0.6, 1.5, math.nan]), np.full(3, 0.16))
    assert found[2] is not None
    assert found[2].sigma_px == pytest.approx(2.5, rel=0.25)
    assert together(pairs, np.full(3, math.nan), np.full(3, 0.16)) == [None, None, None]


def test_no_pair_at_all() -> None:
    none = np.zeros(0, np.intp)
    pairs = compared(np.array([seen(content(1), 1.0)]), none, none)
    assert together(pairs, np.array([1.0]), np.array([0.16])) == [None]


def test_rings_of_a_picture_blurred_by_a_gaussian() -> None:
    """The whole way from pixels: linear light, window, rings. Known blur on known noise (D)."""
    texture = np.random.default_rng(4).normal(0, 1, (600, 600)).astype(np.float32)
    lumas = []
    for sigma_px in (1.0, 1.5, 2.2):
        light = cv2.GaussianBlur(texture, (0, 0), sigma_px)
        light = 0.4 + 0.25 * light * sigma_px  # noise loses contrast as 1 / sigma: kept alike for 8 bits
        lumas.append((255 * np.clip(light, 0, 1) ** (1 / 2.2)).round().astype(np.uint8))
    spectra = np.array([ring_spectrum(luma, (0, 600, 0, 600)) for luma in lumas], float)
    assert spectra.shape == (3, ROWS, 28)
    spectra *= (np.array([1.0, 1.0, 1.0]) / np.array([1.0, 1.5, 2.2]) ** 2)[:, None, None]
    pairs = compared(spectra, np.array([1, 2]), np.array([0, 1]))
    np.testing.assert_allclose(pairs.difference * STEEPER, [1.25, 2.59], rtol=0.06)


def test_motion_counts_as_the_mean_of_both_axes() -> None:
    """A line of light of variance v along one axis: the mean over both is v / 2 (D)."""
    texture = cv2.GaussianBlur(
        np.random.default_rng(5).normal(0, 1, (600, 600)).astype(np.float32), (0, 0), 0.7
    )
    spectra = []
    for length in (1, 9):
        light = 0.4 + 0.1 * cv2.blur(texture, (length, 1))
        luma = (255 * np.clip(light, 0, 1) ** (1 / 2.2)).round().astype(np.uint8)
        spectra.append(ring_spectrum(luma, (0, 600, 0, 600)))
    pairs = compared(np.array(spectra, float), np.array([1]), np.array([0]))
    variance = (9**2 - 1) / 12  # of nine equal weights a px apart
    assert pairs.difference[0] * STEEPER == pytest.approx(variance / 2, rel=0.15)


def test_small_pictures_have_no_rings_and_stored_ones_come_back() -> None:
    luma = np.random.default_rng(6).integers(0, 256, (700, 300)).astype(np.uint8)
    assert ring_spectrum(luma[:200, :200], (0, 200, 0, 200)) is None
    rings = ring_spectrum(luma, (100, 500, 0, 300))
    assert rings is not None
    stored = packed(rings)
    assert stored is not None
    assert len(stored) < 400
    before = np.log2(rings).astype("<f2").tobytes()  # as they were stored before: 504 bytes
    for one in (stored, before, stored + b"\0"):
        back = unpacked(one)
        assert back is not None
        np.testing.assert_allclose(back, rings, rtol=0.01)
    for changed in (stored[:-1], stored[:100], stored[:50] + b"\xff" + stored[51:]):
        assert unpacked(changed) is None
    assert packed(None) is None
    assert unpacked(None) is None
    assert unpacked(b"short") is None


def two(one: NDArray[np.float64], other: NDArray[np.float64]) -> Pairs:
    """The first frame compared with the second."""
    return compared(np.array([one, other]), np.array([0]), np.array([1]))


def test_the_slope_is_put_right_by_no_more_than_a_few_percent() -> None:
    """Whatever kinds of blur are steeper than Gaussians, Gaussians are what readings are told in."""
    pairs = two(seen(content(3), 2.0), seen(content(3), 0.7))
    assert pairs.difference[0] == pytest.approx(2.0**2 - 0.7**2, rel=0.05)


@pytest.mark.parametrize(("contrast", "joined"), [(1.2, True), (1.6, False)])
def test_frames_whose_contrast_is_far_apart_are_not_joined(contrast: float, joined: bool) -> None:
    """The light changed, or the subject did; the amplitude differs by 1.1 times, or by 1.26."""
    assert two(seen(content(3), 1.0, contrast), seen(content(3), 1.0)).joined[0] == joined


def test_what_lies_beyond_the_line_does_not_bend_it() -> None:
    """Aliasing and coding in one of two frames, finer than about 7 px a period."""
    other = seen(content(3), 0.55)
    other[:, frequencies() > 0.155] *= 1.8
    pairs = two(other, seen(content(3), 0.5))
    assert pairs.joined[0]
    assert pairs.difference[0] == pytest.approx(0.55**2 - 0.5**2, abs=0.01)


def test_rings_behind_one_that_is_lost_in_noise_do_not_count() -> None:
    """A disc's transfer falls to nothing and comes back with the other sign: no line goes through both."""
    other = seen(content(3), 1.5)
    other[:, 4:6] = NOISE
    other[:, 6:] *= 2
    pairs = two(other, seen(content(3), 1.0))
    assert pairs.joined[0]
    assert pairs.difference[0] * STEEPER == pytest.approx(1.5**2 - 1.0**2, rel=0.02)


def test_noise_that_differs_is_no_blur() -> None:
    """A third more of it in one of two frames that are equally blurred: told within what is uncertain."""
    pairs = two(seen(content(3), 2.0) + 100, seen(content(3), 2.0) + 130)
    assert pairs.joined[0]
    assert abs(pairs.difference[0]) < pairs.spread[0]


@pytest.mark.parametrize(("parts", "joined"), [(2, True), (3, False)])
def test_two_of_five_parts_may_disagree(parts: int, joined: bool) -> None:
    """A wing that moves, and what lies behind the animal's edge."""
    other = seen(content(3), 0.6)
    other[SECTORS : SECTORS + parts] = seen(content(3), 2.0)[SECTORS : SECTORS + parts]
    assert two(other, seen(content(3), 0.6)).joined[0] == joined


def linked(difference: float, spread: float) -> Pairs:
    """Two frames, the second so much more blurred."""
    return Pairs(
        first=np.array([1]),
        second=np.array([0]),
        difference=np.array([difference]),
        spread=np.array([spread]),
        joined=np.array([True]),
        misfit=np.zeros(1),
        offset=np.zeros(1),
    )


@pytest.mark.parametrize(
    ("spread", "own", "shared"), [(0.05, 0.2, 0.12), (0.3, 0.3, 0.27), (0.5, 0.5, 0.45), (0.7, 0.7, 0.6)]
)
def test_one_reading_leaves_its_scene_as_uncertain_as_itself_and_what_a_scene_shares(
    spread: float, own: float, shared: float
) -> None:
    """D: own error and that of the scene add as squares; 90 % of a normal lie within 1.645 spreads.

    However sure a reading is of itself, neither is believed to be less than .2 and .12.
    """
    found, _other = together(linked(0.0, 0.001), np.array([2.0, math.nan]), np.full(2, spread))
    assert found is not None
    expected = 1.645 * math.hypot(own, shared)
    assert math.log(found.high_px / found.sigma_px) == pytest.approx(expected, rel=0.12)
    assert math.log(found.sigma_px / found.low_px) == pytest.approx(expected, rel=0.12)


@pytest.mark.parametrize("spread", [1.0, 2.0])
def test_a_difference_that_is_hardly_known_leaves_a_wide_interval(spread: float) -> None:
    """D: the logarithm of a blur spreads by half of what its square does, over that square."""
    _first, found = together(linked(3.0, spread), np.array([1.0, math.nan]), np.full(2, 0.16))
    assert found is not None
    alone = 1.645 * spread / (2 * found.sigma_px**2)
    assert math.log(found.high_px / found.sigma_px) > alone
    assert math.log(found.sigma_px / found.low_px) > alone


def test_a_frame_whose_difference_is_hardly_known_says_less_of_the_others() -> None:
    near, far = (
        together(linked(0.0, spread), np.array([1.0, 1.6]), np.full(2, 0.16))[0] for spread in (0.05, 1.0)
    )
    assert near is not None
    assert far is not None
    assert near.sigma_px == pytest.approx(math.sqrt(1.0 * 1.6), rel=0.03), "both readings count alike"
    assert far.sigma_px < 0.92 * near.sigma_px
