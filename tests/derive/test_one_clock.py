"""Frames of several time zones: ordered and grouped by universal time where their zones can be trusted.

Zones are recorded as Exif has them since 2.31 (CIPA DC-008, OffsetTimeOriginal 0x9011).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from auditor.analysis.hint_kinds import ClockHint
from auditor.analysis.hints import hints
from auditor.derive import grouping
from auditor.derive.declaring import declare, undo
from auditor.derive.rebuild import rebuild
from auditor.derive.regrouping import regroup
from auditor.frames.declared import Declared
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import derived
from auditor.store.declared_facts import ClockFacts, Said
from auditor.store.encounter_frames import encounters_of_trip, frames_of_encounter
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card

MINUTE, HOUR, DAY = 60.0, 3600.0, 86_400.0
ANIMALS = [17 * MINUTE * n**1.3 for n in range(12)]
"""When one animal after another came, in seconds: no two pauses are alike."""


def at(
    number: int, true_s: float, zone: str | None, *, body: str = "1001", own_h: float | None = None
) -> Shot:
    """A frame of a moment by universal time; its clock shows that of its zone, or `own_h` hours more."""
    hours = own_h if own_h is not None else hours_of(zone)
    return Shot(number=number, after_s=true_s + hours * HOUR, serial=body, utc_offset=zone)


def shifts(book: Logbook) -> set[int]:
    return {row[0] for row in book.query("SELECT DISTINCT shift_s FROM membership")}


def hours_of(zone: str | None) -> float:
    if zone is None:
        return 0.0
    sign, hours, minutes = zone[0], zone[1:3], zone[4:]
    return (-1 if sign == "-" else 1) * (int(hours) + int(minutes) / 60)


Groups = set[frozenset[int]]


def grouped(folder: Path, shots: Sequence[Shot], kind: str = "encounter") -> Groups:
    """File numbers of the frames of each group of a kind, of a card by itself."""
    write_card(folder / "card", list(shots))
    scan(folder / "logbook.sqlite", [folder / "card"], Settings())
    with open_logbook(folder / "logbook.sqlite") as book:
        return groups_in(book, kind)


def groups_in(book: Logbook, kind: str = "encounter") -> Groups:
    found: dict[int, set[int]] = {}
    for row in book.query(
        f"SELECT m.{kind}_id, f.file_number FROM membership AS m JOIN frames AS f USING (frame_id)"
    ):
        found.setdefault(row[0], set()).add(row[1])
    return {frozenset(numbers) for numbers in found.values()}


def by_own_times(folder: Path, shots: Sequence[Shot]) -> Groups:
    """Encounters of the same frames where no zone is recorded: as their clocks have it."""
    return grouped(folder / "no zones", [replace(shot, utc_offset=None) for shot in shots])


def side_by_side(zone: str | None, other_zone: str | None, **other: float) -> list[Shot]:
    """Two bodies on one animal after another, a frame each, 20 s apart."""
    one = [at(n, s, zone) for n, s in enumerate(ANIMALS, 1)]
    return one + [at(50 + n, s + 20, other_zone, body="2002", **other) for n, s in enumerate(ANIMALS, 1)]


TOGETHER = {frozenset({n, 50 + n}) for n in range(1, 13)}


# One body.


@pytest.mark.parametrize(("zone", "then"), [("+09:00", "+01:00"), ("+01:00", "+09:00"), ("+05:45", "+05:30")])
@pytest.mark.parametrize(("kind", "apart_s"), [("burst", 0.4), ("encounter", 60.0)])
def test_a_zone_set_in_the_middle_breaks_neither_burst_nor_encounter(
    tmp_path: Path, zone: str, then: str, kind: str, apart_s: float
) -> None:
    """The clock goes hours ahead or back between two frames; universal time does not."""
    shots = [at(n, n * apart_s, zone if n <= 3 else then) for n in range(1, 7)]
    assert grouped(tmp_path, shots, kind) == {frozenset(range(1, 7))}


def test_frames_from_before_a_flight_west_do_not_mix_with_those_after_it(tmp_path: Path) -> None:
    """Flown 9 hours from Tokyo to London: the same hours of the day come twice."""
    home = [at(n, 100 * HOUR + n * MINUTE, "+09:00") for n in range(1, 6)]
    there = [at(10 + n, 109 * HOUR + n * MINUTE, "+00:00") for n in range(1, 6)]
    assert grouped(tmp_path, [*home, *there]) == {frozenset(range(1, 6)), frozenset(range(11, 16))}
    assert by_own_times(tmp_path, [*home, *there]) == {frozenset([*range(1, 6), *range(11, 16)])}


def test_the_hour_that_comes_twice_when_summer_time_ends(tmp_path: Path) -> None:
    """A badger set, watched all night: a frame every 11 minutes, and from 3:00 on it is 2:00 again."""
    shots = [at(n, n * 11 * MINUTE, "+02:00" if n < 8 else "+01:00") for n in range(1, 16)]
    assert grouped(tmp_path, shots) == {frozenset({n}) for n in range(1, 16)}
    assert len(by_own_times(tmp_path, shots)) < 12


def test_a_clock_set_by_hand_whose_zone_is_set_later_stays_as_it_was(tmp_path: Path) -> None:
    """Abroad at +09:00 by hand, its zone at +01:00 until the fourth frame: its times were right."""
    shots = [at(n, n * 4 * MINUTE, "+01:00" if n <= 3 else "+09:00", own_h=9) for n in range(1, 8)]
    assert grouped(tmp_path, shots) == by_own_times(tmp_path, shots) == {frozenset(range(1, 8))}


def test_no_file_numbers_and_two_orders_leave_frames_in_their_own(tmp_path: Path) -> None:
    flown = [at(n, n * MINUTE, "+09:00" if n <= 3 else "+01:00") for n in range(1, 7)]
    write_card(tmp_path / "card", flown)
    for shot in flown:
        path = tmp_path / "card" / "DCIM" / "100TEST" / f"TST_{shot.number:04d}.JPG"
        path.rename(path.with_name(f"{'abcdefg'[shot.number]}.JPG"))
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert book.query("SELECT count(file_number) FROM frames")[0][0] == 0
        assert book.query("SELECT count(*) FROM encounters")[0][0] == 2


# Two bodies.


@pytest.mark.parametrize(
    ("zone", "other_zone"),
    [("+09:00", "+01:00"), ("-08:00", "+13:00"), ("+05:30", "+01:00"), ("+05:45", "+05:30")],
)
def test_two_bodies_in_different_zones_share_their_encounters(
    tmp_path: Path, zone: str, other_zone: str
) -> None:
    shots = side_by_side(zone, other_zone)
    assert grouped(tmp_path, shots) == TOGETHER
    assert by_own_times(tmp_path, shots) != TOGETHER


def test_what_people_read_stays_the_time_of_the_clock(tmp_path: Path) -> None:
    shots = side_by_side("+09:00", "+01:00")
    grouped(tmp_path, shots)
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        same = "SELECT i.taken_at = f.taken_at FROM inferred AS i JOIN frames AS f USING (frame_id)"
        assert {row[0] for row in book.query(same)} == {1}
        (line, *lines) = encounters_of_trip(book, 1)
        assert line.first_at[:16] == line.last_at[:16] == "2026-04-18T15:00"  # the first frame's, +09:00
        assert [(one.frames, one.kits) for one in (line, *lines)] == [(2, 2)] * 12
        frames = frames_of_encounter(book, line.encounter_id)
        assert [frame.taken_at[11:16] for frame in frames] == ["15:00", "07:00"]  # as they were taken


def test_one_body_that_states_no_zone_leaves_all_as_it_was(tmp_path: Path) -> None:
    """Its clock shows the time at home, or the time there: nobody knows."""
    for name, own_h in (("home", 1.0), ("there", 9.0)):
        shots = side_by_side("+09:00", None, own_h=own_h)
        assert grouped(tmp_path / name, shots) == by_own_times(tmp_path / name, shots)


def test_a_clock_set_by_hand_whose_zone_was_left_stays_as_it_was(tmp_path: Path) -> None:
    shots = side_by_side("+09:00", "+01:00", own_h=9.0)
    assert grouped(tmp_path, shots) == TOGETHER
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert shifts(book) == {0}
        assert hints(book) == []


@pytest.mark.parametrize("other_s", [[40 * MINUTE], [n * 7 * MINUTE for n in range(30)]])
def test_bodies_that_do_not_tell_by_meeting_stay_as_they_were_and_are_asked_about(
    tmp_path: Path, other_s: list[float]
) -> None:
    shots = [at(n, s, "+09:00") for n, s in enumerate(ANIMALS, 1)]
    shots += [at(50 + n, 30 * HOUR + s, "+01:00", body="2002") for n, s in enumerate(other_s)]
    assert grouped(tmp_path, shots) == by_own_times(tmp_path, shots)
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        (hint,) = hints(book)
        assert isinstance(hint, ClockHint)
        assert (abs(hint.hours), hint.stated) == (8, True)


def test_both_set_after_a_flight_one_sooner_than_the_other(tmp_path: Path) -> None:
    """Nothing is asked of bodies that state one zone at any time, however they were set."""
    shots = []
    for day, zone in ((0, "+01:00"), (1, "-08:00")):
        shots += [at(20 * day + n, day * DAY + s, zone) for n, s in enumerate(ANIMALS[:6], 1)]
        shots += [
            at(50 + 20 * day + n, day * DAY + s - 20, zone, body="2002") for n, s in enumerate(ANIMALS[:6], 1)
        ]
    assert grouped(tmp_path, shots) == {
        frozenset({more + n, 50 + more + n}) for n in range(1, 7) for more in (0, 20)
    }
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert hints(book) == []


# What the photographer says.


def test_a_hint_that_is_accepted_and_one_that_is_rejected(tmp_path: Path) -> None:
    """Yes puts the clock right and the encounters stay; no means that the zone was wrong."""
    shots = side_by_side("+09:00", "+01:00")
    as_read = by_own_times(tmp_path, shots)
    assert grouped(tmp_path, shots) == TOGETHER
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        (hint,) = hints(book)
        assert isinstance(hint, ClockHint)
        number, _effect = declare(book, Settings(), [hint.said])
        assert (groups_in(book), shifts(book)) == (TOGETHER, {0})
        undo(book, Settings(), number)
        assert (groups_in(book), len(shifts(book))) == (TOGETHER, 2)
        number, _effect = declare(book, Settings(), [hint.rejected])
        assert groups_in(book) == as_read
        undo(book, Settings(), number)
        assert groups_in(book) == TOGETHER


@pytest.mark.parametrize(("offset_s", "trusted"), [(150.0, True), (3600.0, False)])
def test_a_clock_put_right_by_minutes_keeps_its_zone(tmp_path: Path, offset_s: float, trusted: bool) -> None:
    shots = side_by_side("+09:00", "+01:00")
    shots = [replace(s, after_s=s.after_s - 150) if s.serial == "2002" else s for s in shots]
    grouped(tmp_path, shots)
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        declare(book, Settings(), [Said(facts=ClockFacts(offset_s=offset_s), body="2002")])
        assert len(shifts(book)) == (2 if trusted else 1)
        assert (groups_in(book) == TOGETHER) == trusted


# All in all.


def test_cards_that_come_one_after_another_are_grouped_as_at_once(tmp_path: Path) -> None:
    flown = [at(20 + n, 2 * DAY + s, "-08:00") for n, s in enumerate(ANIMALS, 1)]
    flown += [at(80 + n, 2 * DAY + s + 20, "+01:00", body="2002") for n, s in enumerate(ANIMALS, 1)]
    shots = [*side_by_side("+01:00", "+01:00"), *flown]
    at_once = grouped(tmp_path / "at once", shots)
    for place, part in enumerate((flown[12:], shots[:24], flown[:12])):
        write_card(tmp_path / f"card {place}", part)
        scan(tmp_path / "logbook.sqlite", [tmp_path / f"card {place}"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert groups_in(book) == at_once
        assert len(at_once) == 24
        with book.writing():
            book.execute("UPDATE trips SET stamp = 'older'")
        before = book.query("SELECT * FROM membership ORDER BY frame_id")
        rebuild(book, Settings())
        after = book.query("SELECT * FROM membership ORDER BY frame_id")
        assert [tuple(row) for row in after] == [tuple(row) for row in before]


def test_an_older_logbook_is_grouped_anew_once(tmp_path: Path) -> None:
    """As the auditor before this wrote it: by the times that frames record."""
    shots = side_by_side("+09:00", "+01:00")
    write_card(tmp_path / "card", shots)
    with pytest.MonkeyPatch.context() as before:
        before.setattr("auditor.derive.freshness.VERSION", "11")
        before.setattr("auditor.store.zones.zones_by_day", lambda *_span: [])
        scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        assert groups_in(book) == by_own_times(tmp_path, shots)
        rebuild(book, Settings())
        assert groups_in(book) == TOGETHER


@pytest.fixture(scope="module")
def plain(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logbook]:
    """24 frames of two bodies whose times and zones an example sets."""
    folder = tmp_path_factory.mktemp("plain")
    grouped(folder, [at(n, n * HOUR, None, body=str(1001 + n % 2)) for n in range(1, 25)])
    with open_logbook(folder / "logbook.sqlite") as book:
        yield book


def groups_of_all(book: Logbook) -> list[tuple[object, ...]]:
    span = derived.whole_span(book)
    assert span is not None
    regroup(book, Declared(), Settings(), "now", span)
    return [
        tuple(row)
        for table, order in (("membership", "frame_id"), ("encounters", 1), ("bursts", 1))
        for row in book.query(f"SELECT * FROM {table} ORDER BY {order}")
    ]


def take(book: Logbook, moments: Sequence[int]) -> None:
    """Give frames other times, seconds after one moment."""
    for table in ("frames", "inferred"):
        book.execute_many(
            f"UPDATE {table} SET taken_at = datetime('2026-04-18T06:00', ? || ' seconds') WHERE frame_id = ?",
            [(second, frame_id) for frame_id, second in enumerate(moments, 1)],
        )


MOMENTS = st.lists(
    st.one_of(st.integers(0, 120_000), st.integers(0, 4000), st.integers(0, 60)), min_size=24, max_size=24
)
ZONES = st.sampled_from(["+00:00", "+01:00", "-08:00", "+05:45", "+13:00", "-03:30"])


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moments=MOMENTS, zone=ZONES)
def test_where_all_zones_are_the_same_or_none_is_recorded_nothing_changes(
    plain: Logbook, moments: list[int], zone: str
) -> None:
    """Against the plain way: all frames of one list, by the times that they record."""
    with plain.writing():
        take(plain, moments)
        plain.execute("UPDATE frames SET utc_offset = NULL")
        without = groups_of_all(plain)
        plain.execute("UPDATE frames SET utc_offset = ?", (zone,))
        assert groups_of_all(plain) == without
        assert shifts(plain) == {0}
        shots = [
            grouping.Shot(frame_id=frame_id, taken_s=second, body=str(frame_id % 2), kit_id=1)
            for frame_id, second in enumerate(moments, 1)
        ]
        encounters = grouping.encounters(grouping.bursts(shots, Settings()), Settings())
        assert groups_in(plain) == {frozenset(s.frame_id for s in each.shots) for each in encounters}


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(moments=MOMENTS, zones=st.lists(ZONES, min_size=24, max_size=24))
def test_whatever_zones_are_recorded_frames_are_grouped_by_their_own_times_or_by_universal_time(
    plain: Logbook, moments: list[int], zones: list[str]
) -> None:
    """Never by a mixture: on two days, all frames have the one or the other order."""
    with plain.writing():
        take(plain, moments)
        plain.execute_many(
            "UPDATE frames SET utc_offset = ? WHERE frame_id = ?",
            [(zone, frame_id) for frame_id, zone in enumerate(zones, 1)],
        )
        groups_of_all(plain)
        either = []
        for hours in ([0.0] * 24, [hours_of(zone) for zone in zones]):
            shots = [
                grouping.Shot(frame_id=n, taken_s=second - own * HOUR, body=str(n % 2), kit_id=1)
                for n, (second, own) in enumerate(zip(moments, hours, strict=True), 1)
            ]
            encounters = grouping.encounters(grouping.bursts(shots, Settings()), Settings())
            either.append({frozenset(s.frame_id for s in each.shots) for each in encounters})
        assert groups_in(plain) in either
