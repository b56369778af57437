"""The command line run in this process: as the program does, from its arguments to its exit code."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from contextlib import chdir, nullcontext
from dataclasses import dataclass
from pathlib import Path
from typing import Any, TextIO
from unittest import mock

from auditor.cli.main import main


@dataclass(frozen=True)
class Done:
    """What a run ended with."""

    returncode: int
    stdout: str
    stderr: str


def run(
    *arguments: object, cwd: Path | None = None, encoding: str = "utf-8", stderr: TextIO | None = None
) -> Done:
    """Run `auditor` here: starting Python and its libraries anew takes seconds each time."""
    out, err = (io.TextIOWrapper(io.BytesIO(), encoding=encoding, newline="\n") for _ in range(2))
    streams: dict[str, Any] = {
        "argv": ["auditor", *map(str, arguments)],
        "stdout": out,
        "stderr": stderr or err,
    }
    with mock.patch.multiple(sys, **streams), chdir(cwd) if cwd else nullcontext():
        try:
            main()
            code: object = 0
        except SystemExit as end:
            code = end.code or 0
    assert isinstance(code, int)
    return Done(code, *(_text(stream) for stream in (out, err)))


def start(*arguments: object, cwd: Path | None = None) -> subprocess.CompletedProcess[str]:
    """Start the program as a process of its own."""
    return subprocess.run(
        [sys.executable, "-c", "from auditor.cli.main import main; main()", *map(str, arguments)],
        capture_output=True, text=True, encoding="utf-8", cwd=cwd, env=dict(os.environ), check=False,
    )  # fmt: skip


def error_line(done: Done | subprocess.CompletedProcess[str]) -> str:
    """What stderr says; it must be one line, and no traceback."""
    (line,) = done.stderr.strip().splitlines()
    return line


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    content = stream.buffer
    assert isinstance(content, io.BytesIO)
    return content.getvalue().decode(stream.encoding)
