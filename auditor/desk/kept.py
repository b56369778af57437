"""What takes a while to work out, kept while the logbook and its settings stay as they are."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

from auditor.desk.reports import State

Value = TypeVar("Value")
MOST_KEPT = 200
"""Lines of a list of trips."""


class Kept(Generic[Value]):
    """Values by what they are of. Two requests at once may both work one out: it is the same."""

    def __init__(self) -> None:
        self._values: dict[Hashable, tuple[State, Value]] = {}

    def of(self, key: Hashable, state: State, work_out: Callable[[], Value]) -> Value:
        """The value as it is now.

        Parameters
        ----------
        key
            What it is of.
        state
            Of the logbook and its settings, as `reports.state_of` tells it: a value of another is made anew.
        work_out
            Makes it.
        """
        kept = self._values.get(key)
        if kept is not None and kept[0] == state:
            return kept[1]
        value = work_out()
        self._values.pop(key, None)
        while len(self._values) >= MOST_KEPT:
            self._values.pop(next(iter(self._values)), None)
        self._values[key] = (state, value)
        return value
