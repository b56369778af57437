"""Ratings beside verdicts: counted, and kappa only where there is something to agree on."""

from __future__ import annotations

from pathlib import Path

import pytest

from auditor.analysis.ratings import agreement
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.logbook import Logbook, open_logbook
from tests.frame_files import Shot, write_card


@pytest.fixture
def book(tmp_path: Path) -> Path:
    write_card(tmp_path / "card", [Shot(number=n, after_s=n * 5.0) for n in range(1, 51)])
    path = tmp_path / "logbook.sqlite"
    scan(path, [tmp_path / "card"], Settings())
    return path


def judge(logbook: Logbook, first: int, last: int, verdict: str, rating: int) -> None:
    between = "frame_id IN (SELECT frame_id FROM frames ORDER BY frame_id LIMIT ? OFFSET ?)"
    span = (last - first, first)
    logbook.execute(f"UPDATE verdicts SET verdict = ? WHERE {between}", (verdict, *span))
    logbook.execute(f"UPDATE frames SET rating = ? WHERE {between}", (rating, *span))


def test_the_worked_example_of_kappa(book: Path) -> None:
    """Two judges, 20 and 15 agreed, 5 and 10 not: kappa 0.4 (R, worked example in many handbooks)."""
    with open_logbook(book) as logbook:
        with logbook.writing():
            judge(logbook, 0, 20, "hit", 5)
            judge(logbook, 20, 25, "miss", 3)
            judge(logbook, 25, 35, "hit", -1)
            judge(logbook, 35, 50, "miss", 2)
        found = agreement(logbook)
    assert (found.liked_hits, found.liked_misses, found.disliked_hits, found.disliked_misses) == (
        20,
        5,
        10,
        15,
    )
    assert found.kappa == pytest.approx(0.4)


def test_few_ratings_and_ratings_all_alike_have_no_kappa_but_a_reason(book: Path) -> None:
    with open_logbook(book) as logbook:
        with logbook.writing():
            judge(logbook, 0, 50, "hit", 0)  # unrated
            judge(logbook, 0, 10, "hit", 4)
        assert agreement(logbook).kappa_missing == "few_ratings"
        with logbook.writing():
            judge(logbook, 0, 30, "hit", 4)
        assert agreement(logbook).kappa_missing == "one_word"
