"""A small card and the place of a logbook that is not there yet."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.frame_files import Shot, write_card


@pytest.fixture
def card(tmp_path: Path) -> Path:
    folder = tmp_path / "card"
    write_card(folder, [Shot(number=n, after_s=n * 0.2) for n in range(1, 7)])
    return folder


@pytest.fixture
def logbook(tmp_path: Path) -> Path:
    return tmp_path / "place" / "logbook.sqlite"
