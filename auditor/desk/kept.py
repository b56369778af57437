"""Values that take a while to work out, kept until the logbook or its settings change."""

from __future__ import annotations

from collections.abc import Callable, Hashable
from typing import Generic, TypeVar

from auditor.desk.reports import State

Value = TypeVar("Value")
MOST_KEPT = 200
"""As many as a long list of trips has lines; the oldest goes first."""


class Kept(Generic[Value]):
    """Values by key. Two requests at once may both work one out: they come to the same value."""

    def __init__(self) -> None:
        self._values: dict[Hashable, tuple[State, Value]] = {}

    def of(self, key: Hashable, state: State, work_out: Callable[[], Value]) -> Value:
        """The value of a key: the kept one, or, if the logbook or the settings have changed, a new one.

        Parameters
        ----------
        key
            What the value belongs to, such as a trip_id.
        state
            Of the logbook and its settings, as `reports.state_of` tells it: what was kept from another one is
            worked out again.
        work_out
            Called without arguments to make the value.

        Returns
        -------
        Value
            The same for the same key and state.
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
