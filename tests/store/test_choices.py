"""What was chosen by eye: kept at once, counted by trip, and left alone by everything that is computed."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.errors import LogbookError
from auditor.settings import Settings
from auditor.store.choices import choice_counts, choices_of, choose_frame, move_choice
from auditor.store.derived import touch
from auditor.store.logbook import Logbook, open_logbook
from auditor.words import Choice
from tests.cli.program import run


@pytest.fixture
def logbook(tmp_path: Path, measured_sample: Callable[[Path], Path]) -> Path:
    return measured_sample(tmp_path)


def frames(book: Logbook, verdict: str) -> list[int]:
    sql = "SELECT frame_id FROM frame_facts WHERE verdict = ? ORDER BY frame_id"
    return [row[0] for row in book.query(sql, (verdict,))]


def test_a_choice_outlives_a_rebuild_and_touches_neither_rating_nor_verdict(logbook: Path) -> None:
    from auditor.derive.rebuild import rebuild

    with open_logbook(logbook) as book:
        (kept, left), miss = frames(book, "hit")[:2], frames(book, "miss")[0]
        unchosen = "SELECT rating, verdict, flags, hit_probability FROM frame_facts ORDER BY frame_id"
        before = [tuple(row) for row in book.query(unchosen)]
        choose_frame(book, kept, Choice.LEAVE)
        for frame_id, choice in ((kept, Choice.KEEP), (left, Choice.LEAVE), (miss, Choice.KEEP)):
            choose_frame(book, frame_id, choice)
        with book.writing():
            touch(book, [kept, left, miss])
        rebuild(book, Settings())
        assert choices_of(book, [kept, left, miss]) == {kept: "keep", left: "leave", miss: "keep"}
        assert [tuple(row) for row in book.query(unchosen)] == before
        (counts,) = choice_counts(book).values()
        assert (counts.kept, counts.left) == (2, 1)
        choose_frame(book, kept, None)
        assert choices_of(book, [kept]) == {}


def test_a_frame_that_is_not_there_cannot_be_chosen(logbook: Path) -> None:
    with open_logbook(logbook) as book, pytest.raises(LogbookError, match="no frame 999999 any more"):
        choose_frame(book, 999_999, Choice.KEEP)


def test_of_two_frames_that_are_one_exposure_the_choice_stays(logbook: Path) -> None:
    with open_logbook(logbook) as book:
        first, second, third = frames(book, "hit")[:3]
        choose_frame(book, first, Choice.KEEP)
        choose_frame(book, third, Choice.LEAVE)
        with book.writing():
            move_choice(book, first, second)
            move_choice(book, second, third)
        assert choices_of(book, [first, third]) == {third: "leave"}


def test_keepers_chosen_lists_what_was_chosen_whatever_its_verdict(logbook: Path) -> None:
    with open_logbook(logbook) as book:
        hit, miss = frames(book, "hit")[0], frames(book, "miss")[0]
        for frame_id in (hit, miss):
            choose_frame(book, frame_id, Choice.KEEP)
    document = json.loads(run("keepers", "--chosen", "--logbook", logbook, "--json").stdout)
    assert {row["frame_id"] for row in document["keepers"]} == {hit, miss}
    assert {row["chosen"] for row in document["keepers"]} == {"keep"}
    hits = run("keepers", "--chosen", "--verdict", "hit", "--logbook", logbook).stdout
    assert len(hits.splitlines()) == 1
