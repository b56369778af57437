"""What runs in a worker process: calls the task it is given, and ends with the process that started it."""

from __future__ import annotations

import ctypes
import multiprocessing
import os
import signal
import sys
import threading
from collections.abc import Callable
from contextlib import suppress
from multiprocessing.connection import Connection, wait
from traceback import format_exception
from typing import Any

from auditor.errors import AuditorError

READY = "ready"
_PR_SET_PDEATHSIG = 1
"""Of prctl(2): the signal that Linux sends when the parent ends."""


def serve(
    pipe: Connection, task: Callable[[list[Any]], list[Any]], prepare: Callable[[], None] | None
) -> None:
    """Answer what comes through the pipe until it is closed.

    First `prepare` loads what the task needs, so that no item's time pays for it. Each message is a list of
    items and how many of them go to one call; each call is answered with (False, results), or with
    (True, error) where the task raises.

    Parameters
    ----------
    pipe
        To the process that hands out work.
    task
        From items to their results.
    prepare
        Called once before the first task.
    """
    # Ctrl-C is for the process that writes: it hands over what is done, and ends the workers.
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    _end_with_parent()
    if prepare is not None:
        prepare()
    pipe.send(READY)
    with suppress(EOFError, OSError):  # the other end is gone
        while True:
            items, step = pipe.recv()
            for start in range(0, len(items), step):
                pipe.send(_answer(task, items[start : start + step]))


def _answer(task: Callable[[list[Any]], list[Any]], items: list[Any]) -> tuple[bool, Any]:
    try:
        results = task(items)
        if len(results) != len(items):  # the rest would be waited for until the item counts as hanging
            raise ValueError(f"{len(items)} items gave {len(results)} results")
        return False, results
    except Exception as error:  # noqa: BLE001 - it is raised in the process that writes
        failure = error if isinstance(error, AuditorError) else RuntimeError("".join(format_exception(error)))
        return True, failure


def _end_with_parent() -> None:
    """A worker that outlives its parent would hold memory, and the pipe of whoever called the parent."""
    if sys.platform == "linux":  # holds also while a decoder keeps Python from running
        parent = os.getppid()
        ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, signal.SIGKILL)
        if os.getppid() != parent:
            os._exit(1)
    threading.Thread(target=_watch_parent, daemon=True).start()


def _watch_parent() -> None:
    parent = multiprocessing.parent_process()
    if parent is not None:
        wait([parent.sentinel])
        os._exit(1)
