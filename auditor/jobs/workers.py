"""Running a task over many items, in this process or in several."""

from __future__ import annotations

import multiprocessing
import os
from collections.abc import Callable, Generator, Iterable, Iterator
from itertools import chain, islice
from typing import TypeVar

from auditor.jobs.crew import Crew, Limits, Loss

Item = TypeVar("Item")
Result = TypeVar("Result")

CHUNK = 128
"""Of files that are read: what is written at once, and what a killed run loses."""
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
    lost: Callable[[Item, Loss], Result] | None = None,
    one_by_one: bool = False,
    limits: Limits | None = None,
    prepare: Callable[[], None] | None = None,
    cluster: str | None = None,
    stop: Callable[[], bool] | None = None,
) -> Generator[list[Result], None, None]:
    """Results of `task` on chunks of items, in the order of the items; with `one_by_one` as they are done.

    Only a few chunks are in flight at any time, so memory does not grow with the number of
    items. With fewer than `worth_workers` items, or one job, all is done in this process. In workers the
    first Ctrl-C ends the run in its own time: what is done is handed over, then KeyboardInterrupt is raised.

    Parameters
    ----------
    task
        Gives one result an item; picklable where it goes to workers.
    items
        Read as they are needed.
    jobs
        Processes at once; 0 for this one, whatever else is asked.
    chunk
        Items handed to a worker, and yielded, at once.
    worth_workers
        Items from which on starting processes pays; None for WORTH_WORKERS.
    lost
        Makes the result of an item over which a worker dies, or runs over its limits. None to give up then.
    one_by_one
        Give `task` one item at a time, so that its limits hold for each, and always in workers: what it calls
        may crash.
    limits
        What an item may take.
    prepare
        Called once in each worker before its first item, outside the limits.
    cluster
        The address of a Dask scheduler whose workers do it instead. They keep limits of their own.
    stop
        Asked again and again, where there are worker processes, whether to end as at Ctrl-C.

    Returns
    -------
    Generator[list[Result], None, None]
        The results of each chunk.

    Raises
    ------
    ClusterError
        where that scheduler cannot be used.
    WorkerLostError
        where a worker ends and there is no `lost`, or none can be started.
    """
    waiting = iter(items)
    if cluster is not None:
        from auditor.jobs.cluster import results_on

        yield from results_on(cluster, task, _chunks(waiting, chunk or CHUNK), lost=lost)
        return
    worth_workers = 1 if one_by_one else worth_workers or WORTH_WORKERS
    first = list(islice(waiting, worth_workers))
    chunks = _chunks(chain(first, waiting), chunk or CHUNK)
    if jobs < 1 or (jobs == 1 and not one_by_one) or len(first) < worth_workers:
        for part in chunks:
            yield task(part)
        return
    # "spawn" everywhere: a forked copy of a process that holds an open database is a trap.
    context = multiprocessing.get_context("spawn")
    step = 1 if one_by_one else None
    with Crew(
        context, task, jobs=jobs, step=step, lost=lost, limits=limits, prepare=prepare, stop=stop
    ) as crew:
        yield from crew.results(chunks)


def _chunks(items: Iterator[Item], size: int) -> Iterator[list[Item]]:
    while chunk := list(islice(items, size)):
        yield chunk
