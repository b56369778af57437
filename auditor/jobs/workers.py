"""Running a task over many items, in this process or in several."""

from __future__ import annotations

import multiprocessing
import os
import signal
from collections import deque
from collections.abc import Callable, Iterable, Iterator
from concurrent.futures import Future, ProcessPoolExecutor
from itertools import chain, islice
from typing import TypeVar

Item = TypeVar("Item")
Result = TypeVar("Result")

CHUNK = 32
WORTH_WORKERS = 256
"""Starting a worker costs about as much as reading this many files."""


def default_jobs() -> int:
    """One worker a core."""
    return os.cpu_count() or 1


def run(
    task: Callable[[list[Item]], list[Result]],
    items: Iterable[Item],
    *,
    jobs: int,
    chunk: int | None = None,
    worth_workers: int | None = None,
) -> Iterator[list[Result]]:
    """Results of `task` on chunks of items, in the order of the items.

    Only a few chunks are in flight at any time, so memory does not grow with the number of
    items. With fewer than `worth_workers` items, or one job, all is done in this process.
    `task` must be picklable when `jobs` is more than 1.

    Parameters
    ----------
    task
        From a chunk of items to its results.
    items
        Read as they are needed.
    jobs
        Processes at once.
    chunk
        Items to a call of `task`.
    worth_workers
        Items from which on starting processes pays; None for a default.

    Returns
    -------
    Iterator[list[Result]]
        The results of each chunk, as they come.
    """
    waiting = iter(items)
    worth_workers = worth_workers or WORTH_WORKERS
    first = list(islice(waiting, worth_workers))
    chunks = _chunks(chain(first, waiting), chunk or CHUNK)
    if jobs <= 1 or len(first) < worth_workers:
        for part in chunks:
            yield task(part)
        return
    # "spawn" everywhere: a forked copy of a process that holds an open database is a trap.
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(jobs, mp_context=context, initializer=_leave_interrupts) as pool:
        in_flight: deque[Future[list[Result]]] = deque()
        try:
            for part in chunks:
                in_flight.append(pool.submit(task, part))
                if len(in_flight) > 4 * jobs:
                    yield in_flight.popleft().result()
            while in_flight:
                yield in_flight.popleft().result()
        finally:
            for future in in_flight:
                future.cancel()


def _leave_interrupts() -> None:
    """Ctrl-C is for the process that writes: it finishes or rolls back, and stops the workers."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)


def _chunks(items: Iterator[Item], size: int) -> Iterator[list[Item]]:
    while chunk := list(islice(items, size)):
        yield chunk
