"""Ranking kits for an outing."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from auditor.frames.declared import Declared
from auditor.planning.gear import PlannedKit, kits_to_mount, parse_lens
from auditor.planning.outing import Outing, animal_named, light_named
from auditor.planning.outlook import Outlook, outlook
from auditor.planning.plan import Reason, kit_map, plan
from auditor.planning.record import OwnRate, OwnRecord, usual_of
from auditor.records import KnownKit
from auditor.report.text.plan import focus_not_said, iso, plan_text, reason, shutter, view_table
from auditor.store.declared_facts import BodyFacts, Said
from auditor.store.kit_hits import KitHits, Met
from tests.planning.kits import used

BRIGHT = Outing(length_m=0.35, distance_m=30, light_ev=14, exposure_time_s=1 / 1000)


def rate(share: float) -> OwnRate:
    return OwnRate(
        rate=share,
        low=share - 0.1,
        high=share + 0.1,
        expected=share,
        expected_low=share - 0.25,
        expected_high=min(share + 0.15, 1.0),
        encounters=9,
        frames=70,
        trips=3,
        like_light=True,
    )


def mounted(*factors: float) -> list[PlannedKit]:
    return kits_to_mount([used(number, factor=factor) for number, factor in enumerate(factors, 1)])


def looks(outing: Outing, *factors: float) -> list[Outlook]:
    return [outlook(kit, outing) for kit in mounted(*factors)]


def test_a_converter_costs_stops_of_iso_and_halves_the_view() -> None:
    """One stop for a 1.4x, two for a 2x at an unchanged shutter speed; the view shrinks by the factor (C)."""
    bare, small, large = looks(replace(BRIGHT, light_ev=10), 1.0, 1.4, 2.0)
    assert small.iso / bare.iso == pytest.approx(2)
    assert large.iso / bare.iso == pytest.approx(4)
    assert bare.view_width_m / large.view_width_m == pytest.approx(2, rel=0.02)
    assert large.animal_px / bare.animal_px == pytest.approx(2, rel=0.02)


def test_the_animal_in_pixels_is_that_of_the_geometry() -> None:
    """p (d - f) / f at 30 m and 500 mm: 0.35222 mm a pixel (D)."""
    (bare,) = looks(BRIGHT, 1.0)
    assert bare.animal_px == pytest.approx(350 / 0.35223, rel=1e-4)


def test_in_good_light_the_converter_shows_more_and_in_bad_light_it_does_not() -> None:
    sunny = looks(BRIGHT, 1.0, 2.0)
    dark = looks(replace(BRIGHT, light_ev=4), 1.0, 2.0)
    gains = []
    for bare, far in (sunny, dark):
        assert bare.finest_detail_mm is not None
        assert far.finest_detail_mm is not None
        gains.append(bare.finest_detail_mm / far.finest_detail_mm)
    assert gains[0] > 1.15
    assert gains[1] < 1.05


def test_hits_of_the_record_turn_the_order() -> None:
    kits = mounted(1.0, 2.0)
    assert plan(kits, BRIGHT).ranked[0].outlook.kit.converter_factor == 2.0
    with_record = plan(kits, BRIGHT, lambda _light_ev: {1: rate(0.8), 2: rate(0.3)}).ranked
    assert [row.outlook.kit.converter_factor for row in with_record] == [1.0, 2.0]
    assert with_record[1].reason is Reason.FEWER_SHARP
    assert with_record[0].sharp_of_100 == pytest.approx(80)


def test_an_animal_that_does_not_fit_puts_the_kit_last() -> None:
    near = replace(BRIGHT, length_m=1.3, distance_m=22)
    last = plan(mounted(1.0, 2.0), near).ranked[-1]
    assert last.outlook.kit.converter_factor == 2.0
    assert last.reason is Reason.CUT_OFF


def test_the_finest_of_those_that_fit_is_not_called_the_finest() -> None:
    """A 2x that cuts the animal off shows finer detail all the same, and the table beside says so."""
    near = replace(BRIGHT, length_m=0.9, height_m=0.7, distance_m=30.0)
    first, second, last = plan(mounted(1.0, 1.4, 2.0), near).ranked
    assert (first.outlook.kit.converter_factor, last.reason) == (1.4, Reason.CUT_OFF)
    assert (last.outlook.finest_detail_mm or 1) < (first.outlook.finest_detail_mm or 0)
    assert "1. F2 500 mm x 1.4: shows the finest detail of the kits that can be used here;" in reason(first)
    assert second.reason is Reason.COARSER


@pytest.mark.parametrize("factors", [(1.0,), (1.0, 2.0)])
def test_a_kit_that_nothing_can_take_the_place_of_is_not_ranked_above_others(factors: tuple[float]) -> None:
    near = replace(BRIGHT, length_m=0.9, height_m=0.7, distance_m=24.0)
    first, *others = plan(mounted(*factors), near).ranked
    assert first.reason is Reason.ALONE
    assert all(row.reason is Reason.CUT_OFF for row in others)
    assert ": no other kit can be ranked here;" in reason(first)


def test_a_tall_animal_must_fit_by_its_height_too() -> None:
    """A frame of 3 : 2: 1.5 m long fits a frame 2.1 m wide; 1.35 m high only where it is turned upright, and
    then its length does not (D)."""
    wide = replace(BRIGHT, length_m=1.5, distance_m=30)
    assert looks(wide, 1.0)[0].fits
    (tall,) = looks(replace(wide, height_m=1.35), 1.0)
    assert not tall.fits
    assert tall.frame_share == pytest.approx(1.35 / tall.view_height_m)
    (standing,) = looks(replace(wide, length_m=0.5, height_m=1.5), 1.0)
    assert standing.fits, "the camera is turned"
    assert standing.frame_share == pytest.approx(1.5 / standing.view_width_m)
    assert standing.animal_height_px == pytest.approx(3 * standing.animal_px)


def test_hardly_any_light_is_told_without_powers_of_ten() -> None:
    text = plan_text(plan(mounted(1.0, 2.0), Outing(length_m=0.1, distance_m=30, light_ev=-6)), 80)
    assert "e+0" not in text
    assert ">327680" in text


@pytest.mark.parametrize(
    "outing",
    [
        Outing(length_m=0.2, distance_m=20, light_ev=-5),
        Outing(length_m=0.2, distance_m=20, light_ev=19),
        Outing(length_m=20.0, distance_m=9000, light_ev=12),
        Outing(length_m=0.01, distance_m=2.5, light_ev=12),
    ],
)
def test_an_outing_at_the_end_of_what_can_be_is_planned(outing: Outing) -> None:
    """What lies beyond the end is asked of neither the order nor the map."""
    kits = mounted(1.0, 2.0)
    assert len(plan(kits, outing).ranked) == 2
    field = kit_map(kits, outing)
    assert len(field.best) == len(field.lights_ev)


def test_where_none_fits_the_widest_view_comes_first() -> None:
    nearer = replace(BRIGHT, length_m=3.0, distance_m=10)
    assert [row.outlook.kit.converter_factor for row in plan(mounted(1.0, 1.4, 2.0), nearer).ranked] == [
        1.0,
        1.4,
        2.0,
    ]


def test_a_body_that_does_not_focus_there_puts_the_kit_last() -> None:
    kits = kits_to_mount(
        [used(1), used(2, factor=2.0)],
        declared=Declared([Said(facts=BodyFacts(focus_limit_f_number=8.0), body="F2")]),
    )
    last = plan(kits, BRIGHT).ranked[-1]
    assert last.outlook.beyond_focus_limit
    assert last.reason is Reason.NO_FOCUS


def test_a_kit_that_may_be_too_dark_to_focus_is_named_until_the_limit_of_its_body_is_said() -> None:
    """500 mm f/5.6 behind a 2x is f/11; past f/8 many bodies focus less surely (common practice)."""
    text = focus_not_said(plan(mounted(1.0, 1.4, 2.0), BRIGHT)) or ""
    assert "f/8 many bodies focus less surely" in text
    assert "x 2 at f/11. Say up to which f-number" in text
    assert "1.4" not in text
    kits = kits_to_mount(
        [used(1), used(2, factor=2.0)],
        declared=Declared([Said(facts=BodyFacts(focus_limit_f_number=11.0), body="F2")]),
    )
    assert focus_not_said(plan(kits, BRIGHT)) is None
    assert focus_not_said(plan(mounted(1.0, 1.4), BRIGHT)) is None


def test_more_light_or_less_is_said_where_it_turns_the_order() -> None:
    kits = mounted(1.0, 2.0)
    dim = replace(BRIGHT, light_ev=10)
    answer = plan(kits, dim, lambda _light_ev: {1: rate(0.7), 2: rate(0.6)})
    assert answer.ranked[0].outlook.kit.converter_factor == 1.0
    brighter = [change for change in answer.changes if change.light_ev > dim.light_ev]
    assert [change.best.converter_factor for change in brighter] == [2.0]


def test_every_owned_converter_goes_behind_every_lens() -> None:
    kits = kits_to_mount(
        [
            used(1),
            used(2, factor=1.4),
            used(3, lens_name="300mm f/4", lens_focal_length_mm=300.0, lens_widest_f_number=4.0),
        ],
        considered_lenses=[parse_lens("600 mm f/4")],
        considered_factors=[2.0],
    )
    assert len(kits) == 3 * 3
    assert {kit.kit_id for kit in kits if kit.kit_id} == {1, 2, 3}
    assert [kit.name for kit in kits if kit.lens.considered] == [
        "F2 600 mm",
        "F2 600 mm x 1.4",
        "F2 600 mm x 2",
    ]


@pytest.mark.parametrize("text", ["600", "600 mm", "f/4 600 mm", "0 mm f/4", "600 mm f/0.1", ""])
def test_a_lens_in_another_form_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="a lens"):
        parse_lens(text)


@pytest.mark.parametrize(
    ("facts", "name"),
    [
        ({"distance_m": 0.0}, "distance_m"),
        ({"length_m": -1.0}, "length_m"),
        ({"light_ev": float("nan")}, "light_ev"),
        ({"exposure_time_s": 0.0}, "exposure_time_s"),
        ({"speed_m_s": -3.0}, "speed_m_s"),
    ],
)
def test_an_outing_that_cannot_be_is_named(facts: dict[str, float], name: str) -> None:
    with pytest.raises(ValueError, match=name):
        replace(BRIGHT, **facts)


def test_nearer_than_the_lens_focuses() -> None:
    with pytest.raises(ValueError, match="distance_m must be over"):
        plan(mounted(1.0), replace(BRIGHT, distance_m=1.5))


def test_words_for_animal_and_light_and_the_nearest_of_those_not_known() -> None:
    assert animal_named("Heron").length_m == pytest.approx(0.94)
    assert light_named("overcast") == 12
    assert light_named("9.5") == 9.5
    with pytest.raises(ValueError, match="Did you mean kingfisher"):
        animal_named("kingfischer")
    with pytest.raises(ValueError, match="Did you mean overcast"):
        light_named("overcst")


def met(kit_id: int, trip_id: int, hits: int, light_ev: float = 12.0, frames: int = 10) -> KitHits:
    """One encounter of a kit; its number does not matter."""
    return KitHits(
        kit_id=kit_id,
        encounter_id=0,
        trip_id=trip_id,
        hits=hits,
        frames=frames,
        light_ev=light_ev,
        base=0.0,
        told=frames,
    )


def test_own_rates_come_from_like_light_where_that_is_enough() -> None:
    hits = [met(1, 1, 9)] * 4 + [met(1, 1, 1, light_ev=5.0)] * 4 + [met(2, 1, 5)] * 2
    record = OwnRecord(hits)
    rates = record.rates(12.0)
    assert rates[1].rate == pytest.approx(0.9)
    assert rates[1].like_light
    assert rates[1].encounters == 4
    assert rates[1].low < rates[1].expected < rates[1].rate, "drawn towards the rate of all"
    assert 2 not in rates, "two encounters are no record"
    assert not record.rates(9.0)[1].like_light
    assert OwnRecord([]).rates(12.0) == {}


@pytest.mark.parametrize(("light_ev", "like"), [(13.5, True), (13.6, False), (10.5, True), (10.4, False)])
def test_light_within_a_stop_and_a_half_is_like_light(light_ev: float, like: bool) -> None:
    """As docs/plan.md says it: frames in light within 1.5 EV."""
    rates = OwnRecord([met(1, 1, 9)] * 4 + [met(1, 1, 1, light_ev=2.0)] * 4).rates(light_ev)
    assert rates[1].like_light is like
    assert rates[1].encounters == (4 if like else 8)


def test_what_to_expect_of_one_outing_follows_how_much_trips_differed() -> None:
    """Trips alike in hits tell a narrower range than trips that differ, at the same rate over all."""
    alike = [met(1, trip, 6) for trip in range(10) for _encounter in range(3)]
    apart = [met(1, trip, 2 if trip % 2 else 10) for trip in range(10) for _encounter in range(3)]
    narrow, wide = (OwnRecord(hits).rates(12.0)[1] for hits in (alike, apart))
    assert narrow.expected == pytest.approx(wide.expected)
    assert wide.expected_high - wide.expected_low > 1.5 * (narrow.expected_high - narrow.expected_low)
    assert narrow.expected_low < narrow.low, "one outing spreads more than the rate is unsure"


def test_nine_of_ten_trips_left_out_lie_in_the_range_that_was_told() -> None:
    """Simulated years whose trips differ by a beta distribution (D): the goal is 85 to 95 %."""
    chance = np.random.default_rng(20260418)
    held = []
    for _year in range(60):
        rates = chance.beta(3.0, 2.0, 6)
        hits = [
            met(1, trip, int(chance.binomial(10, rates[trip])))
            for trip in range(6)
            for _encounter in range(5)
        ]
        for left_out in range(6):
            told = OwnRecord([row for row in hits if row.trip_id != left_out]).rates(12.0)[1]
            then = sum(row.hits for row in hits if row.trip_id == left_out) / 50
            held.append(told.expected_low <= then <= told.expected_high)
    assert 0.85 <= np.mean(held) <= 0.95


@pytest.mark.parametrize("trips", [1, 2, 5])
def test_the_range_of_the_next_trip_holds_it_however_few_there_were(trips: int) -> None:
    """A new draw beside the mean of n varies by 1 + 1/n of the variance (handbooks, of prediction intervals,
    R): after one trip the range must be much wider. Trips differ as much as is supposed of them at first."""
    chance = np.random.default_rng(20260418)
    held = []
    for _record in range(300):
        rates = chance.beta(1.8, 1.2, trips + 1)  # variance: a quarter of mean (1 - mean)
        shot = [[int(hits) for hits in chance.binomial(10, rate, 5)] for rate in rates]
        then = sum(shot.pop()) / 50
        told = OwnRecord([met(1, trip, hits) for trip, row in enumerate(shot) for hits in row]).rates(12.0)[1]
        held.append(told.expected_low <= then <= told.expected_high)
    assert 0.84 <= np.mean(held) <= 0.95


def test_no_converter_goes_on_a_phone_or_a_short_lens() -> None:
    """Converters are made for long lenses (common practice)."""
    kits = kits_to_mount(
        [
            used(1),
            used(2, factor=2.0),
            used(3, lens_name="back camera 5.4mm f/1.8", lens_focal_length_mm=5.4, lens_widest_f_number=1.8),
        ],
        considered_factors=[1.4],
    )
    assert [kit.name for kit in kits] == ["F2 500 mm", "F2 500 mm x 1.4", "F2 500 mm x 2", "F2 5.4 mm"]


def test_declared_facts_of_a_body_count() -> None:
    """Base ISO, ISO ceiling and focus limit, as `auditor declare body` keeps them."""
    facts = BodyFacts(base_iso=64.0, iso_ceiling=1600.0, focus_limit_f_number=8.0)
    (bare,) = kits_to_mount([used(1)], declared=Declared([Said(facts=facts, body="f2")]))
    assert (bare.body.base_iso, bare.body.iso_ceiling, bare.body.focus_limit_f_number) == (64, 1600, 8)
    (other,) = kits_to_mount([used(1)], declared=Declared([Said(facts=facts, body="S2")]))
    assert other.body.base_iso == 100


def test_a_crop_to_the_converters_framing_leaves_its_share_of_pixels() -> None:
    """6000 px wide behind 500 mm, cropped to what 1000 mm shows: half of the width, 3000 px (D)."""
    bare, large = looks(BRIGHT, 1.0, 2.0)
    assert bare.cropped_px == pytest.approx(3000, rel=0.01)
    assert large.cropped_px == pytest.approx(large.width_px)
    assert bare.view_width_m / bare.view_height_m == pytest.approx(1.5, rel=1e-3)
    table = view_table(plan(mounted(1.0, 2.0), BRIGHT))
    cropped = {row[1]: row[5] for row in table[1:]}
    assert cropped == {"F2 500 mm": f"{bare.cropped_px:.0f} px", "F2 500 mm x 2": ""}


def test_a_zoom_counts_at_its_longest_use_and_that_is_said() -> None:
    zoom: dict[str, Any] = {"lens_name": "100-400mm f/5-6.3", "lens_widest_f_number": 6.3}
    kits = kits_to_mount(
        [
            replace(used(1), **zoom, lens_focal_length_mm=350.0),
            replace(used(2, factor=1.4), **zoom, lens_focal_length_mm=400.0),
        ]
    )
    assert {kit.lens.focal_length_mm for kit in kits} == {400.0}
    assert [kit.name for kit in kits] == ["F2 100-400 mm", "F2 100-400 mm x 1.4"]
    assert "A zoom counts at the longest" in " ".join(plan_text(plan(kits, BRIGHT), 80).split())
    assert "A zoom counts" not in plan_text(plan(mounted(1.0), BRIGHT), 80)


def test_a_kit_is_called_as_it_is_elsewhere() -> None:
    """Another body of the same model is in the logbook, though no frame of it can be planned with."""
    kit = KnownKit(
        kit_id=1, kit_name="", body_make=None, body_model="F2", body_serial="1",
        lens_name="500mm f/5.6", converter_factor=1.0,
    )  # fmt: skip
    kits = kits_to_mount([used(1)], known_kits=[kit, replace(kit, kit_id=9, body_serial="2")])
    assert [kit.name for kit in kits] == ["F2 #1 500 mm"]


def test_no_kit_is_put_down_for_hits_that_were_only_assumed() -> None:
    second = plan(mounted(1.0, 1.4), BRIGHT, lambda _light_ev: {1: rate(0.9)}).ranked[1]
    assert "no record of yours" in reason(second)
    assert "less often" not in reason(second)


@pytest.mark.parametrize(
    ("seconds", "mark"), [(1 / 1000, "1/1000 s"), (1 / 512, "1/500 s"), (0.0042, "1/250 s"), (2.0, "2 s")]
)
def test_shutter_speeds_are_written_as_cameras_mark_them(seconds: float, mark: str) -> None:
    assert shutter(seconds) == mark


def test_iso_is_written_as_cameras_mark_it() -> None:
    assert [iso(value) for value in (100, 126, 1680, 6399)] == ["100", "125", "1600", "6400"]


def test_the_text_holds_at_eighty_columns_and_repeats_the_cautions() -> None:
    text = plan_text(plan(mounted(1.0, 1.4, 2.0), BRIGHT, lambda _light_ev: {1: rate(0.8)}), 80)
    assert max(map(len, text.splitlines())) <= 80
    assert "Local rules" in text
    assert "no record" in text
    assert "80 (55 to 95)" in text


def test_one_rate_is_named_for_a_kit() -> None:
    """What is expected of an outing; the record's own rate and interval beside it would be read as others."""
    own = replace(rate(0.8), rate=0.83, low=0.71, high=0.91)
    text = " ".join(plan_text(plan(mounted(1.0), BRIGHT, lambda _light_ev: {1: own}), 80).split())
    assert "80 (55 to 95)" in text
    assert f"expect 80 of 100 sharp (55 to 95), by your {own.encounters} encounters in like light." in text
    assert not [number for number in ("83", "71", "91") if number in text]
    elsewhere = replace(own, like_light=False, encounters=1)
    row = plan(mounted(1.0), BRIGHT, lambda _light_ev: {1: elsewhere}).ranked[0]
    assert reason(row).endswith("by your 1 encounter in any light, too few of them in like light.")


def test_light_and_distance_of_a_trip() -> None:
    usual = usual_of([Met(8.0, 20.0), Met(10.0, None), Met(None, 40.0), Met(13.0, 30.0)])
    assert usual.light_ev == 10
    assert usual.distance(None) == 30
    assert usual.distance(12.0) == 12
    with pytest.raises(ValueError, match="--distance"):
        usual_of([Met(8.0, None)]).distance(None)
    with pytest.raises(ValueError, match="--light"):
        usual_of([])


def test_the_map_names_the_best_kit_of_each_field() -> None:
    kits = mounted(1.0, 2.0)
    drawn = kit_map(kits, BRIGHT)
    middle = drawn.distances_m.index(30.0)
    for row, light_ev in enumerate(drawn.lights_ev):
        first = plan(kits, replace(BRIGHT, light_ev=light_ev)).ranked[0]
        assert drawn.best[row][middle] == first.outlook.kit
    assert drawn.best[0][0] is not None
    assert {kit.converter_factor for row in drawn.best for kit in row if kit} == {1.0, 2.0}
