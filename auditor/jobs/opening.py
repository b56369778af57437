"""An existing logbook, opened with its derived tables brought up to date."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from auditor.derive.freshness import is_up_to_date
from auditor.errors import LogbookPlaceError
from auditor.readers.volume import on_network_share
from auditor.settings import load, settings_path
from auditor.store.damage import damage_told
from auditor.store.logbook import Logbook, open_logbook


@contextmanager
def up_to_date(path: Path) -> Iterator[Logbook]:
    """Open a logbook, and rebuild what its settings or what was touched made out of date.

    One that cannot be written to is opened as it was last brought up to date: `read_only` says so.

    Parameters
    ----------
    path
        Of the logbook.

    Returns
    -------
    Iterator[Logbook]
        The open logbook; it is closed on leaving.

    Raises
    ------
    LogbookError
        where there is none, or it is damaged.
    """
    with (
        open_logbook(path, network_share=on_network_share(path.parent)) as logbook,
        damage_told(logbook),
    ):
        settings = load(settings_path(path.absolute()))
        if not is_up_to_date(logbook, settings):
            try:
                from auditor.derive.rebuild import rebuild  # what reads pixels takes long to load

                rebuild(logbook, settings)
            except LogbookPlaceError:  # it can still be looked at
                logbook.out_of_date = True
        yield logbook
