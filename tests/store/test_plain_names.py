"""Of copies with the same content, the one with the plain name stands for the frame wherever one is named."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from auditor.focus.sharpness import VERSION
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import frame_files, listed_frames, readings
from auditor.store.logbook import open_logbook
from tests.frame_files import Shot, write_frame


@pytest.mark.parametrize(
    "copy", ["TST_0001 (1).JPG", "TST_0001 - Copy.JPG", "TST_0001 copy.JPG", "Copy of TST_0001.JPG"]
)
def test_the_plain_name_stands_before_that_of_a_copy(tmp_path: Path, copy: str) -> None:
    plain = write_frame(tmp_path / "card" / "TST_0001.JPG", Shot())
    shutil.copy2(plain, plain.with_name(copy))
    scan(tmp_path / "logbook.sqlite", [tmp_path / "card"], Settings())
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        ((frame_id, shown),) = book.query("SELECT frame_id, path FROM frame_facts")
        (measured,) = readings.waiting(book, version=VERSION, auditor_version="0")
        (cut,) = listed_frames.to_show(book, [frame_id])
        ((_, handed_over),) = frame_files.present_paths(book, [frame_id])
    assert [shown, measured.path, cut.path, *handed_over] == [str(plain)] * 4
