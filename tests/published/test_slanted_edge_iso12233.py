"""A slanted edge of known blur (ISO 12233 e-SFR, 2014 copy, S; the truth of a Gaussian edge D).

Truth for a point-sampled Gaussian edge: half contrast at sqrt(2 ln 2) / (2 pi sigma) = 0.187391 / sigma
cycles per px along its normal. Goals reached in a trial: 0.6 % for sigma 0.7 to 3 px at 5 degrees on 128 px,
1.1 % at 0.5 px, standard deviation 0.7, 2.9 and 4.6 % at edge signal over noise of 100, 30 and 12.
"""

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.special import ndtr

from auditor.focus.slanted_edge import edge_response


def edge(
    sigma_px: float, angle_deg: float = 5.0, side_px: int = 128, dark: float = 0.1
) -> NDArray[np.float64]:
    rows, columns = np.indices((side_px, side_px)) - (side_px - 1) / 2
    turn = math.radians(angle_deg)
    distance = (columns - 0.3) * math.cos(turn) - rows * math.sin(turn)
    return dark + (1 - dark) * np.asarray(ndtr(distance / sigma_px))


@pytest.mark.parametrize("sigma_px", [0.7, 1.0, 1.5, 2.0, 3.0])
def test_half_contrast_of_a_gaussian_edge(sigma_px: float) -> None:
    assert edge_response(edge(sigma_px)).mtf50 == pytest.approx(0.187391 / sigma_px, rel=0.006)


def test_half_contrast_of_a_very_sharp_edge() -> None:
    assert edge_response(edge(0.5)).mtf50 == pytest.approx(0.187391 / 0.5, rel=0.011)


def test_a_tenth_of_the_contrast() -> None:
    """sqrt(2 ln 10) / (2 pi sigma) = 0.341543 / sigma (D)."""
    assert edge_response(edge(1.5)).mtf10 == pytest.approx(0.341543 / 1.5, rel=0.01)


@pytest.mark.parametrize("angle_deg", [3.0, 5.0, 8.0, 12.0])
def test_frequencies_are_told_along_the_normal(angle_deg: float) -> None:
    """Along the rows they would be lower by the cosine: 0.99619 at 5 degrees (D), 0.978 at 12."""
    assert math.cos(math.radians(5)) == pytest.approx(0.99619, abs=5e-6)
    response = edge_response(edge(1.2, angle_deg))
    assert response.mtf50 == pytest.approx(0.187391 / 1.2, rel=0.006)


@pytest.mark.parametrize("turned", [0, 1, 2, 3])
def test_any_side_up_and_either_side_bright(turned: int) -> None:
    response = edge_response(np.rot90(edge(1.2), turned))
    assert response.mtf50 == pytest.approx(0.187391 / 1.2, rel=0.006)
    assert response.follows == ("columns" if turned % 2 == 0 else "rows")
    assert response.angle_deg == pytest.approx(5, abs=0.05)


@pytest.mark.parametrize(("signal_to_noise", "spread"), [(100, 0.007), (30, 0.029), (12, 0.046)])
def test_noise_spreads_it_no_more_than_in_the_trial(signal_to_noise: float, spread: float) -> None:
    random = np.random.default_rng(20260418)
    clean = edge(1.0, dark=0.0)
    read = [
        edge_response(clean + random.normal(0, 1 / signal_to_noise, clean.shape)).mtf50 for _ in range(60)
    ]
    shares = np.array([value for value in read if value is not None]) / 0.187391
    assert len(shares) == 60
    assert np.std(shares) <= spread * 1.25, "of 60 draws: a standard deviation is known to a tenth"


@pytest.mark.parametrize(
    ("region", "what"),
    [
        (np.ones((64, 64)), "no edge"),
        (np.ones((8, 64)), "at least"),
        (edge(1.0, angle_deg=0.2), "degrees off"),
        (np.random.default_rng(1).normal(size=(64, 64)), "no edge"),
    ],
)
def test_what_cannot_be_measured_is_named(region: NDArray[np.float64], what: str) -> None:
    with pytest.raises(ValueError, match=what):
        edge_response(region)
