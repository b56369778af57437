"""JSON that is written as it comes is the JSON of the whole."""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from auditor.cli import common
from auditor.jobs.opening import up_to_date
from auditor.report.frame_lines import frame_lines
from auditor.store.frame_facts import FrameFacts, FrameLine
from auditor.store.selection import EVERYTHING, each_selected

scalars = (
    st.none() | st.booleans() | st.integers() | st.floats(allow_nan=False, allow_infinity=False) | st.text()
)
documents = st.dictionaries(st.text(max_size=5), scalars | st.lists(scalars, max_size=3), max_size=4)


def whole(value: object) -> str:
    return json.dumps(value, ensure_ascii=True, indent=2)


def in_parts(value: object) -> str:
    return "".join(common._json_parts(value))


@given(st.lists(documents, max_size=4))
def test_a_list_that_comes_piece_by_piece(rows: list[dict[str, Any]]) -> None:
    assert json.loads(in_parts(iter(rows))) == rows
    assert in_parts(iter(rows)) == in_parts(rows)
    assert in_parts({"frames": 3, "kept": iter(rows), "away": {}}) == in_parts(
        {"frames": 3, "kept": rows, "away": {}}
    )


def test_it_is_laid_out_as_python_lays_json_out(capsys: pytest.CaptureFixture[str]) -> None:
    rows = [{"path": "/a\nb", "flags": ["x", "y"], "none": {}}, {"path": None, "flags": [], "iso": 0.1}]
    document = {"frames": 2, "keepers": rows, "gone": []}
    common.print_json(document | {"keepers": iter(rows), "gone": iter(())})
    assert capsys.readouterr().out == whole(document) + "\n"


def test_pieces_are_written_before_the_next_is_made() -> None:
    made = []

    def rows() -> Iterator[dict[str, int]]:
        for number in range(3):
            made.append(number)
            yield {"number": number}

    written = common._json_parts({"rows": rows()})
    pieces = ""
    while '"number": 0' not in pieces:
        pieces += next(written)
    assert made == [0]


def test_a_list_of_frames_needs_no_more_than_it_asks_for(
    measured_sample: Callable[[Path], Path], tmp_path: Path
) -> None:
    with up_to_date(measured_sample(tmp_path)) as book:
        with_all = list(each_selected(FrameFacts, book, EVERYTHING))
        names = {frame.kit_id: frame.kit_name for frame in with_all}
        folders = [str(Path(with_all[0].path or "").parent)]
        listed = [
            list(frame_lines(each_selected(facts, book, EVERYTHING), names, folders, longest=20, width=80))
            for facts in (FrameFacts, FrameLine)
        ]
    assert listed[0] == listed[1]
    assert len(listed[0]) > len(with_all)
