"""A card with a few frames, and an empty logbook."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest

from auditor.store.logbook import Logbook, open_logbook
from tests.keepers.places import write_card


@pytest.fixture
def card(tmp_path: Path) -> Path:
    return write_card(tmp_path / "card")


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Logbook]:
    with open_logbook(tmp_path / "book" / "logbook.sqlite", create=True) as book:
        yield book
