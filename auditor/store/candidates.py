"""Frames that pass the conditions of keepers, and how many each condition takes away."""

from __future__ import annotations

import json
from collections.abc import Sequence
from functools import lru_cache
from itertools import starmap
from typing import NamedTuple

from auditor.store.conditions import Conditions
from auditor.store.logbook import Logbook
from auditor.store.selection import EVERYTHING, Selection, among

_IS_UNCLEAR = "coalesce(verdict = 'unclear', 0)"


class Candidate(NamedTuple):
    """A frame and its preferred file; a tuple, since a logbook has many."""

    frame_id: int
    path: str | None


class OwnMarks(NamedTuple):
    """What a frame bears of marks."""

    rating: int | None
    keywords: tuple[str, ...]
    """Empty where none are known."""
    flags: tuple[str, ...]


class Sifted(NamedTuple):
    """What came of conditions."""

    frames: int
    """Frames that there were."""
    kept: list[Candidate]
    unclear: list[Candidate]
    """Frames that pass everything but have no clear verdict."""
    taken_away: dict[str, int]
    """Condition -> frames that it alone would take away, in whatever order conditions come."""


def sifted(logbook: Logbook, conditions: Conditions, selection: Selection = EVERYTHING) -> Sifted:
    """The selected frames that pass every condition, in order of time.

    Parameters
    ----------
    conditions
        All of them must hold.
    selection
        Which frames are looked at.

    Returns
    -------
    Sifted
        Kept and unclear frames, and how many frames each condition takes away.
    """
    tests, right = conditions.tests(), conditions.verdict_test
    where, values = among(selection)
    values |= conditions.values
    passing = " AND ".join([where, *tests.values()])
    kept, unclear = f"{passing} AND {right}", f"{passing} AND NOT {right} AND {_IS_UNCLEAR}"
    away = [f"NOT {test}" for test in tests.values()] + [f"NOT {right} AND NOT {_IS_UNCLEAR}"]
    counted = ", ".join(f"total({test})" for test in (unclear, *away))
    ((frames, any_unclear, *counts),) = logbook.query(
        f"SELECT count(*), {counted} FROM frame_facts WHERE {where}", values
    )
    names = (*tests, "verdict")
    return Sifted(
        frames=int(frames),
        kept=_rows(logbook, kept, values),
        unclear=_rows(logbook, unclear, values) if any_unclear else [],
        taken_away={name: int(count) for name, count in zip(names, counts, strict=True) if count},
    )


def _rows(logbook: Logbook, where: str, values: dict[str, object]) -> list[Candidate]:
    cursor = logbook.connection.execute(
        f"SELECT frame_id, path FROM frame_facts WHERE {where} ORDER BY taken_at, frame_id", values
    )
    cursor.row_factory = None
    return list(starmap(Candidate, cursor))


def own_marks(logbook: Logbook, frame_ids: Sequence[int]) -> dict[int, OwnMarks]:
    """Rating, keywords and flags of frames.

    Parameters
    ----------
    frame_ids
        Of frames.

    Returns
    -------
    dict[int, OwnMarks]
        By frame id; frames that the logbook lacks are left out.
    """
    sql = """SELECT frame_id, rating, keywords, flags FROM frame_facts
             WHERE frame_id IN (SELECT value FROM json_each(?))"""
    return {
        frame_id: OwnMarks(rating, _decoded(keywords or "[]"), _decoded(flags))
        for frame_id, rating, keywords, flags in logbook.query(sql, (json.dumps(list(frame_ids)),))
    }


@lru_cache(maxsize=1000)
def _decoded(text: str) -> tuple[str, ...]:
    return tuple(json.loads(text))
