"""Frames whose facts were inferred while a scan still reads: of them only the groups wait.

This scan's connection alone knows of them (temporary tables). They stay on the list for rebuilding, so a scan
that is killed leaves them to the next run as it leaves all others.
"""

from __future__ import annotations

from collections.abc import Iterator

from auditor.records import Recorded
from auditor.store import derived
from auditor.store.logbook import Logbook

# Whatever puts a frame on the list again has changed it. "Before", since frames that are on it are not
# inserted.
_TOUCHED_AGAIN = """
CREATE TEMP TRIGGER IF NOT EXISTS touched_again BEFORE INSERT ON main.touched BEGIN
    DELETE FROM inferred_ahead WHERE frame_id = NEW.frame_id;
END
"""


class InferredAhead:
    """The new frames of one scan that were inferred already."""

    def __init__(self, logbook: Logbook) -> None:
        self._logbook = logbook
        logbook.execute("CREATE TEMP TABLE IF NOT EXISTS inferred_ahead (frame_id INTEGER PRIMARY KEY)")
        logbook.execute("DELETE FROM inferred_ahead")
        logbook.execute(_TOUCHED_AGAIN)
        self._last_frame = int(logbook.query("SELECT coalesce(max(frame_id), 0) FROM frames")[0][0])
        self._version = self._data_version()

    def new_frames(self) -> Iterator[tuple[int, Recorded]]:
        """Frames written since the last call, with what was recorded of them; inside `writing()`.

        Returns
        -------
        Iterator[tuple[int, Recorded]]
            They count as inferred once all are fetched.
        """
        before = self._last_frame
        for frame_id, recorded in derived.touched_frames(self._logbook, after=before):
            yield frame_id, recorded
            self._last_frame = frame_id
        self._logbook.execute(
            "INSERT OR IGNORE INTO inferred_ahead SELECT frame_id FROM touched WHERE frame_id > ?", (before,)
        )

    def others(self) -> Iterator[tuple[int, Recorded]]:
        """Frames on the list for rebuilding that were not inferred, or changed since; inside `writing()`.

        Returns
        -------
        Iterator[tuple[int, Recorded]]
            Id and record of each; all of them where another run has written to the logbook meanwhile.
        """
        if self._data_version() != self._version:
            self._logbook.execute("DELETE FROM inferred_ahead")
        return derived.touched_frames(self._logbook, but_for="inferred_ahead")

    def _data_version(self) -> int:
        """Another number once another connection has written (SQLite's PRAGMA data_version)."""
        return int(self._logbook.query("PRAGMA data_version")[0][0])
