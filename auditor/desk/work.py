"""The one long piece of work that the desk does at a time: it goes on while no page is open."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, replace

from auditor.errors import AuditorError


class StopAskedError(KeyboardInterrupt):
    """The photographer pressed stop: jobs settle what they have as they do at Ctrl-C."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """How far the work is."""

    number: int = 0
    """Counts pieces of work, so that a page knows its own; 0 before the first."""
    doing: str = ""
    """What is done now, such as "Measuring"."""
    things: str = "files"
    done: int = 0
    total: int | None = None
    a_second: float | None = None
    left_s: float | None = None
    running: bool = False
    said: str = ""
    """What came of it, once it has ended."""
    failed: bool = False


Tell = Callable[[str, str, int, int | None], None]
"""Called with what is done, of what, how many so far, and of how many."""


class Work:
    """Runs one function at a time in a thread of its own, and knows how far it is."""

    def __init__(self) -> None:
        self._lock = threading.Lock()
        self._progress = Progress()
        self._stop = threading.Event()
        self._thread: threading.Thread | None = None
        self._stage_began = ("", 0.0)

    @property
    def progress(self) -> Progress:
        """How far it is now."""
        with self._lock:
            return self._progress

    def begin(self, doing: str, task: Callable[[Tell], str], *, to_go_on: str = "") -> bool:
        """Begin a task, which returns what came of it; False where another is running.

        `to_go_on` is said where it was stopped: how what is missing comes to be done.
        """
        with self._lock:
            if self._progress.running:
                return False
            self._stop.clear()
            self._progress = Progress(number=self._progress.number + 1, doing=doing, running=True)
        self._thread = threading.Thread(
            target=self._run, args=(task, to_go_on), name="desk-work", daemon=True
        )
        self._thread.start()
        return True

    def stop(self) -> None:
        """Ask the task to end; what it has done so far is kept."""
        self._stop.set()

    def stop_asked(self) -> bool:
        """Whether the work is to end."""
        return self._stop.is_set()

    def forget(self) -> None:
        """Say no more what came of the last task: it was taken back since."""
        with self._lock:
            if not self._progress.running:
                self._progress = Progress(number=self._progress.number)

    def wait(self, seconds: float | None = None) -> None:
        """Wait for the task to end."""
        if self._thread is not None:
            self._thread.join(seconds)

    def _run(self, task: Callable[[Tell], str], to_go_on: str) -> None:
        try:
            message, failed = task(self._tell), False
        except KeyboardInterrupt:
            message, failed = f"Stopped. What was done so far is kept. {to_go_on}".rstrip(), False
        except AuditorError as error:
            message, failed = str(error), True
        except Exception as error:  # noqa: BLE001  # a thread that died unseen would leave the page waiting
            message, failed = f"This should not have happened: {type(error).__name__}: {error}", True
        with self._lock:
            self._progress = replace(self._progress, running=False, said=message, failed=failed, left_s=None)

    def _tell(self, doing: str, things: str, done: int, total: int | None) -> None:
        if self._stop.is_set():
            raise StopAskedError
        now = time.monotonic()
        if self._stage_began[0] != doing:
            self._stage_began = (doing, now)
        seconds = now - self._stage_began[1]
        rate = done / seconds if seconds > 1 and done else None
        left_s = None if rate is None or total is None else max(0.0, (total - done) / rate)
        with self._lock:
            self._progress = replace(
                self._progress, doing=doing, things=things, done=done, total=total, a_second=rate,
                left_s=left_s,
            )  # fmt: skip
