"""The best frames of a group: sharpest, then the lower ISO, then the earlier."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from random import Random
from typing import Any

import pytest

from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.best_frames import best_hits, best_of
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card

FRAMES = 24


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    """Four bursts of six frames, with blur and ISO drawn anew; some were not measured."""
    random = Random(7)
    shots = [
        Shot(number=n, after_s=(n // 6) * 60 + n / 10, iso=random.choice((400, 800))) for n in range(FRAMES)
    ]
    write_card(tmp_path / "card", shots)
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    with open_logbook(path) as book:
        with book.writing():
            for (frame_id,) in book.query("SELECT frame_id FROM frames"):
                blur_px = random.choice((None, 0.6, 0.6, 0.9, 1.4))
                book.execute("UPDATE inferred SET blur_px = ? WHERE frame_id = ?", (blur_px, frame_id))
                verdict = random.choice(("hit", "hit", "miss"))
                book.execute("UPDATE verdicts SET verdict = ? WHERE frame_id = ?", (verdict, frame_id))
        yield book


def rows(book: Logbook) -> list[dict[str, Any]]:
    sql = """SELECT i.frame_id, i.taken_at, i.blur_px, f.iso, m.burst_id, v.verdict FROM inferred AS i
             JOIN frames AS f USING (frame_id) JOIN membership AS m USING (frame_id)
             JOIN verdicts AS v USING (frame_id)"""
    return [dict(row) for row in book.query(sql)]


def ordered(group: list[dict[str, Any]]) -> list[object]:
    """The rule again, said in Python."""
    return [
        row["frame_id"]
        for row in sorted(
            group,
            key=lambda row: (row["blur_px"] is None, row["blur_px"] or 0, row["iso"], row["taken_at"]),
        )
    ]


@pytest.mark.parametrize("at_most", [1, 2, 9])
def test_the_sharpest_of_each_burst_and_ties_by_iso_and_time(book: Logbook, at_most: int) -> None:
    found = rows(book)
    wanted: set[object] = set()
    for burst in {row["burst_id"] for row in found}:
        wanted |= set(ordered([row for row in found if row["burst_id"] == burst])[:at_most])
    assert set(best_of(book, [row["frame_id"] for row in found], at_most=at_most)) == wanted
    assert len({row["burst_id"] for row in found}) == 4


def test_the_choice_is_among_the_frames_that_were_given(book: Logbook) -> None:
    found = rows(book)
    first = best_of(book, [row["frame_id"] for row in found])
    rest = [row["frame_id"] for row in found if row["frame_id"] not in first]
    second = best_of(book, rest)
    assert len(second) == 4
    assert not set(first) & set(second)


def test_the_best_hits_are_those_of_the_hits_alone(book: Logbook) -> None:
    hits = [row["frame_id"] for row in rows(book) if row["verdict"] == "hit"]
    assert best_hits(book) == best_of(book, hits)
    trip_id = book.query("SELECT trip_id FROM trips")[0][0]
    assert best_hits(book, trip_id) == best_hits(book)
    assert best_hits(book, trip_id + 1) == []


def test_frames_without_a_group_stand_alone(book: Logbook) -> None:
    ids = [row["frame_id"] for row in rows(book)][:5]
    with book.writing():
        book.execute("DELETE FROM membership")
    assert set(best_of(book, ids)) == set(ids)


def test_fewer_than_one_is_refused(book: Logbook) -> None:
    with pytest.raises(ValueError, match="at_most"):
        best_of(book, [1], at_most=0)
