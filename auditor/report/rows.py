"""Tables as plain rows: what is missing is None."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import pandas as pd


def json_rows(table: pd.DataFrame) -> list[dict[str, Any]]:
    """A table as a list of dictionaries of plain values; the NaN that pandas makes of None is None again."""
    return [{str(name): _plain(value) for name, value in row.items()} for row in table.to_dict("records")]


def _plain(value: Any) -> Any:
    if hasattr(value, "item"):
        value = value.item()
    return None if isinstance(value, float) and value != value else value
