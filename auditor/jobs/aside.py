"""Work that waits its turn in a thread beside the one that asks."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from queue import SimpleQueue
from typing import Any, TypeVar

Result = TypeVar("Result")


class Aside:
    """Does one thing after another in a thread of its own, which ends with the process, done or not.

    A pool of the standard library would keep the process alive until what it is at is done.

    Parameters
    ----------
    name
        Of the thread.
    """

    def __init__(self, name: str) -> None:
        self._waiting: SimpleQueue[tuple[Future[Any], Callable[[], Any]]] = SimpleQueue()
        self._thread = threading.Thread(target=self._do, name=name, daemon=True)
        self._thread.start()

    def begin(self, task: Callable[[], Result]) -> Future[Result]:
        """Put a task behind those that wait.

        Parameters
        ----------
        task
            Called once.

        Returns
        -------
        Future[Result]
            What it returns or raises.
        """
        future: Future[Result] = Future()
        self._waiting.put((future, task))
        return future

    def _do(self) -> None:
        while True:
            future, task = self._waiting.get()
            try:
                future.set_result(task())
            except BaseException as error:  # noqa: BLE001  # it is raised where it is waited for
                future.set_exception(error)
