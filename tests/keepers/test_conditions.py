"""The filter: every condition, missing facts, order of conditions, the best of each burst."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.keepers.conditions import Candidate, Conditions, passing


def row(frame_id: int = 1, **more: Any) -> Candidate:
    facts: dict[str, Any] = {
        "frame_id": frame_id, "trip_id": 1, "path": f"/card/{frame_id}.JPG", "verdict": "hit",
        "camera_word": "confirmed", "blur_px": 0.7, "blur_um": 4.2,
        "blur_urad": 8.4, "iso": 800.0, "forced_push_ev": 1.0,
        "scene_id": 3, "burst_id": 2, "taken_at": "2026-04-18T09:30:00.10",
        "keywords": ["otter"], "rating": 4, "flags": ["iso_pushed"], **more,
    }  # fmt: skip
    return Candidate(**facts)


@pytest.mark.parametrize(
    ("conditions", "passes"),
    [
        (Conditions(), True),
        (Conditions(verdicts=("miss",)), False),
        (Conditions(camera_words=("confirmed", "silent")), True),
        (Conditions(camera_words=("manual",)), False),
        (Conditions(most_blur_px=0.7), True),
        (Conditions(most_blur_px=0.69), False),
        (Conditions(most_blur_um=4.0), False),
        (Conditions(most_blur_urad=8.5), True),
        (Conditions(most_iso=799), False),
        (Conditions(most_push_ev=1.0), True),
        (Conditions(from_at="2026-04-18", to_at="2026-04-18"), True),
        (Conditions(from_at="2026-04-18T10:00"), False),
        (Conditions(to_at="2026-04-18T09:30"), True),
        (Conditions(to_at="2026-04-17"), False),
        (Conditions(keyword="otter"), True),
        (Conditions(keyword="heron"), False),
        (Conditions(least_rating=5), False),
        (Conditions(flags=("iso_pushed",)), True),
        (Conditions(flags=("smeared",)), False),
        (Conditions(without_flags=("iso_pushed",)), False),
    ],
)
def test_each_condition(conditions: Conditions, passes: bool) -> None:
    assert bool(passing([row()], conditions).kept) is passes


@pytest.mark.parametrize(
    ("column", "conditions"),
    [
        ("blur_px", Conditions(most_blur_px=9)),
        ("iso", Conditions(most_iso=99999)),
        ("forced_push_ev", Conditions(most_push_ev=9)),
        ("rating", Conditions(least_rating=0)),
        ("taken_at", Conditions(from_at="1900")),
        ("keywords", Conditions(keyword="otter")),
    ],
)
def test_a_fact_that_is_not_known_does_not_pass_and_is_counted(column: str, conditions: Conditions) -> None:
    found = passing([row(1, **{column: None})], conditions)
    assert found.kept == []
    assert sum(found.taken_away.values()) == 1


def test_unclear_frames_are_kept_apart_unless_they_are_taken_in() -> None:
    rows = [row(1), row(2, verdict="unclear"), row(3, verdict="unclear", iso=6400)]
    apart = passing(rows, Conditions(most_iso=1000))
    assert ([one.frame_id for one in apart.kept], [one.frame_id for one in apart.unclear]) == ([1], [2])
    inside = passing(rows, Conditions(most_iso=1000, unclear_in=True))
    assert [one.frame_id for one in inside.kept] == [1, 2]
    assert inside.unclear == []


def test_each_condition_is_told_what_it_takes_away_alone() -> None:
    rows = [row(1, iso=6400, rating=1), row(2, iso=6400), row(3, verdict="miss"), row(4)]
    found = passing(rows, Conditions(most_iso=1000, least_rating=3))
    assert found.taken_away == {"ISO": 2, "rating": 1, "verdict": 1}
    assert (found.frames, len(found.kept)) == (4, 1)


rows_of_any_kind = st.lists(
    st.builds(
        row,
        frame_id=st.integers(1, 10**6),
        verdict=st.sampled_from(["hit", "miss", "unclear"]),
        iso=st.one_of(st.none(), st.integers(50, 25600)),
        rating=st.one_of(st.none(), st.integers(-1, 5)),
        burst_id=st.one_of(st.none(), st.integers(1, 4)),
        blur_px=st.one_of(st.none(), st.floats(0.3, 12)),
        camera_word=st.sampled_from([None, "confirmed", "silent", "manual"]),
        taken_at=st.sampled_from(
            [None, "2026-04-18T09:30:00.10", "2026-04-18T09:31:00.10", "2026-04-17T23:59:59"]
        ),
        scene_id=st.one_of(st.none(), st.integers(2, 4)),
        flags=st.lists(st.sampled_from(["iso_pushed", "smeared"]), unique=True),
    ),
    max_size=30,
    unique_by=lambda one: one.frame_id,
)


@given(rows_of_any_kind)
def test_conditions_compose_in_any_order(rows: list[Candidate]) -> None:
    iso, rating = Conditions(most_iso=1600), Conditions(least_rating=3)
    both = passing(rows, replace(iso, least_rating=3)).kept
    assert passing(passing(rows, iso).kept, rating).kept == both
    assert passing(passing(rows, rating).kept, iso).kept == both


one_condition = st.one_of(
    st.builds(Conditions, most_iso=st.integers(50, 25600)),
    st.builds(Conditions, least_rating=st.integers(-1, 5)),
    st.builds(
        Conditions, camera_words=st.sampled_from([("confirmed",), ("silent", "confirmed"), ("manual",)])
    ),
    st.builds(Conditions, from_at=st.sampled_from(["2026-04-18", "2026-04-18T09:31"])),
    st.builds(Conditions, without_flags=st.sampled_from([("iso_pushed",), ("smeared",)])),
    st.builds(Conditions, most_blur_px=st.floats(0.3, 3)),
)


@given(rows_of_any_kind, st.lists(one_condition, min_size=2, max_size=5), st.randoms())
def test_any_conditions_one_after_another_in_any_order_keep_the_same(
    rows: list[Candidate], conditions: list[Conditions], chance: Any
) -> None:
    def kept_after_all() -> list[Candidate]:
        kept = rows
        for one in conditions:
            kept = passing(kept, one).kept
        return kept

    first = kept_after_all()
    chance.shuffle(conditions)
    assert kept_after_all() == first
