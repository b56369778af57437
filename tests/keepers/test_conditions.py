"""The filter: every condition, missing facts, order of conditions; in SQL as frame by frame in Python."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from contextlib import closing
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.store.candidates import Sifted, sifted
from auditor.store.conditions import Conditions
from auditor.store.logbook import Logbook

Row = dict[str, Any]
"""Columns of frame_facts by their names."""


def row(frame_id: int = 1, **more: Any) -> Row:
    return {
        "frame_id": frame_id, "trip_id": 1, "path": f"/card/{frame_id}.JPG", "verdict": "hit",
        "camera_word": "confirmed", "blur_px": 0.7, "blur_um": 4.2,
        "blur_urad": 8.4, "iso": 800.0, "forced_push_ev": 1.0,
        "scene_id": 3, "burst_id": 2, "taken_at": "2026-04-18T09:30:00.10",
        "keywords": ["otter"], "rating": 4, "flags": ["iso_pushed"], "chosen": None, **more,
    }  # fmt: skip


def passing(rows: Sequence[Row], conditions: Conditions) -> Sifted:
    """What the filter makes of these frames, in a table in place of the view."""
    with closing(sqlite3.connect(":memory:")) as connection:
        connection.execute(f"CREATE TABLE frame_facts ({', '.join(row())})")
        for one in rows:
            values = [json.dumps(value) if isinstance(value, list) else value for value in one.values()]
            marks = ", ".join("?" * len(values))
            connection.execute(f"INSERT INTO frame_facts VALUES ({marks})", values)
        return sifted(Logbook(connection, Path("none")), conditions)


def kept(rows: Sequence[Row], conditions: Conditions) -> list[Row]:
    by_id = {one["frame_id"]: one for one in rows}
    return [by_id[one.frame_id] for one in passing(rows, conditions).kept]


def in_python(one: Row, asked: Conditions) -> dict[str, bool]:
    """Whether a frame meets each condition that is set, worked out without SQL."""

    def at_most(column: str, limit: float | None) -> bool | None:
        return None if limit is None else one[column] is not None and one[column] <= limit

    taken_at, words = one["taken_at"], one["keywords"] or []
    tests = {
        "blur in px": at_most("blur_px", asked.most_blur_px),
        "blur in um": at_most("blur_um", asked.most_blur_um),
        "blur in microradians": at_most("blur_urad", asked.most_blur_urad),
        "ISO": at_most("iso", asked.most_iso),
        "forced push": at_most("forced_push_ev", asked.most_push_ev),
        "camera word": one["camera_word"] in asked.camera_words if asked.camera_words else None,
        "time": None
        if asked.from_at is None and asked.to_at is None
        else taken_at is not None
        and (asked.from_at is None or taken_at >= asked.from_at)
        and (asked.to_at is None or taken_at[: len(asked.to_at)] <= asked.to_at),
        "keyword": None if asked.keyword is None else asked.keyword in words,
        "rating": None
        if asked.least_rating is None
        else one["rating"] is not None and one["rating"] >= asked.least_rating,
        "chosen": None if asked.chosen is None else one["chosen"] == asked.chosen,
        "flag": set(asked.flags) <= set(one["flags"]) if asked.flags else None,
        "without flag": not set(asked.without_flags) & set(one["flags"]) if asked.without_flags else None,
    }
    return {name: met for name, met in tests.items() if met is not None}


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
        verdict=st.sampled_from(["hit", "miss", "unclear", None]),
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
        keywords=st.one_of(st.none(), st.lists(st.sampled_from(["otter", "heron"]), unique=True)),
        chosen=st.sampled_from([None, "keep", "leave"]),
    ),
    max_size=30,
    unique_by=lambda one: one["frame_id"],
)


@given(rows_of_any_kind)
def test_conditions_compose_in_any_order(rows: list[Row]) -> None:
    iso, rating = Conditions(most_iso=1600), Conditions(least_rating=3)
    both = kept(rows, replace(iso, least_rating=3))
    assert kept(kept(rows, iso), rating) == both
    assert kept(kept(rows, rating), iso) == both


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
    rows: list[Row], conditions: list[Conditions], chance: Any
) -> None:
    def kept_after_all() -> list[Row]:
        left = rows
        for one in conditions:
            left = kept(left, one)
        return left

    first = kept_after_all()
    chance.shuffle(conditions)
    assert kept_after_all() == first


any_conditions = st.builds(
    Conditions,
    verdicts=st.sampled_from([("hit",), ("hit", "miss"), ("miss", "unclear"), ()]),
    unclear_in=st.booleans(),
    most_blur_px=st.one_of(st.none(), st.floats(0.3, 12)),
    most_iso=st.one_of(st.none(), st.integers(50, 25600)),
    camera_words=st.sampled_from([(), ("confirmed",), ("silent", "manual")]),
    from_at=st.sampled_from([None, "2026", "2026-04-18", "2026-04-18T09:31"]),
    to_at=st.sampled_from([None, "2026-04-17", "2026-04-18", "2026-04-18T09:30"]),
    keyword=st.sampled_from([None, "otter"]),
    least_rating=st.one_of(st.none(), st.integers(-1, 5)),
    flags=st.sampled_from([(), ("smeared",), ("smeared", "iso_pushed")]),
    without_flags=st.sampled_from([(), ("smeared",)]),
    chosen=st.sampled_from([None, "keep"]),
)


@given(rows_of_any_kind, any_conditions)
def test_the_logbook_filters_as_python_does_frame_by_frame(rows: list[Row], asked: Conditions) -> None:
    candidates = passing(rows, asked)
    in_order = sorted(rows, key=lambda one: (one["taken_at"] or "", one["frame_id"]))
    tests = {one["frame_id"]: in_python(one, asked) for one in rows}
    wanted = {*asked.verdicts, "unclear"} if asked.unclear_in else {*asked.verdicts}
    passed = [one for one in in_order if all(tests[one["frame_id"]].values())]
    right = [one["frame_id"] for one in passed if one["verdict"] in wanted]
    unclear = [one["frame_id"] for one in passed if one["verdict"] == "unclear" and "unclear" not in wanted]
    assert candidates.frames == len(rows)
    assert [one.frame_id for one in candidates.kept] == right
    assert [one.frame_id for one in candidates.unclear] == unclear
    away = {
        name: sum(not met[name] for met in tests.values())
        for name in (tests[rows[0]["frame_id"]] if rows else ())
    }
    away["verdict"] = sum(one["verdict"] not in wanted | {"unclear"} for one in rows)
    assert candidates.taken_away == {name: count for name, count in away.items() if count}
    facts = {one["frame_id"]: one for one in rows}
    for one in candidates.kept:
        own = facts[one.frame_id]
        assert one.path == own["path"]
