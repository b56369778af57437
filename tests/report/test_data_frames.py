"""The tables as DataFrames hold what the logbook and the kit table hold."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.analysis.kit_table import kit_table
from auditor.errors import OutputError
from auditor.report.data_frames import frames_table, kits_table
from auditor.store.logbook import open_logbook


def test_frames_and_kits_as_data_frames(tmp_path: Path, measured_sample: Callable[[Path], Path]) -> None:
    with open_logbook(measured_sample(tmp_path)) as book:
        frames, kits = frames_table(book, 1), kits_table(book)
        hits = book.query("SELECT count(*) FROM frame_facts WHERE verdict = 'hit'")[0][0]
        rates = [row.hit_rate for row in kit_table(book)]
    assert len(frames) == 88
    assert frames["taken_at"].is_monotonic_increasing
    assert int((frames["verdict"] == "hit").sum()) == hits
    assert list(kits["hit_rate"]) == rates


def test_without_pandas_one_line_says_what_to_install(
    tmp_path: Path, measured_sample: Callable[[Path], Path], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setitem(sys.modules, "pandas", None)
    with (
        open_logbook(measured_sample(tmp_path)) as book,
        pytest.raises(OutputError, match=r'pip install "auditor\[pandas\]"'),
    ):
        frames_table(book)
