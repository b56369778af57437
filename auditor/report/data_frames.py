"""The tables of the logbook as pandas DataFrames, for questions of your own. Needs the extra `pandas`."""

from __future__ import annotations

from dataclasses import astuple, fields
from typing import TYPE_CHECKING, Any

from auditor.analysis.kit_table import KitRow, kit_table
from auditor.errors import OutputError
from auditor.settings import load, settings_path
from auditor.store.frame_facts import table_of_trip
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import pandas as pd

PACKAGE = 'python -m pip install "auditor[pandas]"'


def frames_table(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """The view `frame_facts`: a row a frame in order of time, columns and units as docs/logbook.md has them.

    Parameters
    ----------
    trip_id
        Of one trip; None for all.

    Returns
    -------
    pandas.DataFrame
        Unknown facts are missing values; `missing` says why.

    Raises
    ------
    OutputError
        where pandas is not installed.
    """
    pandas = _pandas()
    parts = list(table_of_trip(logbook, trip_id))
    rows = [row for part in parts for row in part.rows]
    frames: pd.DataFrame = pandas.DataFrame(rows, columns=list(parts[0].columns))
    return frames


def kits_table(logbook: Logbook, trip_id: int | None = None) -> pd.DataFrame:
    """The kit table: a row a kit, as `auditor kits --json` has it.

    Parameters
    ----------
    trip_id
        Of one trip; None for all.

    Returns
    -------
    pandas.DataFrame
        With rates, their intervals and light costs.

    Raises
    ------
    OutputError
        where pandas is not installed.
    """
    pandas = _pandas()
    columns = [field.name for field in fields(KitRow)]
    rows = [astuple(kit) for kit in kit_table(logbook, trip_id, settings=load(settings_path(logbook.path)))]
    kits: pd.DataFrame = pandas.DataFrame(rows, columns=columns)
    return kits


def _pandas() -> Any:
    try:
        import pandas
    except ImportError as error:
        raise OutputError(f"DataFrames need a package that is not installed: {PACKAGE}") from error
    return pandas
