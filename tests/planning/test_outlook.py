"""What one kit would give, against the trade's sums and optics worked by hand."""

from dataclasses import replace

import pytest

from auditor.frames.declared import Declared
from auditor.optics.detail_and_noise import read_noise_cost_stops
from auditor.planning.gear import Lens, kits_to_mount
from auditor.planning.outing import Outing
from auditor.planning.outlook import ELECTRONS_PER_UM2, READ_NOISE_E, outlook
from auditor.planning.plan import Reason, plan
from auditor.store.declared_facts import BodyFacts, Said
from tests.planning.kits import used

BRIGHT = Outing(length_m=0.35, distance_m=30, light_ev=14, exposure_time_s=1 / 1000)
BARE, BEHIND_2X = kits_to_mount([used(1), used(2, factor=2.0)])


@pytest.mark.parametrize(("widest", "beyond"), [(5.6, False), (6.3, True)])
def test_f_8_is_within_a_limit_of_f_8_and_f_9_is_not(widest: float, beyond: bool) -> None:
    """f/5.6 behind a 1.4x works as f/8, f/6.3 as f/9 (third-stop marks, C)."""
    declared = Declared([Said(facts=BodyFacts(focus_limit_f_number=8.0), body="F2")])
    lens = Lens(name="other", focal_length_mm=600.0, widest_f_number=widest, considered=True)
    kits = kits_to_mount([used(1), used(2, factor=1.4)], considered_lenses=[lens], declared=declared)
    (behind,) = (kit for kit in kits if kit.lens.name == "other" and kit.converter_factor == 1.4)
    assert outlook(behind, BRIGHT).beyond_focus_limit is beyond


def test_more_light_than_the_base_iso_takes_asks_for_a_shorter_exposure() -> None:
    """N^2 / t = 2^EV at ISO 100 (APEX, Exif 2.3 annex C, R): EV 15 at f/5.6 is 1/1024 s, whatever was set."""
    sunny = outlook(BARE, replace(BRIGHT, light_ev=15, exposure_time_s=1 / 250))
    assert sunny.iso == 100
    assert sunny.exposure_time_s == pytest.approx(1 / 1024, rel=0.03)  # f/5.6 is exactly 5.657


def test_noise_on_the_animal_grows_behind_a_converter_by_read_noise_alone() -> None:
    """Photons from a patch of the animal stay the same; read noise is paid of four pixels, not one (D)."""
    dim = replace(BRIGHT, light_ev=2)
    caught = ELECTRONS_PER_UM2 * 2**dim.light_ev / 1000 / 5.6**2
    bare, behind = outlook(BARE, dim), outlook(BEHIND_2X, dim)
    in_stops = read_noise_cost_stops(caught * 5.97**2, READ_NOISE_E, 2.0)
    assert in_stops > 0.3
    assert (behind.noise_share / bare.noise_share) ** 2 == pytest.approx(2**in_stops, rel=1e-6)


def test_depth_of_field_by_one_angle_is_that_of_the_pupil() -> None:
    """2 b d^2 / D for a blur of angle b and a pupil of width D, far nearer than the hyperfocal distance, far
    beyond the focal length (J. Conrad, Depth of Field in Depth, R): a converter changes neither b nor D."""
    blur_rad = 43.27 / 1500 / 500  # the criterion on the sensor behind the bare lens
    expected_m = 2 * blur_rad * 30**2 / (0.5 / 5.6)
    for kit in (BARE, BEHIND_2X):
        assert outlook(kit, BRIGHT).depth_of_field_m == pytest.approx(expected_m, rel=0.06)


def test_nearly_as_fine_at_the_same_iso_is_no_less_iso() -> None:
    """A body with pixels a little larger, the same lens: nothing but the detail tells them apart."""
    kits = kits_to_mount([used(1), used(2, body_key=("", "G2", "2"), pixel_pitch_um=6.1)])
    first, second = plan(kits, BRIGHT).ranked
    assert first.reason is Reason.FINEST
    assert second.outlook.iso == first.outlook.iso
    assert second.reason is Reason.NEARLY_AS_FINE
