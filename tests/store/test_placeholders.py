"""Placeholders of SQL that every Python takes."""

from __future__ import annotations

import re
from pathlib import Path

STORE = Path(__file__).parents[2] / "auditor" / "store"


def test_no_placeholder_is_numbered() -> None:
    """Values in a sequence go with `?` alone: `?1` is a name to Python's sqlite3, which warns from 3.12 on
    and refuses it from 3.14 on (What's New in Python 3.12, sqlite3, R)."""
    numbered = [
        path.name for path in sorted(STORE.glob("*.py")) if re.search(r"\?[1-9]", path.read_text("utf-8"))
    ]
    assert numbered == []
