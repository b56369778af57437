"""Pictures: no firmer than their numbers, bounded in marks, readable without script, network or colour."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import replace
from importlib import resources
from itertools import pairwise
from types import SimpleNamespace
from typing import Any, cast

import pytest
from lxml import etree

from auditor.analysis.answers import answers
from auditor.analysis.findings import Findings
from auditor.analysis.kit_table import KitRow
from auditor.analysis.measuring import Measuring
from auditor.records import KnownKit
from auditor.report import svg
from auditor.report.charts import blur, by_light, by_trip, clock, detail, figures, lost, places, shutter
from auditor.report.charts.canvas import LEAST_AREA
from auditor.report.charts.figure import PANEL, Kit, Picture
from auditor.report.charts.scales import Scale, hours, isos, lights, nice, round_doublings, shutters
from auditor.report.svg import COLOURS, FULL, OTHER_COLOUR, Look, looks, mark, outline
from auditor.store.chart_rows import (
    BlurCount,
    FocusInMiddle,
    FocusPlace,
    KitBurst,
    LightStep,
    LostBursts,
    MissCount,
    ShutterCount,
    TripKit,
)
from tests.report import made_answers

SVG = "{http://www.w3.org/2000/svg}"


def kit(kit_id: int, factor: float | None = 1.0, outfit: str = "F2 500 mm") -> Kit:
    behind = " x ?" if factor is None else f" x {factor:g}" if factor > 1 else ""
    return Kit(
        kit_id=kit_id,
        name=outfit + behind,
        look=Look("circle", factor),
        outfit=outfit,
        body_name=outfit,
        body=outfit.split()[0],
    )


BARE, TWICE = kit(7), kit(9, 2.0)
KITS = [BARE, TWICE]


def kit_row(of: Kit, **values: Any) -> KitRow:
    return made_answers.kit_row(of.kit_id, of.name, converter_factor=of.factor, **values)


def parsed(picture: Picture | None) -> list[Any]:
    """Each drawing of a picture, by a parser that is not ours."""
    assert picture is not None
    return [
        etree.fromstring(svg.replace("<svg ", '<svg xmlns="http://www.w3.org/2000/svg" ', 1))
        for svg in picture.drawings
    ]


def told(picture: Picture | None) -> list[str]:
    """What the marks of the first drawing tell."""
    return [
        str(group.get("aria-label"))
        for group in parsed(picture)[0].iter(f"{SVG}g")
        if group.get("aria-label")
    ]


def burst(at: str, of: Kit = BARE, light_ev: float | None = 12.0) -> KitBurst:
    return KitBurst(
        kit_id=of.kit_id, first_at=at, last_at=at, light_ev=light_ev, frames=5, hits=4, misses=1, unclear=0
    )


def steps(of: Kit, light_ev: int, encounters: int, hits: int, judged: int = 10) -> list[LightStep]:
    return [
        LightStep(
            kit_id=of.kit_id,
            encounter_id=100 * light_ev + n,
            light_ev=light_ev,
            judged=judged,
            hits=hits,
            base=0.0,
            told=judged,
        )
        for n in range(encounters)
    ]


# ---- by the clock


@pytest.mark.parametrize(
    ("behind_ev", "said"),
    [
        (9.0, "dimmer light than the bare lens: EV 9 on average, 12 bare"),
        (11.4, "dimmer"),
        (11.6, "much the same"),
        (12.4, "much the same"),
        (14, "brighter"),
    ],
)
def test_the_title_of_the_clock_says_in_what_light_converters_were_on(behind_ev: float, said: str) -> None:
    bursts = [burst("2026-04-18T06:00:00"), burst("2026-04-18T07:00:00", TWICE, behind_ev)]
    picture = clock.light_and_kits(bursts, KITS, [])
    assert picture is not None
    assert said in picture.title


def test_the_light_of_another_body_is_not_that_of_the_bare_lens() -> None:
    """A phone at noon beside a converter at dusk says nothing of the light in which the lens was bare."""
    phone = kit(13, outfit="Pocket 5 mm")
    bursts = [
        burst("2026-04-18T06:00:00", light_ev=9.0),
        burst("2026-04-18T07:00:00", TWICE, 9.0),
        burst("2026-04-18T12:00:00", phone, 15.0),
    ]
    picture = clock.light_and_kits(bursts, [*KITS, phone], [])
    assert picture is not None
    assert "much the same light: EV 9 on average, 9 bare" in picture.title


def test_a_converter_that_came_on_within_minutes_of_the_bare_lens_is_drawn_beside_it() -> None:
    """The same animals with it and without is what the page asks for: both must be on the ribbon."""
    bursts = [
        burst(f"2026-04-{day}T{hour:02d}:{minute:02d}:00", of)
        for day in (18, 19, 20)
        for hour in range(7, 11)
        for minute, of in ((0, BARE), (2, TWICE))
    ]
    for drawing in parsed(clock.light_and_kits(bursts, KITS, []))[:2]:
        drawn = drawing.xpath("//*[local-name()='path' or local-name()='rect'][@class='ribbon']/@d")
        assert [one.count("M") for one in drawn] == [12, 12]


def test_light_on_average_is_that_of_frames_not_of_bursts() -> None:
    """30 frames at EV 10 and 10 at EV 14 are at EV 11 on average (D)."""
    behind = [
        replace(burst("2026-04-18T07:00:00", TWICE, 10.0), frames=30),
        replace(burst("2026-04-18T08:00:00", TWICE, 14.0), frames=10),
    ]
    picture = clock.light_and_kits([burst("2026-04-18T06:00:00"), *behind], KITS, [])
    assert picture is not None
    assert "EV 11 on average, 12 bare" in picture.title


@pytest.mark.parametrize(("lost", "side"), [(0.12, "left"), (-0.12, "right")])
def test_fewer_in_focus_is_drawn_left_of_none_lost(lost: float, side: str) -> None:
    """As on every axis of a share: to the left is less. The range goes from left to right around its mark."""
    cost = cast(Any, SimpleNamespace(loss=lost, low=lost - 0.05, high=lost + 0.05))
    drawn = svg.loss(cost, TWICE.look, 0.3, "")
    low, high = map(float, re.findall(r'class="range" x1="([\d.]+)" y1="9" x2="([\d.]+)"', drawn)[0])
    (at,) = (float(x) for x in re.findall(r'<circle cx="([\d.]+)"[^>]*fill="var', drawn))
    assert low < at < high
    assert (at < 80) == (side == "left")


def test_the_marks_of_the_clock_hold_every_frame() -> None:
    bursts = [
        burst(f"2026-04-{day}T{hour:02d}:10:00", KITS[hour % 2]) for day in (18, 19) for hour in range(5, 20)
    ]
    picture = clock.light_and_kits(bursts, KITS, [])
    numbers = [int(number) for text in told(picture) for number in re.findall(r"(\d+) in focus", text)]
    assert sum(numbers) == 4 * len(bursts)
    for drawing in parsed(picture):
        areas = [
            (float(a.get("width")), float(a.get("height")))
            for a in drawing.iter(f"{SVG}rect")
            if a.get("class") == "reach"
        ]
        assert min(min(area) for area in areas) >= LEAST_AREA - 0.1


def test_a_fall_inside_the_trip_is_boxed_and_heads_the_clock() -> None:
    bursts = [burst(f"2026-04-18T{6 + n:02d}:00:00") for n in range(8)]
    fall = made_answers.change(kit_id=7)
    picture = clock.light_and_kits(bursts, KITS, [fall])
    assert picture is not None
    assert picture.title == (
        "F2 500 mm had fewer in focus from 10:00 to 12:00: 17 %, in the rest of the trip 83 %"
    )
    assert all(svg.count('class="fell"') == 1 for svg in picture.drawings)
    steady = clock.light_and_kits(bursts, KITS, [made_answers.change(kit_id=7, fell=False)])
    assert steady is not None
    assert "fewer" not in steady.title
    assert not any('class="fell"' in svg for svg in steady.drawings)


OTHER_BODY = kit(11, outfit="S2 300 mm")


def of_two_zones() -> list[KitBurst]:
    """An hour of light that rises evenly, by a body at +03:00 and one left at +01:00."""
    return sorted(
        [
            *(burst(f"2026-04-18T07:{minute:02d}:00", BARE, 9 + minute / 15) for minute in range(0, 60, 5)),
            *(
                replace(burst(f"2026-04-18T05:{minute:02d}:00", OTHER_BODY, 9 + minute / 15), shift_s=7200.0)
                for minute in range(0, 50, 10)
            ),
        ],
        key=lambda row: row.first_at,
    )


def test_bodies_in_two_time_zones_are_drawn_by_the_clock_that_most_frames_have() -> None:
    picture = clock.light_and_kits(of_two_zones(), [BARE, OTHER_BODY], [])
    assert picture is not None
    assert picture.words.endswith("By one clock: S2 300 mm is drawn 2 hours later than its clock showed.")
    (light,) = parsed(picture)[0].iterfind(f".//{SVG}path[@class='light-line']")
    heights = [float(y) for y in re.findall(r"[-\d.]+[ ,]([-\d.]+)", light.get("d"))]
    assert heights == sorted(heights, reverse=True)  # it rises, and so do all of its points
    assert all("18 Apr, 07:" in text for text in told(picture))


def test_a_fall_of_a_body_in_another_time_zone_is_boxed_where_it_is_drawn() -> None:
    fall = made_answers.change(
        kit_id=OTHER_BODY.kit_id, from_at="2026-04-18T05:20:00", until_at="2026-04-18T05:40:00"
    )
    picture = clock.light_and_kits(of_two_zones(), [BARE, OTHER_BODY], [fall])
    assert picture is not None
    assert "from 07:20 to 07:40" in picture.title
    assert all(svg.count('class="fell"') == 1 for svg in picture.drawings)


def test_days_of_one_time_zone_each_are_drawn_as_their_clocks_showed_them() -> None:
    there = replace(burst("2026-04-19T07:00:00"), shift_s=-7200.0)
    picture = clock.light_and_kits([burst("2026-04-18T07:00:00"), there], [BARE], [])
    assert picture is not None
    assert "clock" not in picture.words
    assert [text[:13] for text in told(picture)] == ["18 Apr, 07:00", "19 Apr, 07:00"]


def test_frames_without_known_light_are_drawn_without_a_curve() -> None:
    picture = clock.light_and_kits([burst("2026-04-18T06:00:00", light_ev=None)], KITS, [])
    assert picture is not None
    assert "The light is not known." in picture.drawings[0]


def test_twenty_thousand_frames_give_no_more_marks_than_there_is_room_for() -> None:
    bursts = [
        burst(f"2026-04-{1 + n % 20:02d}T{5 + n // 20 % 15:02d}:{n % 60:02d}:00", KITS[n % 2])
        for n in range(4000)
    ]
    picture = clock.light_and_kits(sorted(bursts, key=lambda row: row.first_at), KITS, [])
    assert picture is not None
    assert len(told(picture)) <= 40
    assert len(picture.drawings[0]) < 400_000


def test_all_trips_are_drawn_trip_by_trip() -> None:
    counted = [
        TripKit(trip_id=n, name=f"trip {n}", first_at=f"20{10 + n}-05-01", kit_id=of.kit_id,
                frames=frames, hits=1, misses=0, unclear=0)
        for n in range(60) for of, frames in ((BARE, 30), (TWICE, 10))
    ]  # fmt: skip
    picture = by_trip.kits_by_trip(counted, KITS)
    assert picture is not None
    assert picture.title == "A converter was on for 600 of 2,400 frames over 60 trips"
    assert told(picture)[-1].startswith("trip 59. F2 500 mm: 30 frames")
    assert by_trip.kits_by_trip(counted[:2], KITS) is None


# ---- in focus by light


def test_rates_by_light_from_three_encounters_on() -> None:
    picture = by_light.hits_by_light(steps(BARE, 10, 3, 8) + steps(BARE, 12, 2, 8), KITS, whole_record=False)
    assert told(picture) == ["EV 10 to 12: F2 500 mm 80 of 100 in focus (48 to 95), 30 frames."]
    assert by_light.hits_by_light(steps(BARE, 10, 2, 8), KITS, whole_record=False) is None


@pytest.mark.parametrize(
    ("hits", "said"),
    [
        (1, "had fewer in focus: 10 of 100, bare 90"),
        (7, "In no light do converter and bare lens stand clearly apart"),
    ],
)
def test_a_title_by_light_claims_what_the_intervals_bear(hits: int, said: str) -> None:
    counted = steps(BARE, 10, 8, 9) + steps(TWICE, 10, 8, hits)
    picture = by_light.hits_by_light(counted, KITS, whole_record=True)
    assert picture is not None
    assert said in picture.title


def test_a_title_allows_for_how_many_steps_are_compared() -> None:
    """The more steps of light there are, the further apart a converter must lie (Bonferroni)."""
    one = steps(BARE, 10, 8, 8) + steps(TWICE, 10, 8, 5)
    alike = [row for light in range(12, 40, 2) for of in KITS for row in steps(of, light, 8, 7)]
    alone, among_many = (by_light.hits_by_light(rows, KITS, whole_record=True) for rows in (one, one + alike))
    assert alone is not None
    assert among_many is not None
    assert "fewer in focus" in alone.title
    assert "stand clearly apart" in among_many.title


def test_without_a_converter_nothing_is_said_of_one_nor_of_a_table_that_compares() -> None:
    picture = by_light.hits_by_light(steps(BARE, 10, 4, 9), [BARE], whole_record=True)
    assert picture is not None
    assert picture.title == "In focus by light"
    assert "table" not in picture.words
    beside = by_light.hits_by_light(steps(BARE, 10, 4, 9), KITS, whole_record=True)
    assert beside is not None
    assert "both with a converter and bare" in beside.title
    assert beside.words.endswith("; the first table is.")


def test_bare_and_converters_share_a_panel_and_other_lenses_have_their_own() -> None:
    other = kit(11, 1.0, "S2 300 mm")
    counted = steps(BARE, 10, 4, 9) + steps(TWICE, 10, 4, 9) + steps(other, 10, 4, 9)
    picture = by_light.hits_by_light(counted, [*KITS, other], whole_record=True)
    assert [len(drawing.findall(f".//{SVG}g[@data-kit]")) > 1 for drawing in parsed(picture)] == [True, True]
    assert "F2 500 mm x 2 90 of 100" in told(picture)[0]


# ---- blur


def test_every_measured_frame_is_a_dot_and_the_limit_is_where_it_is_decided() -> None:
    """Limit (D): 43.3 mm / 1500 / 500 mm is 57.7 microradians, 1.73 mm at 30 m; sigma is a quarter."""
    counted = [
        BlurCount(kit_id=7, blur_urad=14.0, verdict="hit", frames=3),
        BlurCount(kit_id=7, blur_urad=15.0, verdict="miss", frames=2),
        BlurCount(kit_id=9, blur_urad=16.0, verdict="unclear", frames=3, near=2),
        BlurCount(kit_id=9, blur_urad=40.0, verdict=None, frames=1),
    ]
    picture = blur.blur_of_frames(counted, {7: 43.3 / 500, 9: 43.3 / 500}, KITS, 1.0)
    assert picture is not None
    told_of = "Of 9 frames whose blur could be read, 2 were not sharp on the animal"
    assert picture.title == f"{told_of}, 2 too near the limit to tell, 2 unclear for other reasons"
    assert "small: unclear" in picture.words
    assert "limit 1.7" in picture.drawings[0]
    dots = {
        kind: len(
            re.findall("h0", "".join(re.findall(rf'<path class="{kind}" d="([^"]*)"', picture.drawings[0])))
        )
        for kind in ("dot", "dot-inside", "dot-small")
    }
    assert dots == {"dot": 5, "dot-inside": 2, "dot-small": 4}
    assert told(picture)[:2] == [
        "F2 500 mm, sharper than the limit: 3 in focus, 0 missed.",
        "F2 500 mm, softer than the limit: 0 in focus, 2 missed.",
    ]
    closer = blur.blur_of_frames(counted, {7: 43.3 / 500}, KITS[:1], 2.0)
    assert closer is not None
    assert "limit 0.9" in closer.drawings[0]


@pytest.mark.parametrize(
    ("near", "unclear", "said"),
    [(0, 0, ""), (0, 3, ", 3 unclear"), (3, 3, ", 3 too near the limit to tell")],
)
def test_what_is_unclear_is_only_called_near_the_limit_where_it_is(
    near: int, unclear: int, said: str
) -> None:
    counted = [
        BlurCount(kit_id=7, blur_urad=14.0, verdict="hit", frames=3),
        BlurCount(kit_id=7, blur_urad=15.0, verdict="unclear", frames=unclear, near=near),
    ]
    picture = blur.blur_of_frames(counted, {7: 43.3 / 500}, KITS[:1], 1.0)
    assert picture is not None
    assert picture.title.endswith(f", 0 were not sharp on the animal{said}")


def test_a_limit_beyond_every_blur_has_its_own_place_on_the_axis() -> None:
    """All sharp, 0.36 mm: the limit of 1.73 mm lies beyond, and its label in the drawing."""
    counted = [BlurCount(kit_id=7, blur_urad=3.0, verdict="hit", frames=3)]
    picture = blur.blur_of_frames(counted, {7: 43.3 / 500}, KITS[:1], 1.0)
    assert picture is not None
    (drawing,) = parsed(picture)
    (limit,) = (float(line.get("x1", "")) for line in drawing.findall(f".//{SVG}line[@class='limit']"))
    texts = {text.text: float(text.get("x", "")) for text in drawing.iter(f"{SVG}text")}
    # On a doubling axis 1.73 mm lies log2(1.73) of a doubling beyond 1 mm.
    doubling = texts["1"] - texts["0.5"]
    assert limit == pytest.approx(texts["1"] + doubling * math.log2(1.732), abs=0.5)
    assert texts["limit 1.7"] <= PANEL - blur.HALF_LABEL


def test_a_dot_stands_for_several_frames_where_there_are_too_many() -> None:
    counted = [BlurCount(kit_id=7, blur_urad=1 + n / 10, verdict="hit", frames=50) for n in range(400)]
    picture = blur.blur_of_frames(counted, {7: 43.3 / 500}, KITS, 1.0)
    assert picture is not None
    assert re.search(r"One dot is up to \d+ frames", picture.words)
    assert picture.drawings[0].count("h0") < 800


# ---- what was lost


def test_what_was_lost() -> None:
    bursts = [
        LostBursts(kit_id=7, bursts=6, none_sharp=1, open=2),
        LostBursts(kit_id=9, bursts=4, none_sharp=3, open=0),
    ]
    missed = [
        MissCount(kit_id=9, kind="soft", frames=5),
        MissCount(kit_id=9, kind="smeared", frames=2),
        MissCount(kit_id=9, kind=None, frames=1),
    ]
    rows = [kit_row(BARE), kit_row(TWICE, iso_pushed_frames=12, frames=100)]
    picture = lost.what_was_lost(bursts, missed, rows, KITS)
    assert picture is not None
    assert (
        picture.title
        == "4 of 10 bursts have no sharp frame, and converters took 12 frames over your ISO ceiling"
    )
    assert told(picture)[0] == "F2 500 mm: 1 of 6, 2 unclear bursts have no sharp frame."
    sentences = [
        group.get("aria-label") for group in parsed(picture)[2].iter(f"{SVG}g") if group.get("aria-label")
    ]
    assert sentences == [
        "F2 500 mm x 2, missed frames: 5 out of focus, 2 blurred by motion, 1 by the camera's word."
    ]


def test_a_bare_kit_over_the_limit_is_no_loss_to_a_converter() -> None:
    rows = [kit_row(BARE, iso_pushed_frames=0), kit_row(TWICE, iso_pushed_frames=0)]
    bursts = [LostBursts(kit_id=7, bursts=6, none_sharp=1, open=0)]
    picture = lost.what_was_lost(bursts, [], rows, KITS)
    assert picture is not None
    assert picture.title == "1 of 6 bursts has no sharp frame"
    assert len(picture.drawings) == 1
    assert "ceiling" not in picture.words


# ---- detail, noise, shutter, places


def measured(blur_urad: float, scenes: int, noise: float = 2.0, iso: float = 800.0) -> list[tuple[Any, ...]]:
    return [(scene, blur_urad + 0.1 * scene, noise, 10.0, iso) for scene in range(scenes)]


def test_detail_is_a_length_on_the_animal() -> None:
    picture = detail.detail_on_animal({7: measured(8.0, 4), 9: measured(4.0, 4)}, KITS, [])
    # Sigma 4 microradians: a spot of 16, half a millimetre at 30 m (D).
    assert re.search(r"F2 500 mm x 2: 0\.4[89] mm", told(picture)[1])


@pytest.mark.parametrize(
    ("outcome", "said"),
    [
        ("gain", "showed finer detail than the bare lens"),
        ("no_detail_gain", "showed no finer detail than a crop"),
        ("inconclusive", "not settled"),
    ],
)
def test_the_title_of_detail_is_that_of_the_comparison(outcome: str, said: str) -> None:
    """Though the intervals drawn lie far apart: they are not of like conditions."""
    kits = [replace(BARE, kit_id=1), replace(TWICE, kit_id=2)]
    answers_made = made_answers.trip("inconclusive", outcome)
    picture = detail.detail_on_animal({1: measured(8.0, 4), 2: measured(4.0, 4)}, kits, answers_made)
    assert picture is not None
    assert said in picture.title


def test_detail_names_no_comparison_where_there_is_none() -> None:
    """One kit, or converters that were never off: nothing stands against a bare lens."""
    alone = answers([made_answers.with_2x()], [])
    for kits, found in (([BARE], []), ([replace(TWICE, kit_id=2)], alone)):
        picture = detail.detail_on_animal({kit.kit_id: measured(8.0, 4) for kit in kits}, kits, found)
        assert picture is not None
        assert picture.title == "Detail on the animal"


def test_two_scenes_are_too_few_for_detail() -> None:
    assert detail.detail_on_animal({7: measured(5.0, 2)}, KITS, []) is None


def test_noise_as_iso_is_iso_over_the_converters_area() -> None:
    """Shot noise (J. R. Janesick, Photon Transfer, chapter 3: R): the same light, the same noise."""
    frames = {
        7: [(n, 5.0, (iso / 100) ** 0.5, 10.0, iso) for n, iso in enumerate((200.0, 400.0, 800.0))],
        9: [(n, 5.0, (iso / 100) ** 0.5, 5.0, iso) for n, iso in enumerate((800.0, 1600.0, 3200.0))],
    }
    assert detail.as_noisy_as_iso(frames, KITS) == pytest.approx({7: 400.0, 9: 400.0})


def test_iso_says_what_the_bare_lens_would_have_needed() -> None:
    rows = [kit_row(BARE), kit_row(TWICE, median_iso=3200.0, median_forced_push_ev=2.0)]
    picture = detail.iso_and_noise({}, rows, KITS)
    assert picture is not None
    assert picture.title == "F2 500 mm x 2 was at ISO 3200; the bare lens would have needed up to 800"
    assert told(picture)[1] == "F2 500 mm x 2: median ISO 3200, bare up to 800."


def test_slower_than_one_over_the_focal_length() -> None:
    """1/500 s at 500 mm is on the line and not slower; 1/250 s is (common practice: C)."""
    counted = [
        ShutterCount(kit_id=7, focal_length_mm=500.0, exposure_time_s=time_s, frames=frames,
                     smeared=smeared, measured=frames)
        for time_s, frames, smeared in ((1 / 500, 3, 0), (1 / 512, 2, 0), (1 / 250, 4, 2))
    ]  # fmt: skip
    picture = shutter.shutter(counted, KITS)
    assert picture is not None
    assert picture.title == "4 of 9 frames were slower than 1 / focal length"
    assert "2 of 4 measured at slower speeds, 0 of 5 at faster ones" in picture.words
    assert {"1/250", "1/500"} <= set(re.findall(r">(1/\d+)<", picture.drawings[0]))


@pytest.mark.parametrize(
    ("slow", "fast", "title"),
    [
        (0, 1, "0 of 1 frame was slower"),
        (1, 8, "1 of 9 frames was slower"),
        (0, 9, "0 of 9 frames were slower"),
    ],
)
def test_one_frame_was_slower_and_several_were(slow: int, fast: int, title: str) -> None:
    counted = [
        ShutterCount(
            kit_id=7, focal_length_mm=500.0, exposure_time_s=time_s, frames=frames, smeared=0, measured=0
        )
        for time_s, frames in ((1 / 250, slow), (1 / 1000, fast))
        if frames
    ]
    picture = shutter.shutter(counted, KITS)
    assert picture is not None
    assert picture.title == f"{title} than 1 / focal length"


@pytest.mark.parametrize(("rest_hits", "drawn"), [(1, True), (8, False)])
def test_places_are_drawn_only_where_they_tell_something(rest_hits: int, drawn: bool) -> None:
    counted = [
        FocusPlace(across=across, down=4, judged=120, hits=12 * hits)
        for across, hits in ((0, rest_hits), (5, 9))
    ]
    by_encounter = [
        FocusInMiddle(middle=middle, encounter_id=encounter, judged=10, hits=hits)
        for middle, hits in ((0, rest_hits), (1, 9))
        for encounter in range(12)
    ]
    picture = places.focus_places(counted, by_encounter)
    assert (picture is not None) == drawn
    if picture is not None:
        assert (
            picture.title
            == "Away from the middle of the picture fewer were in focus: 10 of 100, 90 in the middle"
        )


# ---- axes


def test_the_axes_have_the_marks_of_a_camera() -> None:
    """Whole stops as cameras mark them (C); ISO speeds that double (ISO 12232, C)."""
    assert [round(1 / time_s) for time_s in shutters(1 / 2000, 1 / 250)] == [2000, 1000, 500, 250]
    assert isos(100, 6400) == [100, 200, 400, 800, 1600, 3200, 6400]
    assert lights(9.5, 13.5) == [(10.0, ""), (12.0, "overcast")]
    assert [word for _ev, word in lights(5.5, 15.5) if word] == ["dusk", "overcast", "sun"]
    assert hours(5.2, 18.9, 300, 44) == [6, 9, 12, 15, 18]


@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (0.2, 7.3), (3.0, 3.4), (120.0, 98_000.0)])
def test_round_values_lie_within_and_are_few(low: float, high: float) -> None:
    found = nice(low, high, 6)
    assert 2 <= len(found) <= 6
    assert all(low <= value <= high for value in found)
    widths = {round(after - before, 9) for before, after in pairwise(found)}
    assert len(widths) == 1


def test_doubling_values_are_round() -> None:
    assert round_doublings(0.3, 12) == [0.5, 1, 2, 5, 10]


def test_a_scale_keeps_what_lies_outside_at_its_end() -> None:
    scale = Scale(100, 400, 0, 100, doubling=True)
    assert [scale(value) for value in (50, 100, 200, 400, 9000)] == pytest.approx([0, 0, 50, 100, 100])


# ---- looks and words


def every_picture() -> list[Picture]:
    bursts = [burst("2026-04-18T06:00:00"), burst("2026-04-18T09:00:00", TWICE, 9.0)]
    blurs = [BlurCount(kit_id=7, blur_urad=14.0, verdict="hit", frames=3)]
    rows = [kit_row(BARE), kit_row(TWICE, iso_pushed_frames=3)]
    made = (
        clock.light_and_kits(bursts, KITS, []),
        by_light.hits_by_light(steps(BARE, 10, 4, 9), KITS, whole_record=True),
        blur.blur_of_frames(blurs, {7: 0.08}, KITS, 1.0),
        lost.what_was_lost([LostBursts(kit_id=7, bursts=6, none_sharp=1, open=2)], [], rows, KITS),
        detail.detail_on_animal({7: measured(8.0, 4)}, KITS, []),
        detail.iso_and_noise({}, rows, KITS),
    )
    return [picture for picture in made if picture is not None]


def test_every_drawing_has_a_title_a_text_and_large_marks_and_needs_no_style_or_network() -> None:
    shown = every_picture()
    assert len(shown) == 6
    for picture in shown:
        for drawn, drawing in zip(picture.drawings, parsed(picture), strict=True):
            assert drawing.findtext(f"{SVG}title")
            assert drawing.findtext(f"{SVG}desc") == picture.words
            named = {drawing.get("aria-labelledby"), drawing.get("aria-describedby")}
            assert named == {drawing.find(f"{SVG}title").get("id"), drawing.find(f"{SVG}desc").get("id")}
            assert "://" not in drawn
            assert "style=" not in drawn
            assert drawing.findall(f"{SVG}g[@aria-label]"), picture.key
            for area in drawing.iter(f"{SVG}rect"):
                if area.get("class") == "reach":
                    assert min(float(area.get("width")), float(area.get("height"))) >= LEAST_AREA - 0.1


def test_words_of_pictures_tell_nothing_that_a_phone_or_paper_cannot_do() -> None:
    for picture in every_picture():
        for word in ("point at", "hover", "Escape", "click", "on the left", "on the right"):
            assert word not in f"{picture.title} {picture.words}"


def test_hostile_names_are_text_in_a_drawing() -> None:
    hostile = replace(BARE, name="<script>\u202e&\"'</script>", outfit="<b>&\u202e")
    counted = steps(hostile, 10, 4, 9)
    picture = by_light.hits_by_light(counted, [hostile], whole_record=True)
    for drawing in parsed(picture):
        assert {str(tag.tag) for tag in drawing.iter()} <= {
            f"{SVG}{name}" for name in ("svg", "title", "desc", "g", "text", "line", "path", "rect", "circle")
        }
    assert picture is not None
    assert "\u202e" not in picture.drawings[0]


def found_kits(names: Sequence[tuple[int, str, str, float]]) -> list[Kit]:
    """Kits as drawn, from kit_id (the frames too), short name, body and converter."""
    rows = [made_answers.kit_row(kit_id, name, frames=kit_id) for kit_id, name, _body, _factor in names]
    known = [
        KnownKit(kit_id=kit_id, kit_name=name, body_make="", body_model=body, body_serial=None,
                 lens_name=name.split(" x ")[0], converter_factor=factor)
        for kit_id, name, body, factor in names
    ]  # fmt: skip
    nothing_waits = Measuring(frames=1, waiting=0, kits=())
    found = Findings(kits=tuple(answers(rows, [])), alternatives=(), changes=(), measuring=nothing_waits)
    return figures.kits_drawn(found, known, looks(known))


def test_only_the_most_used_kits_are_drawn() -> None:
    drawn = found_kits([(number, f"B {number} mm", "B", 1.0) for number in range(20)])
    assert [one.kit_id for one in drawn] == list(range(12, 20))
    assert len(drawn) == figures.MOST_KITS


def test_drawings_leave_out_what_all_kits_have_in_common_and_keep_the_focal_length() -> None:
    long = "Estuary F2 Mark III"
    one_body = found_kits([(1, f"{long} 300 mm", long, 1.0), (2, f"{long} 500 mm x 2", long, 2.0)])
    assert [(one.label, one.body_name) for one in one_body] == [("300 mm", long), ("500 mm x 2", long)]
    two = found_kits([(1, f"{long} 300 mm", long, 1.0), (2, "Estuary S2 500 mm x 1.4", "Estuary S2", 1.4)])
    assert [(one.label, one.body_name) for one in two] == [
        ("F2 Mark III 300 mm", f"{long} 300 mm"),
        ("S2 500 mm x 1.4", "Estuary S2 500 mm"),
    ]
    assert [
        one.label for one in found_kits([(1, "F2 500 mm", "F2", 1.0), (2, "F2 500 mm x 2", "F2", 2.0)])
    ] == [
        "F2 500 mm",
        "F2 500 mm x 2",
    ]


def test_no_two_kits_look_alike_with_or_without_colour() -> None:
    known = [
        KnownKit(kit_id=10 * lens + place, kit_name="", body_make="", body_model="B", body_serial=None,
                 lens_name=f"L{lens}", converter_factor=factor)
        for lens in range(6)
        for place, factor in enumerate((*COLOURS, None))
    ]  # fmt: skip
    found = looks(known)
    assert len(set(found.values())) == 36
    drawn = {re.sub(r'class="[^"]*"', "", mark(look, 8, 8)) for look in found.values()}
    assert len(drawn) == 36
    assert list(FULL.values()) == sorted(FULL.values())


def luminance(colour: str) -> float:
    """WCAG 2.2, relative luminance (S)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("scheme", [0, 1])
def test_colours_of_kits_stand_out_on_light_and_dark_paper(scheme: int) -> None:
    """WCAG 2.2, 1.4.11: 3 to 1 for what a graphic needs to be understood (S)."""
    templates = resources.files("auditor.report") / "templates"
    style = (templates / "charts.css").read_text(encoding="utf-8") + (templates / "style.css").read_text(
        encoding="utf-8"
    )
    paper = luminance(re.findall(r"--paper: (#\w{6})", style)[scheme])
    names = {*COLOURS.values(), OTHER_COLOUR}
    assert len(names) == 6
    for name in names:
        ink = luminance(re.findall(rf"--{name}: (#\w{{6}})", style)[scheme])
        ratio = (max(ink, paper) + 0.05) / (min(ink, paper) + 0.05)
        assert ratio >= 3, f"{name}: {ratio:.2f}"


def test_the_outline_lies_where_the_area_is() -> None:
    assert 'x="40.0" y="30.0" width="20.0" height="40.0"' in outline((0.5, 0.5, 0.2, 0.4), 100, 100)


def test_panels_are_lettered_for_a_phone() -> None:
    """13 units are 11 px and more where a drawing is 328 px wide, on a phone of 360 px."""
    assert 13 * 328 / PANEL > 10.5
