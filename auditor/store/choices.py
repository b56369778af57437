"""What the photographer chose by eye, frame by frame: kept at once, and never computed."""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass

from auditor.errors import LogbookError
from auditor.store.clock import now_utc
from auditor.store.logbook import Logbook
from auditor.words import Choice

_KEEP = """INSERT INTO choices (frame_id, choice, chosen_at) VALUES (?, ?, ?)
    ON CONFLICT (frame_id) DO UPDATE SET choice = excluded.choice, chosen_at = excluded.chosen_at"""
_COUNTS = """SELECT m.trip_id, sum(c.choice = 'keep') AS kept, sum(c.choice = 'leave') AS left_out
    FROM choices AS c JOIN membership AS m USING (frame_id) GROUP BY 1"""


@dataclass(frozen=True, slots=True, kw_only=True)
class ChoiceCounts:
    """How many frames of a trip were chosen."""

    kept: int = 0
    left: int = 0


def choose_frame(logbook: Logbook, frame_id: int, choice: Choice | None) -> None:
    """Keep what was chosen for a frame; None makes it undecided again.

    Parameters
    ----------
    frame_id
        Of the frame.
    choice
        None for undecided.

    Raises
    ------
    LogbookError
        for a frame that the logbook does not have, or a logbook that cannot be written.
    """
    with logbook.writing():
        if not logbook.query("SELECT 1 FROM frames WHERE frame_id = ?", (frame_id,)):
            raise LogbookError(f"The logbook has no frame {frame_id} any more. Load the page again.")
        if choice is None:
            logbook.execute("DELETE FROM choices WHERE frame_id = ?", (frame_id,))
        else:
            logbook.execute(_KEEP, (frame_id, choice, now_utc()))


def choices_of(logbook: Logbook, frame_ids: Collection[int]) -> dict[int, Choice]:
    """What was chosen for each of these frames; undecided ones are left out.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    dict[int, Choice]
        By frame id.
    """
    sql = "SELECT frame_id, choice FROM choices WHERE frame_id IN (SELECT value FROM json_each(?))"
    rows = logbook.query(sql, (json.dumps(sorted(frame_ids)),))
    return {row["frame_id"]: Choice(row["choice"]) for row in rows}


def choice_counts(logbook: Logbook) -> dict[int, ChoiceCounts]:
    """How many frames were chosen, by trip_id; trips in which none was are left out."""
    return {
        row["trip_id"]: ChoiceCounts(kept=row["kept"], left=row["left_out"]) for row in logbook.query(_COUNTS)
    }


def move_choice(logbook: Logbook, from_frame: int, to_frame: int) -> None:
    """Give a frame the choice of one that turns out to be the same exposure, inside `writing()`.

    Its own choice, where it has one, counts.

    Parameters
    ----------
    from_frame
        Loses its choice.
    to_frame
        Gets it.
    """
    logbook.execute("UPDATE OR IGNORE choices SET frame_id = ? WHERE frame_id = ?", (to_frame, from_frame))
