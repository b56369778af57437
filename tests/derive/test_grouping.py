"""Bursts, encounters, scenes and trips."""

from __future__ import annotations

from auditor.derive.grouping import Shot, begins_trip, bursts, encounters
from auditor.settings import Settings

SETTINGS = Settings()


def shot(
    frame_id: int,
    taken_s: float,
    *,
    body: str = "one",
    kit_id: int = 1,
    number: int | None = None,
    light_ev: float | None = 12.0,
) -> Shot:
    return Shot(
        frame_id=frame_id,
        taken_s=taken_s,
        body=body,
        kit_id=kit_id,
        file_number=number,
        light_value_ev=light_ev,
    )


def ids(groups: list[list[Shot]]) -> list[list[int]]:
    return [[one.frame_id for one in group] for group in groups]


def bursts_of(*shots: Shot) -> list[list[int]]:
    return ids([burst.shots for burst in bursts(shots, SETTINGS)])


def encounters_of(*shots: Shot) -> list[list[int]]:
    return ids([encounter.shots for encounter in encounters(bursts(shots, SETTINGS), SETTINGS)])


def test_a_burst_goes_on_up_to_the_gap_and_no_further() -> None:
    assert bursts_of(shot(1, 0.0), shot(2, 1.0), shot(3, 2.001)) == [[1, 2], [3]]


def test_a_gap_of_exactly_the_setting_goes_on_whatever_floats_make_of_it() -> None:
    """Seconds since 1970 with hundredths: of two that are .30 s apart the difference is often .3000002."""
    settings = Settings(burst_gap_s=0.3)
    for hundredths in range(100):
        first_s, second_s, late_s = (1_776_500_000 + (hundredths + more) / 100 for more in (0, 30, 31))
        assert len(bursts([shot(1, first_s), shot(2, second_s)], settings)) == 1
        assert len(bursts([shot(1, first_s), shot(2, late_s)], settings)) == 2


def test_two_bodies_never_share_a_burst() -> None:
    assert bursts_of(shot(1, 0.0), shot(2, 0.1, body="two"), shot(3, 0.2)) == [[1, 3], [2]]


def test_frames_of_one_second_are_ordered_by_file_number() -> None:
    assert bursts_of(shot(1, 5, number=12), shot(2, 5, number=11), shot(3, 5, number=10)) == [[3, 2, 1]]


def test_file_numbers_wrap_from_9999_to_0001() -> None:
    numbers = [9998, 9999, 1, 2]
    shuffled = [shot(n, 5, number=n) for n in (2, 9999, 1, 9998)]
    assert bursts_of(*shuffled) == [numbers]


def test_sub_second_time_comes_before_the_file_number() -> None:
    assert bursts_of(shot(1, 5.5, number=1), shot(2, 5.1, number=2)) == [[2, 1]]


def test_an_encounter_takes_in_both_bodies() -> None:
    assert encounters_of(shot(1, 0), shot(2, 60, body="two"), shot(3, 120)) == [[1, 2, 3]]


def test_an_encounter_ends_with_a_pause_of_ten_minutes() -> None:
    assert encounters_of(shot(1, 0), shot(2, 599), shot(3, 1199)) == [[1, 2], [3]]


def test_a_pause_begins_when_the_last_of_two_bodies_has_stopped() -> None:
    """One body goes on for five minutes, the other takes a frame: the pause is of 9 minutes, not of 14."""
    long_burst = [shot(n, float(n)) for n in range(301)]
    groups = encounters_of(*long_burst, shot(400, 10.5, body="two"), shot(401, 850.0))
    assert [len(group) for group in groups] == [303]


def test_an_encounter_does_not_grow_beyond_half_an_hour() -> None:
    """A sitting of four hours with a burst every three minutes is no single encounter."""
    sitting = [shot(n, n * 180.0) for n in range(80)]
    groups = encounters_of(*sitting)
    assert max(len(group) for group in groups) == 11  # 0 to 30 minutes, both ends in
    assert sum(len(group) for group in groups) == 80


def test_an_encounter_ends_when_the_light_has_changed_by_more_than_a_stop() -> None:
    fading = [shot(n, n * 60.0, light_ev=12 - n * 0.4) for n in range(6)]
    assert encounters_of(*fading) == [[0, 1, 2], [3, 4, 5]]


def test_the_light_of_an_encounter_spans_a_stop_whichever_way_it_went() -> None:
    """Up by .6 and down by 1.1: the last is half a stop from the first, and 1.1 from the one between."""
    there_and_back = [shot(1, 0, light_ev=12.0), shot(2, 60, light_ev=12.6), shot(3, 120, light_ev=11.5)]
    assert encounters_of(*there_and_back) == [[1, 2], [3]]


def test_light_at_zero_is_light_all_the_same() -> None:
    assert encounters_of(shot(1, 0, light_ev=2.0), shot(2, 60, light_ev=0.0)) == [[1], [2]]


def test_one_odd_frame_in_a_burst_does_not_split_it() -> None:
    one_burst = [shot(1, 0.0), shot(2, 0.2, light_ev=9.0), shot(3, 0.4), shot(4, 0.6)]
    assert encounters_of(*one_burst, shot(5, 60)) == [[1, 2, 3, 4, 5]]


def test_frames_that_do_not_tell_the_light_do_not_split() -> None:
    assert encounters_of(shot(1, 0), shot(2, 60, light_ev=None), shot(3, 120)) == [[1, 2, 3]]


def test_scenes_are_the_kits_of_an_encounter() -> None:
    (encounter,) = encounters(
        bursts([shot(1, 0, kit_id=7), shot(2, 60, kit_id=8), shot(3, 120, kit_id=7)], SETTINGS), SETTINGS
    )
    assert {kit: [one.frame_id for one in shots] for kit, shots in encounter.scenes().items()} == {
        7: [1, 3],
        8: [2],
    }


def trips_of(*hours: float) -> list[int]:
    shots = [shot(n, hour * 3600) for n, hour in enumerate(hours)]
    trips: list[list[float]] = []
    for encounter in encounters(bursts(shots, SETTINGS), SETTINGS):
        if not trips or begins_trip(encounter, trips[-1][0], trips[-1][-1], SETTINGS):
            trips.append([])
        trips[-1].append(encounter.last_s)
    return [len(trip) for trip in trips]


def test_a_night_does_not_end_a_trip_but_two_days_without_a_frame_do() -> None:
    assert trips_of(0, 12, 48, 84.5) == [3, 1]


def test_a_trip_lasts_three_weeks_at_most() -> None:
    assert trips_of(*range(0, 24 * 30, 24)) == [22, 8]


def test_an_encounter_that_ends_after_three_weeks_begins_the_next_trip() -> None:
    """A trip is 21 days in all, so an encounter across that moment is no part of it."""
    three_weeks_h = 21 * 24
    assert trips_of(*range(0, three_weeks_h, 24), three_weeks_h - 0.1, three_weeks_h + 0.05) == [21, 1]
    assert trips_of(*range(0, three_weeks_h, 24), three_weeks_h - 0.1, three_weeks_h - 0.05) == [22]
