"""Hints: converters that did not report themselves, clocks that disagree. Offered, never applied."""

from __future__ import annotations

import csv
import random
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from auditor.analysis.clock_hints import clock_hints, date_hints
from auditor.analysis.converter_hints import converter_hints
from auditor.analysis.hint_kinds import ConverterHint, DateHint, PhoneHint, Trip
from auditor.analysis.hints import hints
from auditor.analysis.kit_table import kit_table
from auditor.derive.declaring import declare, undo
from auditor.jobs.scan import scan
from auditor.report.text.hints import heading, in_short, question
from auditor.settings import Settings
from auditor.store.bursts import BodyDates, BurstLight, bursts_of_trip
from auditor.store.declared_facts import ClockFacts
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_card

START = datetime(2026, 4, 18, 6)
SAMPLE = Path(__file__).parents[2] / "sample_images"
TRIP = Trip(trip_id=1, name="Estuary")


def burst(
    minutes: float,
    light_ev: float | None = 12.0,
    *,
    body: str = "one",
    kit_id: int = 1,
    bare: bool = True,
    zone: str | None = None,
) -> BurstLight:
    first = START + timedelta(minutes=minutes)
    last = first + timedelta(seconds=2)
    return BurstLight(
        body=body,
        kit_id=kit_id,
        bare=bare,
        first_at=first.isoformat(),
        last_at=last.isoformat(),
        camera_first_at=first.isoformat(),
        camera_last_at=last.isoformat(),
        frames=3,
        light_value_ev=light_ev,
        utc_offset=zone,
    )


@pytest.mark.parametrize(("drop_ev", "factor"), [(1.0, 1.4), (0.8, 1.4), (2.1, 2.0)])
def test_a_step_down_of_a_stop_or_two_on_one_body(drop_ev: float, factor: float) -> None:
    darker = burst(2, 12 - drop_ev)
    (hint,) = converter_hints(TRIP, [burst(0), darker])
    assert (hint.body, hint.factor, hint.bursts) == ("one", factor, (darker,))


@pytest.mark.parametrize(
    "after",
    [
        burst(2, 11.5),  # half a stop is weather
        burst(2, 13.0),  # brighter is no converter
        burst(20, 11.0),  # too long after: the light may have changed
        burst(2, 11.0, kit_id=2),  # another kit: that is no silent change
        burst(2, 11.0, bare=False),  # its converter is known already
        burst(2, None),
    ],
)
def test_what_is_no_hint(after: BurstLight) -> None:
    assert converter_hints(TRIP, [burst(0), after]) == []


def test_bursts_as_dark_as_a_suspected_one_beside_it_belong_to_it() -> None:
    dark = [burst(minutes, 11.0 + minutes / 50) for minutes in (2, 4, 6)]
    (hint,) = converter_hints(TRIP, [burst(0), *dark, burst(8, 12.1), burst(10, 12.0)])
    assert hint.bursts == tuple(dark)


def test_a_hint_names_its_bursts_and_nothing_between_them() -> None:
    dark = [burst(2, 11.0), burst(8, 11.0)]
    (hint,) = converter_hints(TRIP, [burst(0), dark[0], burst(4), burst(6), dark[1], burst(10)])
    assert hint.bursts == tuple(dark)


def test_a_second_body_beside_it_tells_the_light() -> None:
    (hint,) = converter_hints(TRIP, [burst(0, body="two", kit_id=9, bare=False), burst(0.5, 11.0)])
    assert "read about one stop darker" in question(hint)


def test_a_second_body_in_another_time_zone_tells_the_light_of_its_moment() -> None:
    """Its clock is eight hours behind: a burst half a minute earlier, and one that only seems near."""
    beside = replace(burst(-8 * 60, body="two", kit_id=9, bare=False), shift_s=8 * 3600.0)
    later = replace(burst(0.2, 13.0, body="two", kit_id=9, bare=False), shift_s=8 * 3600.0)
    (hint,) = converter_hints(TRIP, [beside, burst(0.5, 11.0), later])
    assert [one.camera_first_at for one in hint.bursts] == [burst(0.5).camera_first_at]
    assert "one stop darker" in question(hint)


def test_clocks_in_two_zones() -> None:
    (hint,) = clock_hints(
        TRIP, [burst(0, zone="+02:00"), burst(1, zone="+02:00"), burst(5, body="two", zone="+01:00")]
    )
    assert (hint.body, hint.hours, hint.stated) == ("two", 1, True)
    assert hint.said.from_at == burst(5).first_at  # this trip alone, by the camera's clock
    # Whoever left a clock at home time on purpose may take it for right, and a No parts what was together.
    assert "Yes shows its frames by the clock of one. No says that it was right and only its" in question(
        hint
    )


@pytest.mark.parametrize(
    ("zone", "hours", "off_by"),
    [
        ("+05:30", -4.5, "4 hours 30 minutes ahead"),  # India
        ("+05:45", -4.75, "4 hours 45 minutes ahead"),  # Nepal
        ("+00:30", 0.5, "30 minutes behind"),
    ],
)
def test_clocks_in_zones_that_are_no_whole_hours_apart(zone: str, hours: float, off_by: str) -> None:
    """Offsets of the time zone database (Asia/Kolkata, Asia/Kathmandu: from memory)."""
    (hint,) = clock_hints(
        TRIP, [burst(0, zone="+01:00"), burst(1, zone="+01:00"), burst(5, body="two", zone=zone)]
    )
    assert (hint.body, hint.hours, hint.stated) == ("two", hours, True)
    assert hint.said.facts == ClockFacts(offset_s=hours * 3600)
    assert f"Was that of two {off_by}? Yes" in question(hint)


def test_zones_no_quarter_of_an_hour_apart_are_damage_and_tell_nothing() -> None:
    assert clock_hints(TRIP, [burst(0, zone="+01:00"), burst(5, body="two", zone="+02:07")]) == []


@pytest.mark.parametrize("shift_min", [-285, 330])
def test_clocks_that_meet_when_shifted_by_halves_and_quarters_of_an_hour(shift_min: int) -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    together = [burst(m) for m in minutes] + [burst(m + 0.5 + shift_min, body="two") for m in minutes]
    (hint,) = clock_hints(TRIP, by_time(together))
    assert (hint.hours, hint.stated) == (-shift_min / 60, False)


def test_bodies_that_were_never_on_one_animal_are_not_asked_about() -> None:
    """Runs of bursts on animals of their own, on eight days: some meet by chance at any shift."""
    asked = 0
    for seed in range(20):
        chance = random.Random(seed)
        bursts = []
        for animal in range(8 * 15):
            body = chance.choice(("one", "one", "two"))
            begins = DAY * (animal % 8) + chance.uniform(6 * HOUR, 19 * HOUR)
            bursts += [burst(begins + chance.uniform(0, 10), body=body) for _ in range(chance.randint(1, 4))]
        asked += len(clock_hints(TRIP, by_time(bursts)))
    assert asked <= 2


def test_clocks_that_meet_when_shifted() -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    together = [burst(m) for m in minutes] + [burst(m + 0.5 - 180, body="two") for m in minutes]
    (hint,) = clock_hints(TRIP, sorted(together, key=lambda b: b.first_at))
    assert (hint.body, hint.hours, hint.stated) == ("two", 3, False)


@pytest.mark.parametrize(("shift_min", "off_by"), [(-60, "1 hour behind"), (120, "2 hours ahead")])
def test_a_clock_hint_asks_what_its_yes_would_put_right(shift_min: int, off_by: str) -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    together = [burst(m) for m in minutes] + [burst(m + 0.5 + shift_min, body="two") for m in minutes]
    (hint,) = clock_hints(TRIP, sorted(together, key=lambda b: b.first_at))
    assert question(hint).endswith(f"Was that of two {off_by}?")
    assert in_short(hint).endswith(f"its clock {off_by.replace('ahead', 'ahead of')} one?")


def test_clocks_that_agree_or_never_meet() -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    bursts = [burst(m) for m in minutes]
    assert clock_hints(TRIP, bursts + [burst(m + 0.3, body="two") for m in minutes]) == []
    assert clock_hints(TRIP, bursts + [burst(5000 + 7 * m, body="two") for m in minutes]) == []


HOUR = 60.0
DAY = 24 * HOUR


def by_time(bursts: list[BurstLight]) -> list[BurstLight]:
    return sorted(bursts, key=lambda b: b.first_at)


def test_a_zone_set_on_the_way_moves_no_frame_from_before_it() -> None:
    """Eight hours east after day one: body one's clock is set there, body two stays at home time."""
    home = [HOUR * hour for hour in range(4)]
    there = [2 * DAY + HOUR * hour for hour in range(6)]  # by home time
    one = [burst(m, zone="+01:00") for m in home] + [burst(m + 8 * HOUR, zone="+09:00") for m in there]
    two = [burst(m + 1, body="two", zone="+01:00") for m in [*home, *there, 2 * DAY + 7 * HOUR]]
    (hint,) = clock_hints(TRIP, by_time(one + two))
    assert (hint.body, hint.reference, hint.hours, hint.stated) == ("two", "one", 8, True)
    assert (hint.said.from_at, hint.said.to_at) == (two[4].camera_first_at, two[-1].camera_last_at)


@pytest.mark.parametrize(("next_burst", "asked"), [(1115, False), (1300, True)])
def test_where_the_clock_shows_the_same_hours_twice_nothing_is_asked(next_burst: float, asked: bool) -> None:
    """Flown west; body two is set an hour late. Then its clock goes through the hours of that hour again.

    What is declared holds for a span by that clock, and would move frames from after it as well.
    """

    def at(minutes: float, hours_ahead: int, body: str) -> BurstLight:
        return burst(minutes + hours_ahead * HOUR, body=body, zone=f"+{hours_ahead:02d}:00")

    one = [at(m, 9, "one") for m in (0, 60)] + [at(m, 1, "one") for m in (620, 700, 1100, 1200)]
    late = [at(m, 9, "two") for m in (630, 640)]
    two = [at(m, 9, "two") for m in (1, 61)] + late + [at(next_burst, 1, "two")]
    found = clock_hints(TRIP, by_time(one + two))
    assert [(hint.body, hint.hours, hint.first_at) for hint in found] == (
        [("two", -8, late[0].camera_first_at)] if asked else []
    )


@pytest.mark.parametrize(("meet", "asked"), [(2, True), (3, False)])
def test_a_clock_set_by_hand_whose_zone_was_left_is_not_asked_about(meet: int, asked: bool) -> None:
    """Both took their bursts together by their clocks as they are: what is wrong is the zone alone."""
    minutes = [0, 17, 31, 50, 70]
    one = [burst(m, zone="+02:00") for m in [*minutes, 5 * HOUR]]
    two = [burst(m + 0.5, body="two", zone="+01:00") for m in minutes[:meet]]
    two += [burst(DAY + m, body="two", zone="+01:00") for m in minutes[meet:]]
    found = clock_hints(TRIP, by_time(one + two))
    assert [(hint.body, hint.hours) for hint in found] == ([("two", 1)] if asked else [])


def test_both_set_on_the_way_are_not_asked_about() -> None:
    flown = [(0.0, "+01:00"), (60.0, "+01:00"), (2 * DAY, "+09:00"), (2 * DAY + 60, "+09:00")]
    bursts = [burst(m + late, body=body, zone=z) for body, late in (("one", 0), ("two", 9)) for m, z in flown]
    assert clock_hints(TRIP, by_time(bursts)) == []


def test_whichever_of_both_was_set_first_is_not_asked_about() -> None:
    """After the flight body two takes its first frames before body one does, which was set as well."""
    one = [burst(m, zone="+01:00") for m in (0, 20, 40)] + [burst(2 * DAY + 60, zone="+09:00")]
    two = [
        burst(m, body="two", zone=z)
        for m, z in [(9, "+01:00"), (2 * DAY, "+09:00"), (2 * DAY + 90, "+09:00")]
    ]
    assert clock_hints(TRIP, by_time(one + two)) == []


def test_zones_that_change_too_often_are_of_several_bodies_and_tell_nothing() -> None:
    one = [burst(m * HOUR, zone="+01:00") for m in range(9)]
    mixed = [burst(m * HOUR + 5, body="two", zone=("+01:00", "+03:00")[m % 2]) for m in range(8)]
    assert clock_hints(TRIP, by_time(one + mixed)) == []


@pytest.mark.parametrize("set_anew", [True, False])
def test_a_clock_that_was_off_in_a_part_of_the_trip_is_asked_about_in_that_part(set_anew: bool) -> None:
    """No zone is recorded; body two agrees on one day and is two hours ahead on the other."""
    first = [HOUR * m**1.5 for m in range(5)]
    second = [DAY + 17 * m**1.7 for m in range(9)]
    one = [burst(m) for m in [*first, *second]]
    agrees, off = (first, second) if set_anew else (second, first)
    two = [burst(m + 0.5, body="two") for m in agrees]
    two += (ahead := [burst(m + 0.5 + 2 * HOUR, body="two") for m in off])
    (hint,) = clock_hints(TRIP, by_time(one + two))
    assert (hint.body, hint.hours, hint.stated) == ("two", -2, False)
    assert (hint.said.from_at, hint.said.to_at) == (ahead[0].camera_first_at, ahead[-1].camera_last_at)


def test_days_without_a_meeting_belong_to_the_clock_that_was_off_all_along() -> None:
    minutes = [17 * m**1.7 for m in range(9)]
    one = [burst(m) for m in [*minutes, 3 * DAY, 4 * DAY]]
    two = [burst(m + 0.5 + 60, body="two") for m in minutes[:-1]]
    two += (alone := [burst(m, body="two") for m in (-5 * DAY, -4 * DAY + 30)])
    (hint,) = clock_hints(TRIP, by_time(one + two))
    assert (hint.hours, hint.said.from_at) == (-1, alone[0].camera_first_at)


def dates(body: str, first: str, last: str, frames: int = 50) -> BodyDates:
    return BodyDates(folder="card", body=body, trip_id=1, first_at=first, last_at=last, frames=frames)


def test_a_date_in_the_future_is_told_once() -> None:
    found = date_hints(
        [dates("one", "2026-04-18", "2026-04-19"), dates("two", "2099-01-01", "2099-01-02")],
        today=date(2026, 4, 20),
    )
    assert [(hint.body, hint.other) for hint in found] == [("two", None)]
    assert "2099-01-02, which lies in the future" in question(found[0])


def test_bodies_of_one_folder_that_are_years_apart_are_told_once() -> None:
    few = dates("two", "2015-01-01", "2015-01-02", frames=7)
    (hint,) = date_hints([dates("one", "2026-04-18", "2026-04-19"), few], today=date(2026, 4, 20))
    assert (hint.body, hint.other and hint.other.body) == ("two", "one")
    assert "about 11 years" in question(hint)


def test_an_archive_of_years_is_no_clock_that_was_off() -> None:
    archive = [dates("one", "2015-01-01", "2019-12-31"), dates("two", "2021-01-01", "2026-01-01")]
    assert date_hints(archive, today=date(2026, 4, 20)) == []


BRIGHT: dict[str, Any] = {"lens": "Bright 300mm f/4", "f_number": 4.0, "focal_mm": 300.0}


def three_ways(count: int) -> list[Shot]:
    """Bare, behind a silent 1.4x, and behind a 2x that the camera records, over and over, in one light.

    Behind the silent converter the camera writes down f/4 where f/5.6 was in effect: a stop darker.
    """
    shots: list[Shot] = []
    for cycle in range(count):
        for place, more in enumerate(
            (
                {"iso": 400, **BRIGHT},
                {"iso": 800, **BRIGHT},
                {"iso": 1600, **BRIGHT, "focal_mm": 600.0, "f_number": 8.0},
            )
        ):
            for frame in range(3):
                number = len(shots) + 1
                after_s = (3 * cycle + place) * 60 + frame * 0.2
                shots.append(Shot(number=number, after_s=after_s, **more))
    return shots


def test_accepting_every_hint_changes_the_true_frames_and_no_others(tmp_path: Path) -> None:
    """27 suspected bursts between bare ones and ones with a recorded 2x: a span over them would be wrong."""
    write_card(tmp_path / "card", three_ways(27))
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        before = [tuple(row) for row in book.query("SELECT frame_id, converter_factor FROM inferred")]
        silent = {row[0] for row in book.query("SELECT frame_id FROM frames WHERE iso = 800")}
        offered = [hint for hint in hints(book) if isinstance(hint, ConverterHint)]
        assert sum(len(hint.bursts) for hint in offered) == 27
        assert len(offered) == 1  # one question
        number, effect = declare(book, Settings(), [hint.said for hint in offered])
        assert set(effect.changed) == silent
        factors = {row[0]: row[1] for row in book.query("SELECT frame_id, converter_factor FROM inferred")}
        assert {frame_id for frame_id, factor in factors.items() if factor == 1.4} == silent
        assert sorted(factors.values()) == [1.0] * 81 + [1.4] * 81 + [2.0] * 81
        assert hints(book) == []
        undo(book, Settings(), number)
        after = [tuple(row) for row in book.query("SELECT frame_id, converter_factor FROM inferred")]
        assert after == before
        assert hints(book) == offered


def test_what_was_rejected_does_not_come_back(tmp_path: Path) -> None:
    write_card(tmp_path / "card", three_ways(3))
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        found = hints(book)
        number, effect = declare(book, Settings(), [hint.rejected for hint in found])
        assert effect.changed == []
        assert hints(book) == []
        undo(book, Settings(), number)
        assert hints(book) == found


def test_a_hint_belongs_to_its_trip_and_a_body_of_another_year_to_its_own(tmp_path: Path) -> None:
    years_s = 8 * 365 * 86_400.0
    shots = [*three_ways(2), *(Shot(number=90 + n, after_s=-years_s + n, serial="2002") for n in range(3))]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        old, new = (row[0] for row in book.query("SELECT trip_id FROM trips ORDER BY first_at"))
        every = hints(book)
        assert [(hint.trip.trip_id, type(hint)) for hint in every] == [(old, DateHint), (new, ConverterHint)]
        assert hints(book, old) == every[:1]
        assert hints(book, new) == every[1:]
        declare(book, Settings(), [every[0].rejected])
        assert hints(book) == every[1:]


def test_a_clock_put_right_by_a_hint_gives_no_hint_afterwards(tmp_path: Path) -> None:
    minutes = [0, 17, 31, 58, 76, 101, 140]
    shots = [Shot(number=n, after_s=m * 60) for n, m in enumerate(minutes)]
    shots += [Shot(number=50 + n, after_s=m * 60 - 7200 + 20, serial="2002") for n, m in enumerate(minutes)]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        (hint,) = hints(book)
        assert hint.said is not None
        _number, effect = declare(book, Settings(), [hint.said])
        assert len(effect.changed) == 7
        assert hints(book) == []


def test_the_silent_converter_of_the_sample_trip_is_found_and_nobody_else_is_suspected(
    tmp_path: Path,
) -> None:
    logbook = tmp_path / "logbook.sqlite"
    scan(logbook, [SAMPLE], Settings())
    with (SAMPLE / "truth.csv").open(encoding="utf-8", newline="") as stream:
        silent = {
            Path(row["file"]).name
            for row in csv.DictReader(stream)
            if (row["body"][-2:], row["converter_factor"]) == ("S2", "1.4")
        }
    with open_logbook(logbook) as book:
        found = hints(book)
        assert {(type(hint), hint.body) for hint in found} == {(ConverterHint, "S2-10093")}
        assert {hint.body_name for hint in found} == {"Saltmark S2"}
        assert heading(found[0]).startswith("Saltmark S2, 2026-04-18 ")
        effect = declare(book, Settings(), [hint.said for hint in found if hint.said is not None])[1]
        names = {row[0]: Path(row[1]).name for row in book.query("SELECT frame_id, path FROM frame_facts")}
        assert {names[frame_id] for frame_id in effect.changed} <= silent
        assert len(effect.changed) > len(silent) / 3
        assert hints(book) == []


PHONE = Shot(
    model="Pocket", serial=None, lens="Pocket back camera 5.4mm f/1.8", focal_mm=5.4, f_number=1.8, crop=4.8
)


@pytest.mark.parametrize(
    ("other", "asked"),
    [
        (PHONE, True),
        (
            replace(PHONE, lens="Pocket 150mm f/4", focal_mm=150.0, f_number=4.0),
            False,
        ),  # a bridge camera at its long end
        (replace(PHONE, crop=2.0, focal_mm=12.0), False),  # a wide lens on a camera with a small sensor
    ],
)
def test_a_phone_among_cameras_is_asked_about(tmp_path: Path, other: Shot, asked: bool) -> None:
    write_card(tmp_path / "card", [Shot(number=1), replace(other, number=2, after_s=900.0)])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        found = hints(book)
        assert [type(hint) for hint in found] == ([PhoneHint] if asked else [])
        assert not asked or "Pocket took 1 frame with a sensor as small as a phone's" in question(found[0])


def test_no_converter_is_suspected_on_a_phone(tmp_path: Path) -> None:
    """It reads two stops darker than the camera beside it: EV 9.9 by f/1.8 at ISO 330, and 11.9 (D)."""
    phone = replace(PHONE, number=2, after_s=60.0, iso=330)
    write_card(tmp_path / "card", [Shot(number=1), phone])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        camera, pocket = (burst.light_value_ev or 0.0 for burst in bursts_of_trip(book, 1))
        assert camera - pocket == pytest.approx(2.0, abs=0.1)
        assert [type(hint) for hint in hints(book)] == [PhoneHint]


def test_a_phone_by_itself_is_what_the_trip_was_taken_with(tmp_path: Path) -> None:
    write_card(tmp_path / "card", [replace(PHONE, number=number) for number in (1, 2)])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert hints(book) == []


def test_a_phone_alone_on_a_trip_is_asked_about_where_another_trip_has_a_camera(tmp_path: Path) -> None:
    """No plan ranks it, so there must be a question to answer."""
    write_card(tmp_path / "card", [Shot(number=1), replace(PHONE, number=2, after_s=90 * 24 * 3600.0)])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert [type(hint) for hint in hints(book)] == [PhoneHint]


@pytest.mark.parametrize("accept", [True, False])
def test_a_phone_that_was_answered_is_not_asked_about_again(tmp_path: Path, accept: bool) -> None:
    """Left out, it is in no table, on no trip; kept, it stays in them."""
    month_s = 30 * 24 * 3600.0
    shots = [Shot(number=1), replace(PHONE, number=2), Shot(number=3, after_s=month_s)]
    write_card(tmp_path / "card", [*shots, replace(PHONE, number=4, after_s=month_s)])
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        first, _second = hints(book)
        assert isinstance(first, PhoneHint)
        declare(book, Settings(), [first.said if accept else first.rejected])
        assert hints(book) == []
        assert sum(row.frames for row in kit_table(book)) == (2 if accept else 4)
