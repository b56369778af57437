"""What files recorded is packed; older logbooks are brought to it, and damage to it is told."""

from __future__ import annotations

import json
import shutil
import sqlite3
import zlib
from pathlib import Path

import pytest

from auditor.errors import LogbookError
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import damage, migrations
from auditor.store.logbook import open_logbook
from auditor.store.packed import DICTIONARY, packed, unpacked
from auditor.store.paths import stem, stem_key
from auditor.store.repair import repair

SAMPLE = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def scanned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("packed") / "logbook.sqlite"
    card = path.parent / "card"
    card.mkdir()
    for picture in sorted(SAMPLE.rglob("*.JPG"))[:12]:
        shutil.copy2(picture, card / picture.name)
    scan(path, [card], Settings(), jobs=1)
    return path


def as_it_was(scanned: Path, path: Path) -> Path:
    """The same logbook as the auditor wrote it before: lines of JSON, whole stems, two indexes of paths."""
    shutil.copy(scanned, path)
    connection = sqlite3.connect(path, isolation_level=None)
    rows = connection.execute("SELECT * FROM files").fetchall()
    names = [column[1] for column in connection.execute("PRAGMA table_info(files)")]
    triggers = connection.execute(
        "SELECT sql FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'files'"
    )
    made = [row[0] for row in triggers.fetchall()]
    connection.execute("DROP TABLE files")
    script = (Path(migrations.__file__).parent / "schema" / "0001_first_tables.sql").read_text(
        encoding="utf-8"
    )
    for statement in script.split(";"):
        if "TABLE files" in statement or "ON files (" in statement:
            connection.execute(statement)
    for row in rows:
        facts = dict(zip(names, row, strict=True))
        facts |= {"recorded": unpacked(facts["recorded"]), "stem": stem(facts["path"])}
        marks = ", ".join("?" * len(facts))
        connection.execute(f"INSERT INTO files ({', '.join(facts)}) VALUES ({marks})", tuple(facts.values()))
    for sql in made:
        connection.execute(sql)
    connection.execute("DELETE FROM _sqlite_migrations WHERE name = '0014_packed'")
    connection.close()
    return path


def contents(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with open_logbook(path) as book:
        asked = {
            "files": "SELECT file_id, path, stem, present, recorded_json(recorded) FROM files ORDER BY 1",
            "frame_files": "SELECT * FROM frame_files ORDER BY path",
            "frame_facts": "SELECT * FROM frame_facts ORDER BY frame_id",
            "schema": "SELECT type, name, tbl_name FROM sqlite_master WHERE tbl_name = 'files' ORDER BY 2",
            "summed": "SELECT * FROM summed ORDER BY 1",
        }
        return {what: [tuple(row) for row in book.query(sql)] for what, sql in asked.items()}


def test_a_line_comes_back_as_it_was() -> None:
    for text in ("{}", '{"lens_name": "Möwe 400mm f/4 \\" 鴨"}', json.dumps({"iso": 1e300, "missing": {}})):
        assert unpacked(packed(text)) == text
        assert unpacked(text) == text, "an older line may stand there as it is"


def test_what_files_record_takes_less_than_a_third_of_its_room(scanned: Path) -> None:
    with open_logbook(scanned) as book:
        rows = book.query("SELECT length(recorded), length(recorded_json(recorded)) FROM files")
    assert len(rows) == 12
    assert all(3 * packed_bytes < text for packed_bytes, text in rows)


def test_the_dictionary_stays_as_it_is_in_logbooks() -> None:
    """Where it must change, another is added, and this one stays for what was packed with it."""
    assert zlib.adler32(DICTIONARY) == 353_380_502


def test_changed_bytes_are_refused() -> None:
    value = packed('{"body_model": "Saltmark F2", "iso": 800.0}')
    for place in range(len(value)):
        changed = value[:place] + bytes([value[place] ^ 0x10]) + value[place + 1 :]
        with pytest.raises(ValueError, match="packed facts"):
            unpacked(changed)
    for end in range(len(value)):
        with pytest.raises(ValueError, match="packed facts"):
            unpacked(value[:end])


def test_an_older_logbook_says_the_same_afterwards(scanned: Path, tmp_path: Path) -> None:
    older = as_it_was(scanned, tmp_path / "older.sqlite")
    assert contents(older) == contents(scanned)
    with open_logbook(older) as book:
        assert book.query("SELECT DISTINCT typeof(recorded) FROM files")[0][0] == "blob"
        assert not book.problems()
        assert not damage.problems(book)
    assert (tmp_path / "older-before-0014_packed.sqlite").exists(), "a copy was made before"


def test_its_files_are_known_again(scanned: Path, tmp_path: Path) -> None:
    older = as_it_was(scanned, tmp_path / "older.sqlite")
    (outcome,) = scan(older, [scanned.parent / "card"], Settings(), jobs=1)
    assert outcome.read == 0


def test_a_damaged_older_logbook_is_repaired_into_the_new_form(scanned: Path, tmp_path: Path) -> None:
    older = as_it_was(scanned, tmp_path / "older.sqlite")
    repair(older, tmp_path / "saved.sqlite")
    with open_logbook(tmp_path / "saved.sqlite") as book:
        rows = book.query("SELECT path, stem, recorded_json(recorded) AS told FROM files")
        assert len(rows) == 12
        assert all(row["stem"] == stem_key(stem(row["path"])) for row in rows)
        assert all(json.loads(row["told"])["body_make"] == "Saltmark" for row in rows)


def test_changed_facts_are_told_as_damage_and_left_out_by_a_repair(scanned: Path, tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    shutil.copy(scanned, path)
    with open_logbook(path) as book, book.writing():
        (value,) = book.query("SELECT recorded FROM files WHERE file_id = 1")[0]
        book.execute("UPDATE files SET recorded = ? WHERE file_id = 1", (value[:-1] + b"\x00\x01",))
    with open_logbook(path) as book:
        assert [line for line in damage.problems(book) if "files" in line]
    repair(path, tmp_path / "saved.sqlite")
    with open_logbook(tmp_path / "saved.sqlite") as book:
        assert book.query("SELECT count(*) FROM files")[0][0] == 11


def test_a_path_is_there_once_and_may_have_gone_often(scanned: Path, tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    shutil.copy(scanned, path)
    same = "frame_id, role, volume, path, stem, size_bytes, modified_at, fingerprint, recorded"
    again = f"INSERT INTO files ({same}, present) SELECT {same}, ? FROM files WHERE file_id = 1"
    with open_logbook(path) as book:
        with book.writing():
            book.execute(again, (0,))
            book.execute(again, (0,))
        with pytest.raises(LogbookError, match="UNIQUE"), book.writing():
            book.execute(again, (1,))
