"""Pictures that wait to be measured: which of them can be got at now, and which cannot."""

from __future__ import annotations

from dataclasses import dataclass, field

from auditor.file_names import as_path
from auditor.jobs.measure import waiting_pictures
from auditor.settings import Settings
from auditor.store.logbook import Logbook


@dataclass(slots=True)
class Waiting:
    """Pictures that wait to be measured."""

    in_reach: int = 0
    out_of_reach: list[tuple[str, str]] = field(default_factory=list)
    """(path, reason) of those whose folder, disk or permission is missing now."""


def waiting_now(logbook: Logbook, settings: Settings) -> Waiting:
    """Look for each picture that waits to be measured, without decoding it.

    Parameters
    ----------
    settings
        Those of the logbook.

    Returns
    -------
    Waiting
        How many are there, and the others with the system's reason.
    """
    waiting = Waiting()
    for path in waiting_pictures(logbook, settings):
        try:
            with as_path(path).open("rb"):
                waiting.in_reach += 1
        except OSError as error:
            waiting.out_of_reach.append((path, error.strerror or str(error)))
    return waiting
