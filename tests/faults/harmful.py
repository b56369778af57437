"""Decoders that crash, hang and grow, by the names of files; and the auditor run with them."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
import time
from typing import Any
from unittest import mock

from auditor.jobs.colour_cuts import cut_frames
from auditor.jobs.measure import measure_chunk
from auditor.jobs.views import show

SLOW_S = float(os.environ.get("HARMFUL_SLOW_S", "0"))


def measured(frames: list[Any], **options: Any) -> list[Any]:
    """What the auditor measures, unless a file's name tells otherwise."""
    _harm(frames)
    return measure_chunk(frames, **options)


def cut(frames: list[Any]) -> list[Any]:
    """What a page shows, unless a file's name tells otherwise."""
    _harm(frames)
    return cut_frames(frames)


def shown(views: list[Any]) -> list[Any]:
    """What the desk shows of frames, unless a file's name tells otherwise."""
    _harm(views)
    return show(views)


def _harm(frames: list[Any]) -> None:
    for frame in frames:
        if "CRASH" in frame.path:
            os.kill(os.getpid(), signal.SIGSEGV)
        if "ABORT" in frame.path:
            os.abort()
        if "LEAVE" in frame.path:
            os._exit(3)
        if "HANG" in frame.path:
            ctypes.PyDLL(None).sleep(1000)  # Python cannot run meanwhile, as in a decoder that keeps it
        if "GROW" in frame.path:
            _kept = b"x" * (3 * 1024**3 // 4)  # over the limit of half a GiB, and soon there
            time.sleep(1000)
        time.sleep(SLOW_S)


def main() -> None:
    """The command line, with these decoders."""
    from auditor.cli import main as cli

    with mock.patch("auditor.jobs.measure.measure_chunk", measured):
        cli.main()


if __name__ == "__main__":
    sys.argv[0] = "auditor"
    main()
