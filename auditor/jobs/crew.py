"""Worker processes that may die, hang or grow: each costs the item that it worked at, and no other.

A worker is handed items through a pipe of its own and answers item by item, so that it is known which one it
was at. An item over which a worker died is tried again alone, in a new worker, before it counts as lost: the
one before it may have left its traces.
"""

from __future__ import annotations

import signal
import threading
import time
from collections import deque
from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field
from itertools import takewhile
from multiprocessing.connection import Connection, wait
from multiprocessing.context import SpawnContext
from typing import Any, Self

import psutil

from auditor.errors import WorkerLostError
from auditor.jobs.worker import READY, serve

POLL_S = 0.1
"""How often limits and Ctrl-C are looked at."""
GRACE_S = 0.7
"""After Ctrl-C a worker may finish what it is at: a frame takes a third of a second."""
START_S = 120.0
"""A worker that is not there by then will not come."""
LONGEST_NAMED = 80
"""Letters by which an item is named in an error."""
GIB = 1024**3


@dataclass(frozen=True, slots=True)
class Limits:
    """What one call of a task may take."""

    longest_s: float = 60.0
    memory_gib: float = 4.0


@dataclass(frozen=True, slots=True)
class Loss:
    """How a worker was lost over an item: one of these is said."""

    exit_code: int | None = None
    """It ended by itself; below 0 the number of the signal that ended it (POSIX)."""
    over_s: float | None = None
    """It was ended because it ran longer than this."""
    over_gib: float | None = None
    """It was ended because it took more memory than this."""
    workers_died: bool = False
    """Workers of a cluster died over it, one after the other."""


@dataclass(slots=True, eq=False)
class _Chunk:
    """Items that are yielded together, and the results that are there."""

    items: list[Any]
    results: dict[int, Any] = field(default_factory=dict)

    @property
    def done(self) -> bool:
        return len(self.results) == len(self.items)

    def in_order(self) -> list[Any]:
        return [self.results[place] for place in sorted(self.results)]


@dataclass(slots=True, eq=False)
class _Piece:
    """What a worker is handed at once: places in a chunk, answered `step` at a time."""

    chunk: _Chunk
    places: list[int]
    alone: bool = False
    """Tried again by itself, after a worker was lost over it."""


class _Worker:
    """One process and the parent's end of its pipe."""

    def __init__(
        self,
        context: SpawnContext,
        task: Callable[[list[Any]], list[Any]],
        prepare: Callable[[], None] | None,
    ) -> None:
        self.pipe: Connection
        self.pipe, theirs = context.Pipe()
        self.process = context.Process(target=serve, args=(theirs, task, prepare), daemon=True)
        self.process.start()
        theirs.close()  # so that its end is the only one, and its death is an end of file here
        self.memory = psutil.Process(self.process.pid)
        self.piece: _Piece | None = None
        self.ready = False
        self.since = time.monotonic()

    def end(self) -> int | None:
        """End it now, whatever it does; returns its exit code."""
        self.process.kill()
        self.process.join()
        self.pipe.close()
        return self.process.exitcode


class Crew:
    """Workers for one run; leaving the context ends them.

    Parameters
    ----------
    step
        Items to a call of the task; None for all of a chunk.
    lost
        Makes the result of an item that is lost.
    prepare
        Called once in each worker before its first item.
    stop
        Asked again and again whether to end, as Ctrl-C does, which only a main thread hears.
    """

    def __init__(
        self,
        context: SpawnContext,
        task: Callable[[list[Any]], list[Any]],
        *,
        jobs: int,
        step: int | None,
        lost: Callable[[Any, Loss], Any] | None,
        limits: Limits | None,
        prepare: Callable[[], None] | None = None,
        stop: Callable[[], bool] | None = None,
    ) -> None:
        self._context, self._task, self._jobs, self._step = context, task, jobs, step
        self._prepare = prepare
        self._lost, self._limits = lost, limits or Limits()
        self._workers: list[_Worker] = []
        self._todo: deque[_Piece] = deque()
        self._interrupt = _Interrupt()
        self._stop = stop or (lambda: False)

    def __enter__(self) -> Self:
        self._interrupt.watch()
        return self

    def __exit__(self, *_error: object) -> None:
        self._interrupt.leave()
        for worker in self._workers:
            worker.end()

    def results(self, chunks: Iterator[list[Any]]) -> Iterator[list[Any]]:
        """Results chunk by chunk, in their order; where items go to a call one by one, as they are done.

        Parameters
        ----------
        chunks
            Items, a list a chunk.

        Returns
        -------
        Iterator[list[Any]]
            A list of results a chunk.

        Raises
        ------
        KeyboardInterrupt
            after the results that are there, where Ctrl-C was pressed or `stop` says so.
        WorkerLostError
            where workers cannot be started, or one ends and nothing can be made of that.
        """
        order: deque[_Chunk] = deque()
        more = True
        while not self._interrupt.asked and not self._stop():
            while more and len(order) <= 4 * self._jobs:
                items = next(chunks, None)
                if items is None:
                    more = False
                    break
                order.append(_Chunk(items))
                self._todo.append(_Piece(order[-1], list(range(len(items)))))
            self._hand_out()
            if not order:
                return
            self._attend(POLL_S)
            for chunk in self._ready(order):
                order.remove(chunk)
                yield chunk.in_order()
        self._finish(GRACE_S)
        for chunk in order:
            if chunk.results:
                yield chunk.in_order()
        raise KeyboardInterrupt

    def _ready(self, order: deque[_Chunk]) -> list[_Chunk]:
        """Chunks that are done, in their order; one by one as they come, since any may take its minute."""
        if self._step is not None:
            return [chunk for chunk in order if chunk.done]
        return list(takewhile(lambda chunk: chunk.done, order))

    def _hand_out(self) -> None:
        """Give pieces to workers that have none; new workers come as there is work for them."""
        idle = [worker for worker in self._workers if worker.piece is None]
        while len(idle) < len(self._todo) and len(self._workers) < self._jobs:
            self._workers.append(_Worker(self._context, self._task, self._prepare))
            idle.append(self._workers[-1])
        for worker in idle:
            if worker.ready and self._todo:
                piece = self._todo.popleft()
                items = [piece.chunk.items[place] for place in piece.places]
                with suppress(OSError):  # it is dead: its pipe tells that, and the piece goes to another
                    worker.pipe.send((items, self._step or len(items)))
                worker.piece, worker.since = piece, time.monotonic()

    def _take_from(self, workers: list[_Worker], timeout_s: float) -> None:
        """Take what any of these workers have answered, or wait so long for it."""
        ready = wait([worker.pipe for worker in workers], timeout_s)
        for worker in workers:
            if worker.pipe in ready:
                self._take(worker)

    def _attend(self, timeout_s: float) -> None:
        """Take what workers answer, and see to those that are lost."""
        self._take_from(list(self._workers), timeout_s)
        for worker in list(self._workers):
            self._check_limits(worker)

    def _take(self, worker: _Worker) -> None:
        try:
            answer = worker.pipe.recv()
        except (EOFError, OSError):
            worker.process.join(1.0)
            self._replace(worker, Loss(exit_code=worker.end()))
            return
        worker.since = time.monotonic()
        if answer == READY:
            worker.ready = True
            return
        piece = worker.piece
        assert piece is not None
        failed, results = answer
        if failed:
            raise results
        for result in results:
            piece.chunk.results[piece.places.pop(0)] = result
        if not piece.places:
            worker.piece = None

    def _check_limits(self, worker: _Worker) -> None:
        passed_s = time.monotonic() - worker.since
        if not worker.ready:
            if passed_s > START_S:
                raise WorkerLostError("A process that reads files did not start. Run the same command again.")
            return
        if worker.piece is None:
            return
        if passed_s > self._limits.longest_s:
            worker.end()
            self._replace(worker, Loss(over_s=self._limits.longest_s))
            return
        with suppress(psutil.Error):  # it died meanwhile: its pipe tells that
            if worker.memory.memory_info().rss > self._limits.memory_gib * GIB:
                worker.end()
                self._replace(worker, Loss(over_gib=self._limits.memory_gib))

    def _replace(self, worker: _Worker, loss: Loss) -> None:
        """Take a lost worker away, and see to what it was at."""
        self._workers.remove(worker)
        piece = worker.piece
        if not worker.ready:
            raise WorkerLostError(
                f"A process that reads files ended as it started (exit code {loss.exit_code}). "
                "Run the same command again; AUDITOR_DEBUG=1 shows more."
            )
        if piece is None:
            return
        at = self._step or len(piece.places)
        suspects, rest = piece.places[:at], piece.places[at:]
        if rest:
            self._todo.appendleft(_Piece(piece.chunk, rest))
        # That it took too long is its own doing; a crash or much memory may come of what was before it.
        if len(suspects) == 1 and (piece.alone or loss.over_s is not None):
            item = piece.chunk.items[suspects[0]]
            if self._lost is None:
                raise WorkerLostError(f"A process that worked at {str(item)[:LONGEST_NAMED]} ended ({loss}).")
            piece.chunk.results[suspects[0]] = self._lost(item, loss)
        else:
            self._todo.extendleft(_Piece(piece.chunk, [place], alone=True) for place in reversed(suspects))

    def _finish(self, grace_s: float) -> None:
        """Let workers finish what they are at, if that is soon; nothing new is begun."""
        self._todo.clear()
        until = time.monotonic() + grace_s
        while any(worker.piece for worker in self._workers) and time.monotonic() < until:
            self._take_from([worker for worker in self._workers if worker.piece], POLL_S)


class _Interrupt:
    """The first Ctrl-C only asks a run to end; the second breaks it off, as without this."""

    def __init__(self) -> None:
        self.asked = False
        self._before: Any = None

    def watch(self) -> None:
        if threading.current_thread() is not threading.main_thread():
            return  # only the main thread hears signals
        if signal.getsignal(signal.SIGINT) is signal.default_int_handler:
            self._before = signal.signal(signal.SIGINT, self._ask)

    def _ask(self, *_signal: object) -> None:
        self.asked = True
        self.leave()

    def leave(self) -> None:
        if self._before is not None:
            signal.signal(signal.SIGINT, self._before)
            self._before = None
