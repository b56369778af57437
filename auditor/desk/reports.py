"""The reports of trips on the desk: worked out aside, and kept while the logbook stays as it is."""

from __future__ import annotations

import threading
from collections.abc import Callable
from concurrent.futures import Future
from pathlib import Path

from auditor.jobs.aside import Aside

MOST_KEPT = 8
"""Pages of a few megabytes each."""
State = tuple[object, ...]


class Reports:
    """Pages by trip. The first request for one begins it."""

    def __init__(self) -> None:
        self._pages: dict[int, tuple[State, Future[str]]] = {}
        self._lock = threading.Lock()
        # One at a time: two reports at once would take twice as long each.
        self._aside = Aside("desk-report")

    def begin(self, trip_id: int, state: State, write: Callable[[], str]) -> Future[str]:
        """The page of a trip, perhaps still being written.

        Parameters
        ----------
        state
            Of the logbook and its settings: a page of another state is written anew.
        write
            Makes the page.
        """
        with self._lock:
            kept = self._pages.pop(trip_id, None)
            page = kept[1] if kept and kept[0] == state and not _failed(kept[1]) else self._aside.begin(write)
            self._pages[trip_id] = (state, page)
            while len(self._pages) > MOST_KEPT:
                del self._pages[next(iter(self._pages))]
            return page


def state_of(logbook: Path, settings: object) -> State:
    """What changes whenever the logbook does: sizes and times of its file and of the log before it."""
    files = (logbook, logbook.with_name(f"{logbook.name}-wal"))
    return (settings, *(_facts(path) for path in files))


def _facts(path: Path) -> tuple[int, int] | None:
    try:
        facts = path.stat()
    except OSError:
        return None
    return (facts.st_mtime_ns, facts.st_size) if facts.st_size else None  # an empty log comes and goes


def _failed(page: Future[str]) -> bool:
    return page.done() and page.exception() is not None
