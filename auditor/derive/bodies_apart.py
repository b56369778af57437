"""Bodies of one model that record no serial number, told apart by their file names.

Each body counts its own files. Where two prefixes take turns within a day, and the numbers of each rise while
those of both together jump back and forth, there were two bodies. A prefix that was changed once, that moves
its underscore with the colour space, or that only renamed files have, goes on with one counter: one body.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from auditor.frames.kit_names import is_named_by_files, named_by_files
from auditor.records import Recorded
from auditor.statistics.number_gaps import FEWEST_BACK, LAST_NUMBER
from auditor.store import bodies_apart as stored
from auditor.store.bodies_apart import NumberedFrame
from auditor.store.body_key import body_key
from auditor.store.exposure_identity import name_prefix
from auditor.store.logbook import Logbook


def bodies_told_apart(logbook: Logbook) -> set[str]:
    """Models whose frames are told apart by their file names; inside `writing()`.

    Once told apart they stay so. Where a card is the first to tell, all frames of the model go on the list
    for rebuilding.

    Returns
    -------
    set[str]
        Bodies as `body_key` gives them, without a serial number.
    """
    already = apart_before(logbook)
    seen = {body for body, frames in stored.days_of_bodies(logbook) if are_two_bodies(frames)}
    stored.touch_bodies(logbook, seen - already)
    return already | seen


def apart_before(logbook: Logbook) -> set[str]:
    """Models whose frames were told apart by their file names before.

    Returns
    -------
    set[str]
        Bodies as `body_key` gives them, without a serial number.
    """
    return {
        body
        for body, serials in stored.bodies_without_serial(logbook).items()
        if any(map(is_named_by_files, serials))
    }


def are_two_bodies(frames: Sequence[NumberedFrame]) -> bool:
    """Whether the frames of a day are of two bodies.

    Parameters
    ----------
    frames
        Of one model, in order of time.

    Returns
    -------
    bool
        False for one prefix, and for one counter.
    """
    by_prefix: dict[str, list[int]] = {}
    for frame in frames:
        by_prefix.setdefault(frame.prefix, []).append(frame.number)
    together = _steps_back([frame.number for frame in frames])
    return together >= FEWEST_BACK and not any(map(_steps_back, by_prefix.values()))


def _steps_back(numbers: Sequence[int]) -> int:
    """A counter that begins again goes on; a step over more than half of all numbers goes back."""
    return sum((after - before) % LAST_NUMBER > LAST_NUMBER / 2 for before, after in pairwise(numbers))


def told_apart(recorded: Recorded, paths: Sequence[str], bodies: set[str]) -> Recorded:
    """A frame's record with what tells its body from others of its model.

    Parameters
    ----------
    recorded
        Merged from the frame's files.
    paths
        Of its files.
    bodies
        As `bodies_told_apart` gives them.

    Returns
    -------
    Recorded
        As it was, where the body records its serial number, or is told apart from none.
    """
    if recorded.body_serial is not None or body_key(recorded) not in bodies:
        return recorded
    prefix = next((found for path in sorted(paths) if (found := name_prefix(path))), None)
    return recorded if prefix is None else replace(recorded, body_serial=named_by_files(prefix))
