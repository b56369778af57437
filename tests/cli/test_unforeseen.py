"""What nobody foresaw ends a command with one line, and with the traceback where it is asked for."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.program import Done, error_line, run
from tests.frame_files import Shot, write_frame


def failing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception) -> Done:
    """`auditor trips`, whose look-up raises this."""

    def fails(*_arguments: object) -> None:
        raise error

    write_frame(tmp_path / "card" / "A_0001.JPG", Shot())
    run("scan", tmp_path / "card", "--logbook", tmp_path / "book.sqlite")
    monkeypatch.setattr("auditor.store.trip_summaries.trip_summaries", fails)
    return run("trips", "--logbook", tmp_path / "book.sqlite")


@pytest.mark.parametrize(
    ("error", "said"),
    [
        (ValueError("matmul: sizes\ndiffer"), "foresaw: ValueError: differ (trips.py, line "),
        (
            RuntimeError("Traceback:\n  File x\nIndexError: index 0\n"),
            "foresaw: RuntimeError: IndexError: index 0",
        ),
        (
            FileNotFoundError(2, "No such file", "/a/b"),
            "foresaw: FileNotFoundError: [Errno 2] No such file: '/a/b'",
        ),
        (KeyError(), "foresaw: KeyError (trips.py, line "),
    ],
)
def test_it_is_one_line_that_says_what_and_where(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, error: Exception, said: str
) -> None:
    done = failing(tmp_path, monkeypatch, error)
    assert done.returncode == 1
    assert said in error_line(done)


def test_the_traceback_is_there_for_the_asking(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("AUDITOR_DEBUG", "1")
    assert "Traceback (most recent call last)" in failing(tmp_path, monkeypatch, ValueError("sizes")).stderr
