"""A file is measured only while it is the one that was scanned."""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from auditor.errors import FileAccessError
from auditor.jobs.failures import check_unchanged

SCANNED_AT = datetime(2026, 4, 18, 9, 30, 0, 250_000, tzinfo=UTC)


@pytest.mark.parametrize(
    ("apart", "same"),
    [
        (timedelta(0), True),
        (timedelta(seconds=1.9), True),
        (timedelta(seconds=40), False),
        (timedelta(hours=1), True),
        (timedelta(hours=-1, seconds=-1.5), True),
        (timedelta(hours=13), True),
        (timedelta(hours=1, minutes=10), False),
        (timedelta(days=40), False),
    ],
)
def test_a_time_that_a_card_keeps_otherwise_is_no_change(
    tmp_path: Path, apart: timedelta, same: bool
) -> None:
    """FAT keeps local time, without its zone, to two seconds (Microsoft, FAT32 File System Specification, R):
    after a change of clocks or on another continent all files of a card are whole hours off."""
    path = tmp_path / "A1.JPG"
    path.write_bytes(b"picture")
    now = SCANNED_AT + apart
    os.utime(path, ns=(0, int(now.timestamp() * 1e6) * 1000))
    if same:
        check_unchanged(str(path), 7, SCANNED_AT.isoformat())
    else:
        with pytest.raises(FileAccessError, match="changed after it was scanned"):
            check_unchanged(str(path), 7, SCANNED_AT.isoformat())
    with pytest.raises(FileAccessError, match="changed after it was scanned"):
        check_unchanged(str(path), 8, SCANNED_AT.isoformat())
