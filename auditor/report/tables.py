"""Tables as text that other programs read: CSV and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd

_RUN_BY_SPREADSHEETS = ("=", "+", "-", "@", "\t", "\r")
"""Cells that begin like this are run as formulas by spreadsheets: a lens name must not be."""


def csv_text(table: pd.DataFrame) -> str:
    """A table as CSV: UTF-8, one line a row, numbers to ten digits, nothing where nothing is known.

    A text that a spreadsheet would run as a formula gets an apostrophe in front.
    """
    safe = table.copy()
    for name in safe.columns:
        if safe[name].dtype == object or str(safe[name].dtype) in ("str", "string"):
            safe[name] = safe[name].map(_harmless, na_action="ignore")
    return str(safe.to_csv(index=False, lineterminator="\n", float_format="%.10g"))


def json_rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as a list of objects; NaN becomes null."""
    return [{str(name): _plain(value) for name, value in row.items()} for row in table.to_dict("records")]


def _harmless(value: Any) -> Any:
    return "'" + value if isinstance(value, str) and value.startswith(_RUN_BY_SPREADSHEETS) else value


def _plain(value: Any) -> Any:
    if hasattr(value, "item"):
        value = value.item()
    return None if isinstance(value, float) and value != value else value
