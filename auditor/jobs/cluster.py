"""Work handed to the workers of a Dask scheduler, on other machines that see the same files.

The one process that writes stays here: what workers read comes back to it as it is done. Needs the extra
`cluster`; the scheduler and its workers are started by whoever runs them.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Generator, Iterable
from typing import TYPE_CHECKING, TypeVar

from auditor.errors import ClusterError
from auditor.jobs.crew import Loss

if TYPE_CHECKING:
    from distributed import Client, Future

Item = TypeVar("Item")
Result = TypeVar("Result")

PACKAGE = 'python -m pip install "auditor[cluster]"'
ANSWERS_WITHIN_S = 10
IN_FLIGHT = 4
"""Chunks that wait at each thread of a worker: enough that none runs dry while results travel."""


def results_on(
    address: str,
    task: Callable[[list[Item]], list[Result]],
    chunks: Iterable[list[Item]],
    *,
    lost: Callable[[Item, Loss], Result] | None = None,
) -> Generator[list[Result], None, None]:
    """Results of `task` on each chunk, in their order.

    A worker that dies costs nothing but time: its chunks go to another. Where chunks kill one worker after
    the other, their items are tried alone, and the one at fault is told by `lost`.

    Parameters
    ----------
    address
        Of the scheduler, such as tcp://192.168.1.20:8786.
    task
        Picklable.
    chunks
        Read as they are needed.
    lost
        Makes the result of an item that kills workers; None to give up then.

    Returns
    -------
    Generator[list[Result], None, None]
        The results of each chunk.

    Raises
    ------
    ClusterError
        where the scheduler does not answer, has no workers, or goes away; what came back is kept.
    """
    client = _connected(address)
    waiting: deque[tuple[list[Item], Future[list[Result]]]] = deque()
    try:
        room = IN_FLIGHT * _threads(client, address)
        for chunk in chunks:
            waiting.append((chunk, client.submit(task, chunk, pure=False)))
            if len(waiting) >= room:
                yield _result(client, task, *waiting.popleft(), lost)
        while waiting:
            yield _result(client, task, *waiting.popleft(), lost)
    except _gone() as error:
        raise ClusterError(
            f"{address}: the scheduler went away ({error}). What came back so far is kept; run the same "
            "command again to go on."
        ) from error
    finally:
        for _chunk, future in waiting:
            future.release()
        client.close(timeout=ANSWERS_WITHIN_S)


def _result(
    client: Client,
    task: Callable[[list[Item]], list[Result]],
    chunk: list[Item],
    future: Future[list[Result]],
    lost: Callable[[Item, Loss], Result] | None,
) -> list[Result]:
    from distributed import KilledWorker

    try:
        results: list[Result] = future.result()
    except KilledWorker:
        if lost is None:
            raise ClusterError("Workers died one after the other over the same files.") from None
        if len(chunk) == 1:
            return [lost(chunk[0], Loss(workers_died=True))]
        alone = [([item], client.submit(task, [item], pure=False)) for item in chunk]
        return [result for pair in alone for result in _result(client, task, *pair, lost)]
    return results


def _connected(address: str) -> Client:
    try:
        from distributed import Client
    except ImportError as error:
        raise ClusterError(f"Workers on other machines need a package: {PACKAGE}") from error
    try:
        return Client(address, timeout=ANSWERS_WITHIN_S, set_as_default=False)
    except (OSError, TimeoutError, ValueError) as error:
        raise ClusterError(
            f"{address}: no Dask scheduler answers there. Check the address; it is printed where the "
            "scheduler was started, such as tcp://192.168.1.20:8786."
        ) from error


def _threads(client: Client, address: str) -> int:
    threads = sum(client.nthreads().values())
    if not threads:
        raise ClusterError(f"{address}: the scheduler has no workers. Start some: dask worker {address}")
    return int(threads)


def _gone() -> tuple[type[BaseException], ...]:
    from distributed.client import FutureCancelledError
    from distributed.comm import CommClosedError

    error_types: tuple[type[BaseException], ...] = (CommClosedError, FutureCancelledError)
    return error_types
