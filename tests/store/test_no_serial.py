"""Logbooks that took zeros for a serial number are brought up to date, and their kits keep their numbers."""

from __future__ import annotations

from dataclasses import asdict, replace
from pathlib import Path

import pytest

from auditor.derive.declaring import declare
from auditor.derive.rebuild import rebuild
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import declarations, migrations
from auditor.store.declared_facts import BodyFacts, Said
from auditor.store.derived import kits_in_use
from auditor.store.files import merge_frames
from auditor.store.logbook import open_logbook
from auditor.store.selection import selected_frames
from tests.frame_files import Shot, write_card

ZEROS = replace(Shot(), model="Pocket", serial="0000000")
SHOTS = [Shot(number=1), replace(ZEROS, number=2, after_s=60.0), Shot(number=3, after_s=120.0, focal_mm=700)]


@pytest.fixture
def older(tmp_path: Path) -> Path:
    """As an auditor before 0019 wrote it."""
    path = tmp_path / "logbook.sqlite"
    write_card(tmp_path / "card", SHOTS)
    with pytest.MonkeyPatch.context() as before:
        before.delitem(migrations.MIGRATIONS, "0019_no_serial")
        before.setattr("auditor.readers.exif.serial_number", lambda text: text)
        scan(path, [tmp_path / "card"], Settings())
        with open_logbook(path) as book:
            assert [row.body_serial for row in selected_frames(book)] == ["1001", "0000000", "1001"]
            said = Said(facts=BodyFacts(iso_ceiling=3200.0), body="0000000")
            declare(book, Settings(), [said])
    return path


def test_zeros_become_no_serial_number_and_no_kit_a_new_number(older: Path, tmp_path: Path) -> None:
    with open_logbook(older) as book:
        before = {kit.kit_id: kit for kit in kits_in_use(book)}
        rebuild(book, Settings())
        rows = selected_frames(book)
        assert [row.body_serial for row in rows] == ["1001", None, "1001"]
        assert [row.missing.get("body_serial") for row in rows] == [None, "not_recorded", None]
        after = {kit.kit_id: kit for kit in kits_in_use(book)}
        assert set(after) == set(before)
        (said,) = declarations.history(book)
        assert said.body == "Pocket"
        # What its files recorded says the same, whenever frames are merged from them anew.
        with book.writing():
            merge_frames(book, [row.frame_id for row in rows])
        rebuild(book, Settings())
        assert [asdict(row) for row in selected_frames(book)] == [asdict(row) for row in rows]
    write_card(tmp_path / "next", [replace(ZEROS, number=9, after_s=86_400.0)])
    scan(older, [tmp_path / "next"], Settings())
    with open_logbook(older) as book:
        rebuild(book, Settings())
        assert {kit.kit_id for kit in kits_in_use(book)} == set(before)
