"""Rebuilding: the same ids and trips, for the span that changed, after any order of scans."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import pytest

from auditor.derive.declaring import declare
from auditor.derive.rebuild import rebuild
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.declared_facts import Said, TripFacts
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_card

DAY_S = 86_400.0
GROUPS = "SELECT path, burst_id, encounter_id, scene_id, trip_id FROM frame_facts ORDER BY path"


def rows(logbook: Path, sql: str) -> list[tuple[Any, ...]]:
    with open_logbook(logbook) as book:
        return [tuple(row) for row in book.query(sql)]


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


@pytest.fixture
def card(tmp_path: Path) -> Path:
    """Two trips a week apart, two encounters in the first."""
    shots = [Shot(number=n, after_s=n * 0.2) for n in (1, 2, 3)]
    shots += [Shot(number=n, after_s=3600 + n * 0.2, lens="Long 500mm f/5.6 + 1.4x", focal_mm=700, f_number=8)
              for n in (4, 5)]  # fmt: skip
    shots += [Shot(number=n, after_s=7 * DAY_S + n * 0.2) for n in (6, 7)]
    write_card(tmp_path / "card", shots)
    return tmp_path / "card"


def test_groups_of_a_card(card: Path, logbook: Path) -> None:
    scan(logbook, [card], Settings())
    assert rows(logbook, "SELECT name, frames FROM trips ORDER BY first_at") == [
        ("2026-04-18", 5),
        ("2026-04-25", 2),
    ]
    assert rows(logbook, "SELECT frames FROM encounters ORDER BY first_at") == [(3,), (2,), (2,)]
    assert rows(logbook, "SELECT kit_name FROM kits ORDER BY kit_name") == [
        ("Body One + Long 500mm f/5.6",),
        ("Body One + Long 500mm f/5.6 + 1.4x",),
    ]


def test_a_later_scan_touches_only_its_own_span(card: Path, logbook: Path, tmp_path: Path) -> None:
    scan(logbook, [card], Settings())
    before = dict(rows(logbook, "SELECT path, trip_id FROM frame_facts"))
    more = tmp_path / "more"
    write_card(more, [Shot(number=20 + n, after_s=7 * DAY_S + 1800 + n) for n in range(3)])
    with open_logbook(logbook) as book, book.writing():
        book.execute("UPDATE trips SET name = 'First' WHERE trip_id = 1")
    scan(logbook, [more], Settings())
    # The first trip was not rebuilt, so its name still stands; the second grew and kept its id.
    assert rows(logbook, "SELECT trip_id, name, frames FROM trips ORDER BY trip_id") == [
        (1, "First", 5),
        (2, "2026-04-25", 5),
    ]
    after = dict(rows(logbook, "SELECT path, trip_id FROM frame_facts"))
    assert {path: after[path] for path in before} == before


def test_a_frame_between_two_trips_joins_them(card: Path, logbook: Path, tmp_path: Path) -> None:
    scan(logbook, [card], Settings())
    bridge = tmp_path / "bridge"
    write_card(bridge, [Shot(number=30 + n, after_s=n * DAY_S + 43_200) for n in range(7)])
    scan(logbook, [bridge], Settings())
    assert rows(logbook, "SELECT trip_id, frames FROM trips") == [(1, 14)]


def test_the_order_of_scans_does_not_matter(card: Path, tmp_path: Path) -> None:
    other = tmp_path / "other"
    write_card(other, [Shot(number=40 + n, after_s=100 + n * 0.3, model="Body Two") for n in range(4)])
    places = []
    for name, order in (("one", [card, other]), ("two", [other, card])):
        logbook = tmp_path / f"{name}.sqlite"
        for folder in order:
            scan(logbook, [folder], Settings())
        places.append(
            rows(
                logbook,
                "SELECT path, (SELECT count(*) FROM membership AS o WHERE o.encounter_id = m.encounter_id), "
                "(SELECT count(*) FROM membership AS o WHERE o.burst_id = m.burst_id) "
                "FROM frame_facts JOIN membership AS m USING (frame_id) ORDER BY path",
            )
        )
    assert places[0] == places[1]


def test_other_settings_rebuild_everything_and_back(card: Path, logbook: Path) -> None:
    scan(logbook, [card], Settings())
    before = rows(logbook, GROUPS)
    with open_logbook(logbook) as book:
        rebuild(book, Settings(trip_gap_h=24 * 8))
        assert [row[0] for row in book.query("SELECT frames FROM trips")] == [7]
        rebuild(book, Settings())
        assert [row[0] for row in book.query("SELECT frames FROM trips ORDER BY first_at")] == [5, 2]
    assert [row[:4] for row in rows(logbook, GROUPS)] == [row[:4] for row in before]


def test_every_null_has_its_reason(card: Path, logbook: Path) -> None:
    import json

    scan(logbook, [card], Settings())
    with open_logbook(logbook) as book:
        for row in book.query("SELECT * FROM frame_facts"):
            missing = json.loads(row["missing"])
            nulls = {name for name in row.keys() if row[name] is None}  # noqa: SIM118  # a sqlite3.Row
            # What the photographer has not chosen is no fact that is missing.
            assert nulls - set(missing) == {"chosen"}
            assert [name for name in missing if row[name] is not None] == []


def test_splitting_a_trip_leaves_the_ids_of_the_others(tmp_path: Path) -> None:
    """The larger part keeps the id, the smaller one gets a new one, and later trips keep theirs."""
    day_s = 86_400.0
    shots = [Shot(number=1, after_s=0), *(Shot(number=n, after_s=day_s + n) for n in (2, 3))]
    shots += [Shot(number=n, after_s=9 * day_s + n) for n in (4, 5)]
    path = tmp_path / "logbook.sqlite"
    write_card(tmp_path / "card", shots)
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        ids = [row[0] for row in book.query("SELECT trip_id FROM trips ORDER BY first_at")]
        first_day = Said(
            facts=TripFacts(name="First day", fixed=True),
            from_at="2026-04-18T00:00:00",
            to_at="2026-04-18T23:59:59",
        )
        declare(book, Settings(), [first_day])
        split = [tuple(row) for row in book.query("SELECT trip_id, frames FROM trips ORDER BY first_at")]
    assert len(ids) == 2
    assert split == [(max(ids) + 1, 1), (ids[0], 2), (ids[1], 2)]
