"""A span is grouped a stretch of shooting at a time, and comes out as if it had been grouped at once."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from auditor.derive import grouping
from auditor.derive.regrouping import regroup
from auditor.derive.sums import sum_changed_trips
from auditor.frames.declared import Declared
from auditor.settings import Settings
from auditor.store import derived, groups, summed
from auditor.store.groups import frames_between
from auditor.store.logbook import Logbook, open_logbook
from benchmarks.simulated_logbook import Trip, write

EVER = ("0001", "9999")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    write(tmp_path / "logbook.sqlite", Trip(encounters=400))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            # The second body shoots at the same time as the first, with pauses of its own.
            logbook.execute(
                "UPDATE inferred SET taken_at = strftime('%Y-%m-%dT%H:%M:%f', taken_at, "
                "'-' || (frame_id % 3) || ' minutes') WHERE kit_id > 3"
            )
        yield logbook


def grouped_at_once(book: Logbook, settings: Settings) -> set[tuple[int, ...]]:
    """Frame, burst, scene and encounter of every frame, from lists of all frames: the plain way."""
    from auditor.derive.one_clock import seconds
    from auditor.derive.regrouping import _shot

    found: set[tuple[int, ...]] = set()
    shots = [_shot(frame, seconds(frame.taken_at)) for frame in frames_between(book, *EVER)]
    for encounter in grouping.encounters(grouping.bursts(shots, settings), settings):
        scene_of = {
            shot.frame_id: members[0].frame_id for members in encounter.scenes().values() for shot in members
        }
        for burst in encounter.bursts:
            for shot in burst.shots:
                found.add((shot.frame_id, burst.burst_id, scene_of[shot.frame_id], encounter.encounter_id))
    return found


def regrouped(book: Logbook, settings: Settings) -> None:
    span = derived.whole_span(book)
    assert span is not None
    with book.writing():
        regroup(book, Declared(), settings, "now", span)


@pytest.mark.parametrize(
    "changed",
    [{}, {"burst_gap_s": 30.0, "encounter_gap_min": 0.2}, {"encounter_gap_min": 60.0, "trip_gap_h": 12.0}],
)
def test_in_stretches_as_at_once(book: Logbook, changed: dict[str, Any]) -> None:
    settings = replace(Settings(), **changed)
    wanted = grouped_at_once(book, settings)
    regrouped(book, settings)
    rows = book.query("SELECT frame_id, burst_id, scene_id, encounter_id FROM membership")
    assert {tuple(row) for row in rows} == wanted
    for table in ("bursts", "scenes", "encounters"):
        column = f"{table[:-1]}_id"
        counted = book.query(f"SELECT {column}, count(*) FROM membership GROUP BY 1 ORDER BY 1")
        kept = book.query(f"SELECT {column}, frames FROM {table} ORDER BY 1")
        assert [tuple(row) for row in counted] == [tuple(row) for row in kept]
    trips = book.query("SELECT trip_id, count(*) FROM membership GROUP BY 1 ORDER BY 1")
    assert [tuple(row) for row in trips] == [
        tuple(row) for row in book.query("SELECT trip_id, frames FROM trips ORDER BY 1")
    ]


def test_memory_holds_one_stretch_of_an_unbroken_record(
    book: Logbook, monkeypatch: pytest.MonkeyPatch
) -> None:
    held: list[int] = []
    whole = grouping.bursts

    def counting(shots: Any, settings: Settings) -> Any:
        of_stretch = list(shots)
        held.append(len(of_stretch))
        return whole(of_stretch, settings)

    monkeypatch.setattr(grouping, "bursts", counting)
    regrouped(book, replace(Settings(), trip_gap_h=1000.0))
    frames = sum(held)
    assert frames > 4000
    assert max(held) < frames / 20


def test_what_is_grouped_as_before_keeps_its_rows_and_sums(book: Logbook) -> None:
    regrouped(book, Settings())
    with book.writing():
        sum_changed_trips(book)
    assert len(book.query("SELECT 1 FROM trips")) > 2
    regrouped(book, Settings())
    assert summed.all_stand(book)
    # One frame of the last trip left out: the others need no sums.
    last = book.query("SELECT trip_id FROM trips ORDER BY first_at DESC LIMIT 1")[0][0]
    with book.writing():
        book.execute(
            "UPDATE inferred SET excluded = 1 WHERE frame_id = "
            "(SELECT max(frame_id) FROM membership WHERE trip_id = ?)",
            (last,),
        )
    regrouped(book, Settings())
    assert summed.waiting(book) == [0, last]


def test_groups_in_the_making_leave_nothing_behind(book: Logbook) -> None:
    regrouped(book, Settings())
    assert [row[0] for row in book.query("SELECT name FROM temp.sqlite_master WHERE type = 'table'")] == []
    with book.writing(), groups.new_groups(book) as new:
        new.write("scenes", [])
