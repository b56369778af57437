"""The selection of frames against the same conditions written out by hand."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from auditor.store.frame_facts import FrameFacts
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.selection import (
    EVERYTHING,
    Selection,
    count_selected,
    flagged_frames,
    narrowed,
    selected_flag_counts,
    selected_frames,
)


@pytest.fixture(scope="module")
def book(
    measured_sample: Callable[[Path], Path], tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Logbook]:
    with open_logbook(measured_sample(tmp_path_factory.mktemp("selection"))) as logbook:
        yield logbook


CASES: list[tuple[Selection, Callable[[FrameFacts], bool]]] = [
    (EVERYTHING, lambda row: True),
    (Selection(kit_ids=(2, 3)), lambda row: row.kit_id in (2, 3)),
    (Selection(converter_factor=1.0), lambda row: row.converter_factor == 1.0),
    (Selection(day="2026-04-18"), lambda row: str(row.taken_at).startswith("2026-04-18")),
    (Selection(verdicts=("miss", "unclear")), lambda row: row.verdict in ("miss", "unclear")),
    (
        Selection(flags=("smeared", "words_disagree")),
        lambda row: {"smeared", "words_disagree"} <= set(row.flags),
    ),
    (
        Selection(trip_id=1, kit_ids=(4,), day="2026-04-19", verdicts=("hit",)),
        lambda row: (
            (row.trip_id, row.kit_id, row.verdict) == (1, 4, "hit")
            and str(row.taken_at).startswith("2026-04-19")
        ),
    ),
]


@pytest.mark.parametrize(("selection", "wanted"), CASES)
def test_selected_as_by_hand(
    book: Logbook, selection: Selection, wanted: Callable[[FrameFacts], bool]
) -> None:
    rows = [row for row in selected_frames(book) if wanted(row)]
    assert rows
    assert selected_frames(book, selection) == rows
    assert count_selected(book, selection) == len(rows)
    assert sum(selected_flag_counts(book, selection).values()) == sum(len(row.flags) for row in rows)


def test_at_most_so_many_are_the_first_ones(book: Logbook) -> None:
    assert (
        flagged_frames(book, EVERYTHING, most=3)
        == [frame for frame in selected_frames(book) if frame.flags][:3]
    )


def test_a_scene_is_found_by_its_number(book: Logbook) -> None:
    scene_id = selected_frames(book)[0].scene_id
    assert {row.scene_id for row in selected_frames(book, Selection(scene_id=scene_id))} == {scene_id}


def test_questions_over_kits_see_the_selected_frames_alone_and_then_all_again(book: Logbook) -> None:
    count = "SELECT count(*) FROM inferred JOIN membership USING (frame_id)"
    (before,) = book.query(count)
    with narrowed(book, Selection(day="2026-04-18", kit_ids=(1,))):
        (inside,) = book.query(count)
        assert inside[0] == count_selected(book, Selection(day="2026-04-18", kit_ids=(1,))) < before[0]
    assert tuple(book.query(count)[0]) == tuple(before)


def test_an_error_inside_leaves_no_limits_behind(book: Logbook) -> None:
    with pytest.raises(KeyError), narrowed(book, Selection(kit_ids=(1,))):
        raise KeyError
    assert count_selected(book, EVERYTHING) == len(selected_frames(book))
