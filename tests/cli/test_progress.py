"""Progress bars: on a terminal alone, on stderr alone, and not when they are not wanted."""

from __future__ import annotations

import os
import re
import sys
import threading
from collections.abc import Callable
from multiprocessing import resource_tracker
from pathlib import Path

import pytest

from tests.cli.program import Done, run
from tests.frame_files import Shot, write_card

if sys.platform == "win32":
    pytest.skip("pseudo-terminals are POSIX", allow_module_level=True)

import pty

CONTROL = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\r")
"""Control sequences (ECMA-48, 5.4, R)."""


def on_terminal(program: Callable[..., Done], *arguments: object) -> tuple[Done, str]:
    """Run with stderr on a pseudo-terminal; what ended up there."""
    # Else the first worker of this process starts it, and it would hold the terminal open from then on.
    resource_tracker.ensure_running()
    ours, theirs = pty.openpty()
    seen = bytearray()

    def listen() -> None:
        try:
            while data := os.read(ours, 4096):
                seen.extend(data)
        except OSError:  # Linux says so when the other end is closed
            pass

    listener = threading.Thread(target=listen)
    listener.start()
    with os.fdopen(theirs, "w", encoding="utf-8") as stderr:
        done = program(*arguments, stderr=stderr)
    listener.join()
    os.close(ours)
    return done, seen.decode("utf-8")


@pytest.fixture
def card(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setenv("COLUMNS", "100")
    for name in ("NO_COLOR", "FORCE_COLOR", "TTY_COMPATIBLE", "TTY_INTERACTIVE"):
        monkeypatch.delenv(name, raising=False)
    write_card(tmp_path / "card", [Shot(number=n, after_s=n * 700.0) for n in range(1, 4)])
    return tmp_path / "card"


def test_a_terminal_sees_how_far_reading_and_measuring_are(card: Path, tmp_path: Path) -> None:
    book = tmp_path / "logbook.sqlite"
    scanned, seen = on_terminal(run, "scan", card, "--logbook", book)
    assert scanned.returncode == 0
    assert "Reading" in seen
    assert re.search(r"\b3/3\b", CONTROL.sub(" ", seen))
    measured, seen = on_terminal(run, "measure", "--logbook", book)
    assert measured.returncode == 0
    assert re.search(r"Measuring\W.*\b3/3\b", CONTROL.sub(" ", seen), re.DOTALL)
    assert "\x1b" not in scanned.stdout + measured.stdout


def test_the_bar_is_gone_when_the_run_is_done(card: Path, tmp_path: Path) -> None:
    """The last thing sent for it is: erase the line (ECMA-48 EL, 8.3.41, R), and show the cursor again."""
    _done, seen = on_terminal(run, "scan", card, "--logbook", tmp_path / "logbook.sqlite")
    after = seen[seen.rindex("3/3") :]
    assert "\x1b[2K" in after
    assert seen.rindex("\x1b[?25h") > seen.rindex("\x1b[?25l")


def test_quiet_shows_nothing(card: Path, tmp_path: Path) -> None:
    done, seen = on_terminal(run, "scan", card, "--quiet", "--logbook", tmp_path / "logbook.sqlite")
    assert done.returncode == 0
    assert seen == ""


def test_no_bar_where_there_is_no_terminal(card: Path, tmp_path: Path) -> None:
    done = run("scan", card, "--logbook", tmp_path / "logbook.sqlite")
    assert done.returncode == 0
    assert "Reading" not in done.stderr
    assert "\x1b" not in done.stderr
