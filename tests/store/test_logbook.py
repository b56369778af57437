"""Opening a logbook: new, old, newer, foreign, broken, busy."""

from __future__ import annotations

import contextlib
import shutil
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from dataclasses import fields
from pathlib import Path
from typing import Any

import pytest

import auditor.store.logbook as store
from auditor.errors import LogbookError
from auditor.store.frame_facts import FrameFacts
from auditor.store.logbook import open_logbook

FRAME_FACTS = [
    "frame_id",
    "trip_id",
    "encounter_id",
    "scene_id",
    "burst_id",
    "path",
    "taken_at",
    "utc_offset",
    "utc_offset_source",
    "body_make",
    "body_model",
    "body_serial",
    "lens_name",
    "kit_id",
    "kit_name",
    "focal_length_mm",
    "focal_length_recorded_mm",
    "f_number",
    "f_number_recorded",
    "iso",
    "auto_iso",
    "exposure_time_s",
    "exposure_bias_ev",
    "flash_fired",
    "settings_ev",
    "light_value_ev",
    "converter_factor",
    "converter_source",
    "lens_widest_f_number",
    "crop_factor",
    "sensor_diagonal_mm",
    "pixel_pitch_um",
    "width_px",
    "height_px",
    "focus_mode",
    "area_mode",
    "drive_mode",
    "camera_word",
    "af_x",
    "af_y",
    "af_width",
    "af_height",
    "focus_distance_m",
    "rating",
    "keywords",
    "measured_on",
    "reading_version",
    "blur_px",
    "blur_um",
    "blur_urad",
    "system_blur_px",
    "system_blur_urad",
    "blur_kind",
    "reading_flags",
    "verdict",
    "verdict_source",
    "verdict_on_subject",
    "forced_push_ev",
    "forced_push_low_ev",
    "chosen_ev",
    "iso_without_converter",
    "flags",
    "missing",
    "camera_blur_px",
    "hit_probability",
    "chosen",
]
"""The promise to other programs, in its order."""


@pytest.fixture
def path(tmp_path: Path) -> Path:
    return tmp_path / "logbook.sqlite"


def columns(path: Path, name: str) -> list[str]:
    with open_logbook(path, create=True) as book:
        return [row[1] for row in book.query(f"PRAGMA table_info({name})")]


def test_the_promised_views_are_there_from_the_start(path: Path) -> None:
    assert columns(path, "frame_facts") == FRAME_FACTS
    assert [column.name for column in fields(FrameFacts)] == FRAME_FACTS
    assert columns(path, "frame_files") == [
        "frame_id", "role", "volume", "path", "present", "size_bytes", "modified_at", "fingerprint",
    ]  # fmt: skip
    assert columns(path, "unreadable")[:5] == ["path", "stage", "reason", "error_class", "seen_at"]


def test_every_table_is_strict(path: Path) -> None:
    with open_logbook(path, create=True) as book:
        loose = book.query(
            "SELECT name FROM pragma_table_list WHERE schema = 'main' AND type = 'table' AND strict = 0 "
            "AND name NOT LIKE 'sqlite%' AND name NOT LIKE '\\_sqlite%' ESCAPE '\\'"
        )
    assert [row[0] for row in loose] == []


def test_no_logbook_and_none_made_by_reading(path: Path) -> None:
    with pytest.raises(LogbookError, match="no logbook here yet"), open_logbook(path):
        pass
    assert not path.exists()


def test_a_newer_logbook_is_refused_and_left_alone(path: Path) -> None:
    with open_logbook(path, create=True) as book, book.writing():
        book.execute(
            "INSERT INTO _sqlite_migrations (migration_set, name, applied_at) "
            "VALUES ('auditor', '9999_from_the_future', 'then')"
        )
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="newer auditor"), open_logbook(path):
        pass
    assert path.read_bytes() == before


def test_a_file_that_is_no_database_is_refused_and_left_alone(path: Path) -> None:
    path.write_bytes(b"a shopping list, and longer than a hundred bytes " * 10)
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="not a logbook"), open_logbook(path, create=True):
        pass
    assert path.read_bytes() == before


def test_a_database_of_another_program_is_refused_and_left_alone(path: Path) -> None:
    with sqlite3.connect(path) as other:
        other.execute("CREATE TABLE recipes (name TEXT)")
    other.close()
    before = path.read_bytes()
    with pytest.raises(LogbookError, match="another program"), open_logbook(path, create=True):
        pass
    assert path.read_bytes() == before


def test_a_folder_given_as_logbook_is_refused(tmp_path: Path) -> None:
    with pytest.raises(LogbookError, match="is a folder"), open_logbook(tmp_path, create=True):
        pass


def test_a_place_that_cannot_be_made_is_told(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("in the way", encoding="utf-8")
    with (
        pytest.raises(LogbookError, match="cannot be made"),
        open_logbook(tmp_path / "file" / "logbook.sqlite", create=True),
    ):
        pass


def _write_and_fail(book: store.Logbook) -> None:
    with book.writing():
        book.execute("INSERT INTO frames (exposure_key) VALUES ('a')")
        raise RuntimeError


def test_a_failed_transaction_leaves_nothing(path: Path) -> None:
    with open_logbook(path, create=True) as book:
        with pytest.raises(RuntimeError):
            _write_and_fail(book)
        assert book.query("SELECT * FROM frames") == []


def test_a_second_writer_is_told_when_the_first_does_not_end(
    path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(store, "WAIT_FOR_OTHERS_S", 0.05)
    with open_logbook(path, create=True) as first, first.writing():
        first.execute("INSERT INTO frames (exposure_key) VALUES ('a')")
        with (
            open_logbook(path) as second,
            pytest.raises(LogbookError, match="Another run"),
            second.writing(),
        ):
            pass
    with open_logbook(path) as book:
        assert len(book.query("SELECT * FROM frames")) == 1


def test_the_journal_suits_the_place(path: Path, tmp_path: Path) -> None:
    with open_logbook(path, create=True) as book:
        assert book.query("PRAGMA journal_mode")[0][0] == "wal"
    with open_logbook(tmp_path / "share.sqlite", create=True, network_share=True) as book:
        assert book.query("PRAGMA journal_mode")[0][0] == "delete"


def test_nothing_but_the_promised_words_is_kept(path: Path) -> None:
    with open_logbook(path, create=True) as book, pytest.raises(LogbookError), book.writing():
        book.execute("INSERT INTO frames (exposure_key, camera_word) VALUES ('a', 'maybe')")


def test_statements_are_told_apart_by_more_than_semicolons() -> None:
    """A semicolon in a string, a comment or a trigger ends no statement."""
    from auditor.store.migrations import _statements

    first = "INSERT INTO a VALUES ('one; two -- three')"
    trigger = "CREATE TRIGGER t AFTER INSERT ON a BEGIN UPDATE b SET c = 1; DELETE FROM d; END"
    script = f"-- begins; here\n{first};\n/* and; here */ {trigger};\nDROP TABLE e;\n"
    parts = _statements(script)
    assert len(parts) == 3
    assert parts[0].endswith(first)
    assert parts[1].endswith(trigger)
    assert parts[2] == "DROP TABLE e"


def test_an_empty_file_is_not_made_a_logbook_by_looking(path: Path) -> None:
    path.write_bytes(b"")
    with pytest.raises(LogbookError, match="empty file, not a logbook"), open_logbook(path):
        pass
    assert path.read_bytes() == b""
    with open_logbook(path, create=True) as book:
        assert book.query("SELECT count(*) FROM frames")[0][0] == 0


def with_a_trip(folder: Path) -> Path:
    from auditor.jobs.scan import scan
    from auditor.settings import Settings
    from tests.frame_files import Shot, write_card

    write_card(folder / "card", [Shot(number=n, after_s=n * 0.2) for n in range(1, 7)])
    scan(folder / "book" / "logbook.sqlite", [folder / "card"], Settings())
    return folder / "book" / "logbook.sqlite"


VIEWS = (["kits"], ["frames"], ["flags"], ["check"], ["keepers"], ["declare", "list"])


def test_a_logbook_on_a_disk_that_can_only_be_read_can_be_looked_at(
    tmp_path: Path, disk: Callable[[int], Path]
) -> None:
    book, place = with_a_trip(tmp_path), disk(2048)
    shutil.copy2(book, place / "logbook.sqlite")
    subprocess.run(["mount", "-o", "remount,ro", str(place)], check=True)
    views_are_shown(place / "logbook.sqlite")


def test_a_logbook_on_a_full_disk_can_be_looked_at(tmp_path: Path, disk: Callable[[int], Path]) -> None:
    book, place = with_a_trip(tmp_path), disk(1024)
    shutil.copy2(book, place / "logbook.sqlite")
    with (place / "filler").open("wb", buffering=0) as file, contextlib.suppress(OSError):
        while True:
            file.write(bytes(4096))
    views_are_shown(place / "logbook.sqlite")


def test_a_folder_that_refuses_every_writing_can_be_looked_at(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Where no disk can be made, SQLite is told that it may not write."""
    book = with_a_trip(tmp_path)
    connect = sqlite3.connect

    def refusing(database: str, **options: Any) -> sqlite3.Connection:
        if "mode=rwc" in str(database):
            raise refused()
        opened: sqlite3.Connection = connect(database, **options)
        return opened

    def refused() -> sqlite3.OperationalError:
        error = sqlite3.OperationalError("attempt to write a readonly database")
        error.sqlite_errorcode = sqlite3.SQLITE_READONLY
        return error

    monkeypatch.setattr("auditor.store.logbook.sqlite3.connect", refusing)
    views_are_shown(book)


def views_are_shown(book: Path) -> None:
    from auditor.errors import LogbookPlaceError
    from tests.cli.program import run

    before = book.read_bytes()
    for arguments in VIEWS:
        done = run(*arguments, "--logbook", book)
        assert done.returncode == 0, (arguments, done.stderr)
    assert "6 frames" in run("check", "--logbook", book).stdout
    with (
        pytest.raises(LogbookPlaceError, match=r"can only be read|full"),
        open_logbook(book) as opened,
        opened.writing(),
    ):
        opened.execute("CREATE TABLE large AS SELECT zeroblob(3000000) AS bytes")
    assert book.read_bytes() == before


def test_looking_at_a_logbook_that_is_up_to_date_loads_no_tables_of_numbers(path: Path) -> None:
    """sqlite-utils brings pandas along, half a second: it is needed for migrations alone."""
    with open_logbook(path, create=True):
        pass
    program = (
        "import sys; from pathlib import Path; from auditor.store.logbook import open_logbook\n"
        f"with open_logbook(Path({str(path)!r})) as book: book.query('SELECT 1')\n"
        "sys.exit(bool({'pandas', 'sqlite_utils'} & set(sys.modules)))"
    )
    assert subprocess.run([sys.executable, "-c", program], check=False).returncode == 0
