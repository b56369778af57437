"""What the desk keeps, it works out anew once the logbook or its settings have changed."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from auditor.desk import kept as keeping
from auditor.desk.kept import Kept
from auditor.desk.reports import Reports, state_of
from auditor.settings import Settings
from auditor.store.logbook import open_logbook


def counted() -> Callable[[], int]:
    numbers = iter(range(99))
    return lambda: next(numbers)


def test_a_value_is_worked_out_once_for_each_state_of_the_logbook(tmp_path: Path) -> None:
    path, settings = tmp_path / "logbook.sqlite", Settings()
    values: Kept[int] = Kept()
    count = counted()
    with open_logbook(path, create=True) as book:
        assert [values.of(1, state_of(path, settings), count) for _time in range(2)] == [0, 0]
        assert values.of(2, state_of(path, settings), count) == 1
        with book.writing():
            book.execute("INSERT INTO touched VALUES (1)")
        assert values.of(1, state_of(path, settings), count) == 2
        assert values.of(1, state_of(path, Settings(crop=2.0)), count) == 3


def test_no_more_is_kept_than_a_list_shows(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(keeping, "MOST_KEPT", 2)
    values: Kept[int] = Kept()
    count = counted()
    for key in (1, 2, 3, 3, 2):
        values.of(key, (), count)
    assert values.of(1, (), count) == 3, "the oldest went first"


def test_a_report_that_failed_is_written_again_when_it_is_asked_for_again() -> None:
    reports = Reports()

    def fails() -> str:
        raise ValueError("the disk was full")

    assert reports.begin(1, ("state",), fails).exception(10) is not None
    assert reports.begin(1, ("state",), lambda: "the page").result(10) == "the page"
    assert reports.begin(1, ("state",), fails).result(10) == "the page"


def test_a_failure_is_not_kept() -> None:
    values: Kept[int] = Kept()

    def fails() -> int:
        raise ValueError("no kits")

    with pytest.raises(ValueError, match="no kits"):
        values.of(1, (), fails)
    assert values.of(1, (), lambda: 5) == 5
