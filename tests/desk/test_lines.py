"""The line of each trip in the list: what `auditor trips` says of it, from a record that is gathered once."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from auditor.analysis import trips
from auditor.analysis.kit_encounters import KitEncounters, kit_encounters
from auditor.jobs.opening import up_to_date
from auditor.report.text.losses import what_it_added
from auditor.store.trips import trips_newest_first
from benchmarks.simulated_logbook import Trip, write
from tests.desk.conftest import StartDesk, Visitor


def test_a_trips_line_says_what_the_list_of_trips_says(
    tmp_path: Path, start_desk: StartDesk, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=360))
    with up_to_date(path) as book:
        trip_ids = [trip.trip_id for trip in trips_newest_first(book)]
        added = trips.added_by_trips(book, trip_ids)
    told = {number: what_it_added(added[number]) for number in trip_ids}
    assert len(trip_ids) > 2
    assert len(set(told.values())) > 1
    gathered = []
    gather = kit_encounters

    def counted(*asked: Any, **more: Any) -> KitEncounters:
        gathered.append(asked)
        return gather(*asked, **more)

    monkeypatch.setattr(trips, "kit_encounters", counted)
    visitor = Visitor(start_desk(path).address).enter()

    def lines() -> dict[int, str]:
        return {
            number: json.loads(visitor.get(f"/trips/{number}/answer").text)["said"] for number in trip_ids
        }

    assert lines() == told
    assert lines() == told
    assert len(gathered) == 1
    with up_to_date(path) as book, book.writing():  # the record is another now
        book.execute("UPDATE verdicts SET verdict = 'miss', verdict_on_subject = 'miss' WHERE frame_id < 400")
    assert lines()[trip_ids[-1]] != told[trip_ids[-1]]
    assert 1 < len(gathered) < 4  # the rebuild that follows changes the file once more
