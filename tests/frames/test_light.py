"""Light accounting of one frame."""

from __future__ import annotations

from typing import Any

import pytest
from numpy.testing import assert_allclose

from auditor.frames.flags import frame_flags
from auditor.frames.kit import infer
from auditor.frames.light import Light, account
from auditor.records import Recorded


def light_of(**facts: Any) -> Light:
    recorded = Recorded(**facts)
    return account(recorded, infer(recorded))


EXPOSED = {"exposure_time_s": 1 / 125, "iso": 100.0, "exposure_program": 4}
F4 = "Bright 300mm f/4"


def test_light_value_of_marked_settings() -> None:
    """f/5.6 at 1/125 s, ISO 100 is EV 12 (marked; encyclopaedia table, S; tolerance as given there)."""
    light = light_of(lens_name="500mm f/5.6", focal_length_mm=500.0, f_number=5.6, **EXPOSED)
    assert_allclose(light.light_value_ev or 0, 12, atol=0.1)


def test_exposure_bias_is_part_of_the_light() -> None:
    """A frame that was let be a stop brighter than metered saw a stop more than its settings tell."""
    plain = light_of(f_number=5.6, **EXPOSED)
    brighter = light_of(f_number=5.6, exposure_bias_ev=1.0, **EXPOSED)
    assert_allclose((brighter.light_value_ev or 0) - (plain.light_value_ev or 0), 1.0)


@pytest.mark.parametrize(
    ("facts", "reason"),
    [
        ({"flash_fired": True}, "flash"),
        ({"exposure_program": 1}, "manual_exposure"),
        ({"exposure_mode": 1}, "manual_exposure"),
        ({"iso": None}, "needs_exposure"),
    ],
)
def test_no_light_value_without_a_meter(facts: dict[str, object], reason: str) -> None:
    light = light_of(**({"f_number": 5.6} | EXPOSED | facts))
    assert light.light_value_ev is None
    assert light.missing["light_value_ev"] == reason


def test_exposure_by_hand_with_auto_iso_is_metered() -> None:
    """The same settings as above in any program: EV 12."""
    light = light_of(f_number=5.6, auto_iso=True, **(EXPOSED | {"exposure_program": 1}))
    assert_allclose(light.light_value_ev or 0, 12, atol=0.1)


@pytest.mark.parametrize(
    ("factor", "focal_mm", "f_number", "forced_ev", "chosen_ev"),
    [
        ("1.4x", 420, 5.6, 1, 0),  # wide open: 300 mm f/4 works as 420 mm f/5.6 (common practice)
        ("2x", 600, 8.0, 2, 0),  # works as 600 mm f/8 (common practice)
        ("1.4x", 420, 8.0, 1, 1),  # one stop more was the photographer's choice
    ],
)
def test_forced_and_chosen(
    factor: str, focal_mm: float, f_number: float, forced_ev: float, chosen_ev: float
) -> None:
    light = light_of(lens_name=f"{F4} + {factor}", focal_length_mm=focal_mm, f_number=f_number, **EXPOSED)
    assert_allclose([light.forced_push_ev or 0, light.chosen_ev or 0], [forced_ev, chosen_ev], atol=1e-6)
    assert light.forced_push_low_ev == light.forced_push_ev


def test_the_iso_without_the_converter_stops_at_base() -> None:
    """f/5.6 on an f/4 lens with 1.4x at ISO 125, base 100: ISO 100 without (worked example, D)."""
    light = light_of(
        lens_name=f"{F4} + 1.4x", focal_length_mm=420.0, f_number=5.6, **(EXPOSED | {"iso": 125.0})
    )
    assert light.iso_without_converter == 100.0


def test_a_bare_lens_forces_nothing_even_when_its_widest_is_not_known() -> None:
    light = light_of(lens_name="Old 500mm", focal_length_mm=500.0, f_number=8.0, **EXPOSED)
    assert (light.forced_push_ev, light.chosen_ev) == (0.0, None)
    assert light.missing["chosen_ev"] == "needs_lens_widest"


def test_between_the_ends_of_a_zoom_the_push_is_a_range() -> None:
    light = light_of(
        lens_name="Reach 100-400mm f/4.5-5.6 + 1.4x", focal_length_mm=420.0, f_number=7.1, **EXPOSED
    )
    assert light.forced_push_low_ev is not None
    assert light.forced_push_ev is not None
    assert 0 < light.forced_push_low_ev < light.forced_push_ev <= 1
    assert light.chosen_ev is None


def test_a_contradiction_is_unknown_never_zero() -> None:
    light = light_of(lens_name=f"{F4} + 1.4x", focal_length_mm=420.0, f_number=4.0, **EXPOSED)
    assert light.forced_push_ev is None
    assert light.missing["forced_push_ev"] == "contradiction"


@pytest.mark.parametrize(
    ("iso", "equivalent_mm", "flagged"),
    [
        (12800, 600, True),  # full frame: 12800 > 6400 >= 3200
        (25600, 600, True),  # two stops down from 25600 is the ceiling itself, and that is accepted
        (6400, 600, False),  # not above the ceiling
        (51200, 600, False),  # the bare lens would have been above it too
        (6400, 920, True),  # smaller sensor: 6400 > 3200 >= 1600
    ],
)
def test_iso_pushed(iso: float, equivalent_mm: float, flagged: bool) -> None:
    recorded = Recorded(
        lens_name=f"{F4} + 2x", focal_length_mm=600.0, f_number=8.0, exposure_time_s=0.001, iso=float(iso),
        focal_length_35mm_mm=float(equivalent_mm),
    )  # fmt: skip
    kit = infer(recorded)
    assert ("iso_pushed" in frame_flags(recorded, kit, account(recorded, kit))) is flagged


@pytest.mark.parametrize(("seen", "flagged"), [(None, False), (True, True)])
def test_exposure_by_hand_pushes_no_iso_where_nothing_says_that_it_was_left_to_the_body(
    seen: bool | None, flagged: bool
) -> None:
    recorded = Recorded(
        lens_name=f"{F4} + 2x", focal_length_mm=600.0, f_number=8.0, exposure_time_s=0.001, iso=12800.0,
        focal_length_35mm_mm=600.0, exposure_program=1,
    )  # fmt: skip
    kit = infer(recorded)
    light = account(recorded, kit, auto_iso=seen)
    assert ("iso_pushed" in frame_flags(recorded, kit, light)) is flagged


@pytest.mark.parametrize(("auto_iso", "flagged"), [(True, True), (None, True), (False, False)])
def test_iso_that_was_set_by_hand_was_not_pushed(auto_iso: bool | None, flagged: bool) -> None:
    recorded = Recorded(
        lens_name=f"{F4} + 2x", focal_length_mm=600.0, f_number=8.0, exposure_time_s=0.001, iso=12800.0,
        focal_length_35mm_mm=600.0, auto_iso=auto_iso,
    )  # fmt: skip
    kit = infer(recorded)
    assert ("iso_pushed" in frame_flags(recorded, kit, account(recorded, kit))) is flagged
