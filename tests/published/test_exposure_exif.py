"""Exposure values against Exif's APEX and printed tables.

S: the text was read; C: common practice of the trade; D: derived and computed numerically.
"""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose

from auditor.optics import exposure
from auditor.optics.exposure import settings_ev, snap_f_number


@pytest.mark.parametrize(
    ("f_number", "exposure_time_s", "ev", "tolerance"),
    [
        (5.6, 1 / 125, 12, 0.1),  # marked EV 12; encyclopaedia table, S
        (16, 1 / 125, 15, 0.1),  # marked EV 15; Ray 2000 p. 318, S second-hand
        (5.6, 1 / 125, 11.937, 5e-4),  # from the marked values themselves, D
        (16, 1 / 125, 14.966, 5e-4),  # D
        (1, 1, 0, 1e-12),  # EV 0 is f/1 at 1 s: the definition, C
    ],
)
def test_exposure_values_at_iso_100(
    f_number: float, exposure_time_s: float, ev: float, tolerance: float
) -> None:
    assert_allclose(settings_ev(f_number, exposure_time_s, 100), ev, atol=tolerance)


def test_marked_settings_are_whole_ev_once_snapped() -> None:
    """f/5.6 at 1/128 s is EV 12 exactly, since f/5.6 stands for 4 * sqrt(2) (encyclopaedia table, S)."""
    assert_allclose(settings_ev(snap_f_number(5.6), 1 / 128, 100), 12, atol=1e-12)


@pytest.mark.parametrize(("iso", "sv"), [(100, 5), (200, 6), (400, 7), (3200, 10)])
def test_iso_counts_as_in_apex(iso: float, sv: float) -> None:
    """Sv 5 is ISO 100 (Exif 2.2 annex C, S): Bv = Av + Tv - Sv, so light at ISO 100 is Av + Tv - (Sv - 5)."""
    av, tv = 5, 7  # f/5.6 exact and 1/128 s
    assert_allclose(settings_ev(2 ** (av / 2), 2**-tv, iso), av + tv - (sv - 5), atol=1e-9)


@pytest.mark.parametrize("name", ["f_number", "exposure_time_s", "iso"])
def test_what_cannot_be_an_exposure_is_named(name: str) -> None:
    settings = {"f_number": 5.6, "exposure_time_s": 0.01, "iso": 100.0} | {name: 0.0}
    with pytest.raises(ValueError, match=name):
        settings_ev(**settings)


def test_luminance_at_ev_0() -> None:
    """K = 12.5: 0.125 cd/m2 (ISO 2720, R)."""
    assert exposure.luminance_cd_m2(0) == pytest.approx(0.125, abs=1e-9)


def test_shutter_and_iso_for_a_light_are_the_settings_turned_round() -> None:
    """f/16 at 1/125 s, ISO 100 is EV 15 (14.966 from the marked values; Ray 2000 p. 318, S second-hand)."""
    assert exposure.exposure_time_s(14.966, 16, 100) == pytest.approx(1 / 125, rel=1e-3)
    assert exposure.iso_needed(14.966, 16, 1 / 500) == pytest.approx(400, rel=1e-3)
