"""Whether the derived tables are up to date, found out without loading what rebuilds them."""

from __future__ import annotations

from auditor.settings import GROUPING, JUDGING, Settings
from auditor.store import derived, groups, summed
from auditor.store.logbook import Logbook

VERSION = "12"
"""Raised whenever what is derived changes, so that old logbooks are rebuilt."""


def facts_stamp(settings: Settings) -> str:
    """What the facts of frames depend on: this version, and the settings by which they are judged."""
    return f"{VERSION}:{settings.stamp_of(JUDGING)}"


def groups_stamp(settings: Settings) -> str:
    """What bursts, scenes and trips depend on: this version, and the settings by which they are grouped."""
    return f"{VERSION}:{settings.stamp_of(GROUPING)}"


def is_up_to_date(logbook: Logbook, settings: Settings) -> bool:
    """Whether a rebuild would do nothing."""
    return not (
        derived.facts_are_stale(logbook, facts_stamp(settings))
        or groups.groups_are_stale(logbook, groups_stamp(settings))
        or derived.any_touched(logbook)
        or not summed.all_stand(logbook)
    )
