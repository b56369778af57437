"""Whether the zones that bodies record can be true, told by file numbers and by what they met."""

from __future__ import annotations

from array import array
from collections.abc import Sequence

import numpy as np
import pytest

from auditor.derive.zoned_body import ZonedBody

MINUTE, HOUR, DAY = 60.0, 3600.0, 86_400.0
TRIPS = 40


def body(frames: Sequence[tuple[float, float]], numbers: Sequence[int] | None = None) -> ZonedBody:
    """A body of frames: own time in seconds and zone in hours; numbered as they are given."""
    known = numbers or range(len(frames))
    ordered = sorted(
        (own_s, number, zone * HOUR) for (own_s, zone), number in zip(frames, known, strict=True)
    )
    own, number, zone = zip(*ordered, strict=True)
    return ZonedBody.of(array("d", own), array("d", zone), array("d", map(float, number)))


def shown(universal_min: float, zone: float) -> tuple[float, float]:
    """A frame whose clock shows the time of its zone."""
    return universal_min * MINUTE + zone * HOUR, zone


@pytest.mark.parametrize(
    ("pause_min", "trusted"),
    [
        (1, True),  # one animal: the zone was set between two bursts
        (5, False),  # set on the way, or a pause of 65 minutes and a zone put right that was wrong: who knows
        (20, True),  # a pause by either time
    ],
)
def test_a_zone_an_hour_ahead_from_some_frame_on(pause_min: float, trusted: bool) -> None:
    frames = [shown(0, 1), shown(1, 1), shown(1 + pause_min, 2), shown(2 + pause_min, 2)]
    assert body(frames).goes_with_its_zone() == trusted


def test_a_clock_that_goes_on_as_its_zone_changes_was_right_before() -> None:
    """An hour back, an hour later: by its own time it is one animal, as it was read until now."""
    assert not body([shown(0, 2), shown(1, 2), shown(62, 1), shown(63, 1)]).goes_with_its_zone()


def test_where_hours_come_twice_the_file_numbers_say_in_which_order() -> None:
    flown = [shown(m, 9) for m in (0, 30, 60)] + [shown(m, 1) for m in (480, 500, 530)]
    assert body(flown).goes_with_its_zone()
    own_order = sorted(range(6), key=lambda place: flown[place][0])
    assert not body(flown, [own_order.index(place) for place in range(6)]).goes_with_its_zone()
    assert not body(flown, [7] * 6).goes_with_its_zone()
    assert body(flown, [9998, 9999, 1, 2, 3, 4]).goes_with_its_zone()


def test_zones_that_change_too_often_are_of_several_bodies() -> None:
    assert not body([shown(60 * m, (1, 3)[m % 2]) for m in range(8)]).goes_with_its_zone()


def trip(kind: str, seed: int) -> list[ZonedBody]:
    """Two bodies on animals of some days, often on the same; flown to another zone in the middle."""
    chance = np.random.default_rng(seed)
    days, animals, both = int(chance.integers(2, 6)), int(chance.integers(6, 16)), chance.uniform(0.2, 0.8)
    home = float(chance.choice([1, -5, 8]))
    away = home + float(chance.choice([-9, -8, -1, 1, 4.5, 4.75, 7, 8]))
    flown_s = DAY * days / 2 + chance.uniform(-2, 2) * HOUR
    frames: tuple[list[tuple[float, float, float]], ...] = ([], [])
    for animal in range(days * animals):
        begins = DAY * (animal % days) + chance.uniform(6, 19) * HOUR
        with_both = chance.uniform() < both and not kind.endswith("apart")
        for which in (0, 1) if with_both else (int(chance.uniform() > 0.6),):
            for moment_s in begins + chance.uniform(0, 300, chance.integers(1, 4)):
                there = away if moment_s > flown_s else home
                corrected = there if moment_s > flown_s + 0.6 * DAY else home
                own, zone = {
                    "left at home time": (home, home) if which else (there, there),
                    "set with its zone": (there, there),
                    "set by hand": (there, home if which else there),
                    "set by hand, apart": (there, home if which else there),
                    "both set by hand": (there, home),
                    "set by hand, the zone of one later": (there, home if which else corrected),
                    "an hour of summer time that its zone leaves out": (2.0, 1.0 if which else 2.0),
                }[kind]
                frames[which].append((moment_s, moment_s + own * HOUR, zone))
    return [
        body([(own_s, zone) for _moment, own_s, zone in sorted(of_body)]) for of_body in frames if of_body
    ]


@pytest.mark.parametrize(
    ("kind", "least", "most"),
    [
        ("left at home time", 0.7, 1.0),
        ("set with its zone", 0.9, 1.0),
        ("set by hand", 0.0, 0.0),
        ("set by hand, apart", 0.0, 0.05),  # chance alone may let them meet
        ("set by hand, the zone of one later", 0.0, 0.0),
        ("an hour of summer time that its zone leaves out", 0.0, 0.0),
    ],
)
def test_zones_that_are_true_are_trusted_and_those_of_clocks_set_by_hand_are_not(
    kind: str, least: float, most: float
) -> None:
    trusted = 0
    for seed in range(TRIPS):
        one, other = trip(kind, seed)
        trusted += one.goes_with_its_zone() and other.goes_with_its_zone() and one.meets(other)
    assert least <= trusted / TRIPS <= most


def test_both_set_by_hand_in_one_wrong_zone_are_as_their_clocks_have_it() -> None:
    """One zone for all adds the same to every time."""
    one, other = trip("both set by hand", 1)
    assert len({*one.zone_s, *other.zone_s}) == 1
    assert one.meets(other)
