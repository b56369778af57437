"""That rates rest on a part of the frames, and how to go on."""

from __future__ import annotations

from auditor.analysis.measuring import Measuring
from auditor.report.text.values import count, whole
from auditor.store.trip_summaries import TripSummary

GO_ON = "auditor measure"
"""What measures the rest."""


def not_measured_yet(measuring: Measuring, option: str = "") -> str | None:
    """How many frames the rates are without, and the command that goes on; None where all are measured.

    Parameters
    ----------
    option
        What that command needs behind it to reach the same logbook.
    """
    if not measuring.waiting:
        return None
    return (
        f"{_waiting(measuring)} not measured yet, and the rates leave {_them(measuring)} out. "
        f"To go on: {GO_ON}{option}"
    )


def in_place_of_answer(measuring: Measuring, option: str = "") -> str | None:
    """The first screen while too much is not measured; None where there can be an answer."""
    if measuring.enough:
        return None
    return (
        f"{_waiting(measuring)} not measured yet: too many for an answer. "
        f"Run {GO_ON}{option}, then this report again."
    )


def nothing_measured(row: TripSummary) -> str:
    """Of a trip without a measured frame: whether that is for want of measuring, or of pictures."""
    if not row.undecodable:
        return "not measured"
    if row.undecodable < row.frames:
        return f"not measured; {count(row.undecodable, 'picture')} could not be read"
    return "its picture could not be read" if row.frames == 1 else "none of its pictures could be read"


def _waiting(measuring: Measuring) -> str:
    """ "2 of 24 frames are"."""
    of = f"{whole(measuring.waiting)} of {count(measuring.frames, 'frame')}"
    return f"{of} {'is' if measuring.waiting == 1 else 'are'}"


def _them(measuring: Measuring) -> str:
    return "it" if measuring.waiting == 1 else "them"
