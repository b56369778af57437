"""A trip in the list of trips: what came of it, and how much of that is known."""

from typing import Any

import pytest

from auditor.report.trip_lines import trip_lines
from auditor.store.trip_summaries import TripSummary


def told(**facts: Any) -> str:
    usual: dict[str, Any] = {
        "trip_id": 4, "name": "Estuary", "first_at": "2026-04-18T09:00", "last_at": "2026-04-19T20:00",
        "frames": 1200, "kits": 3, "judged": 1100, "hits": 900, "measured": 1200, "undecodable": 0,
    }  # fmt: skip
    _head, line = trip_lines([TripSummary(**usual | facts)], width=100)
    return line


@pytest.mark.parametrize(
    ("facts", "answer"),
    [
        ({}, "900 of 1,100 in focus"),
        ({"measured": 700}, "900 of 1,100 in focus; 700 measured"),
        ({"judged": 0, "hits": 0}, "none decided"),
        ({"judged": 0, "hits": 0, "measured": 0}, "not measured"),
    ],
)
def test_what_came_of_it_and_how_much_of_it_was_measured(facts: dict[str, int], answer: str) -> None:
    assert told(**facts) == f"   4  Estuary   1,200     3  {answer}"
