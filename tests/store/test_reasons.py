"""Reasons that frames have alike stand once; older logbooks are brought to it and say the same."""

from __future__ import annotations

import json
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest

from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import damage, migrations
from auditor.store.derived import frames_of
from auditor.store.exposure_identity import shortened
from auditor.store.logbook import open_logbook
from auditor.store.packed import unpacked
from auditor.store.repair import repair

CARD = Path(__file__).parents[2] / "sample_images"
_AS_BEFORE = {
    ("frames", "missing"): "(SELECT reasons FROM now.reasons WHERE reasons_id = missing)",
    ("inferred", "missing"): "(SELECT reasons FROM now.reasons WHERE reasons_id = missing)",
    ("frames", "focus_areas"): "with_spaces(focus_areas)",
    (
        "frames",
        "exposure_key",
    ): "body_make || '|' || body_model || '|' || taken_at || '|' || substr(exposure_key, 17)",
}


@pytest.fixture(scope="module")
def now(tmp_path_factory: pytest.TempPathFactory, measured_sample: Callable[[Path], Path]) -> Path:
    return measured_sample(tmp_path_factory.mktemp("now") / "book")


@pytest.fixture
def older(now: Path, tmp_path: Path) -> Path:
    """The same logbook as the auditor wrote it before: reasons, areas and keys in full with each frame."""
    path = tmp_path / "older.sqlite"
    with pytest.MonkeyPatch.context() as before:
        # The later ones read what the first brings: they come back in their order, the last taken out first.
        for name in ("0021_system_blur", "0019_no_serial", "0018_plain_names", "0015_reasons"):
            before.delitem(migrations.MIGRATIONS, name)
        with open_logbook(path, create=True):
            pass
    connection = sqlite3.connect(path, isolation_level=None)
    connection.create_function(
        "with_spaces", 1, lambda value: None if value is None else json.dumps(json.loads(unpacked(value)))
    )
    connection.execute("ATTACH ? AS now", (str(now),))
    tables = connection.execute(
        "SELECT name FROM main.sqlite_master WHERE type = 'table' AND name NOT LIKE '\\_%' ESCAPE '\\' "
        "ORDER BY name = 'summed'"  # the last: what is put in takes trips out of it
    )
    for (table,) in tables.fetchall():
        columns = [row[1] for row in connection.execute(f"PRAGMA main.table_info({table})")]
        values = ", ".join(_AS_BEFORE.get((table, column), column) for column in columns)
        connection.execute(
            f"INSERT INTO main.{table} ({', '.join(columns)}) SELECT {values} FROM now.{table}"
        )
    connection.close()
    return path


def contents(path: Path) -> dict[str, list[tuple[object, ...]]]:
    with open_logbook(path) as book:
        asked = {
            "frame_facts": "SELECT * FROM frame_facts ORDER BY frame_id",
            "frame_files": "SELECT * FROM frame_files ORDER BY path",
            "frames": "SELECT frame_id, exposure_key, recorded_json(focus_areas) FROM frames ORDER BY 1",
            "schema": "SELECT type, name, tbl_name FROM sqlite_master ORDER BY 1, 2",
            "summed": "SELECT * FROM summed ORDER BY 1",
        }
        found = {what: [tuple(row) for row in book.query(sql)] for what, sql in asked.items()}
        ids = [row[0] for row in book.query("SELECT frame_id FROM frames ORDER BY 1")]
        found["recorded"] = list(frames_of(book, ids))
        return found


def rows(path: Path, sql: str) -> list[tuple[object, ...]]:
    """As a program gets them that knows nothing of the auditor."""
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(sql).fetchall()


def bytes_of(path: Path, *tables: str) -> int:
    connection = sqlite3.connect(path)
    names = ", ".join(f"'{table}'" for table in tables)
    (count,) = connection.execute(f"SELECT sum(payload) FROM dbstat WHERE name IN ({names})").fetchone()
    connection.close()
    return int(count)


def test_an_older_logbook_says_the_same_afterwards(now: Path, older: Path) -> None:
    assert rows(older, "SELECT typeof(missing) FROM frames")[0] == ("text",)
    assert contents(older) == contents(now)
    with open_logbook(older) as book:
        assert book.query("SELECT DISTINCT typeof(missing) FROM frames")[0][0] == "integer"
        assert not damage.problems(book)
    assert list(older.parent.glob("older-before-*.sqlite")), "a copy was made before"


def test_the_promised_view_says_what_it_said_before(older: Path) -> None:
    """Asked of the older logbook itself, by a program that knows nothing of the auditor."""
    columns = [str(name) for (name,) in rows(older, "SELECT name FROM pragma_table_info('frame_facts')")]
    # Since 0021 system blur is never less than blur.
    asked = ", ".join(name for name in columns if not name.startswith("system_blur"))
    before = rows(older, f"SELECT {asked} FROM frame_facts ORDER BY frame_id")
    with open_logbook(older):
        pass
    after = rows(older, f"SELECT {asked} FROM frame_facts ORDER BY frame_id")
    assert len(before) > 50
    assert after == before


def test_nothing_is_read_or_measured_again(older: Path) -> None:
    (outcome,) = scan(older, [CARD], Settings(), jobs=1)
    assert outcome.read == 0
    with open_logbook(older) as book:
        assert measure(book, jobs=0).measured == 0


def test_frames_take_less_room(older: Path) -> None:
    """These frames lack little; real cameras leave out more. It was .700 of 62 kB on 2026-11-27."""
    tables = ("frames", "inferred", "sqlite_autoindex_frames_1")
    before = bytes_of(older, *tables)
    with open_logbook(older):
        pass
    assert bytes_of(older, *tables) < 0.71 * before


def test_few_sets_of_reasons_serve_all_frames(now: Path) -> None:
    with open_logbook(now) as book:
        sets = [json.loads(row[0]) for row in book.query("SELECT reasons FROM reasons")]
        (frames,) = book.query("SELECT count(*) FROM frames")[0]
    assert {} in sets
    assert len(sets) < frames / 3
    assert len({json.dumps(one, sort_keys=True) for one in sets}) == len(sets)


def test_a_repaired_older_logbook_is_of_the_new_form(now: Path, older: Path, tmp_path: Path) -> None:
    repair(older, tmp_path / "saved.sqlite")
    saved, whole = contents(tmp_path / "saved.sqlite"), contents(now)
    assert saved["recorded"] == whole["recorded"]
    assert [row[:2] for row in saved["frames"]] == [row[:2] for row in whole["frames"]]


def test_reasons_that_are_lost_are_told_by_the_files(now: Path, tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    shutil.copy(now, path)
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("UPDATE reasons SET reasons = 'no JSON ' || reasons_id WHERE reasons_id > 0")
    connection.close()
    with open_logbook(path) as book:
        assert damage.is_damaged(book)
    repair(path, tmp_path / "saved.sqlite")
    assert contents(tmp_path / "saved.sqlite")["recorded"] == contents(now)["recorded"]


@pytest.mark.parametrize(
    ("before", "rest"),
    [
        ("Saltmark|Saltmark F2|2026-04-18T05:47:26.12|0412", "0412"),
        ("|F2|2026-04-18T05:47:26|a|name", "a|name"),
        ("Saltmark|F2|2026-04-18T05:47:26|0412|00F2", "0412|00F2"),
    ],
)
def test_a_key_keeps_what_follows_the_moment(before: str, rest: str) -> None:
    key = shortened(before)
    assert key[16:] == rest
    assert len(key) == 16 + len(rest)
    assert shortened(key) == key
    assert shortened(before.replace("05:47", "05:48")) != key


def test_a_key_without_a_moment_stays() -> None:
    assert shortened("bytes|0123456789abcdef") == "bytes|0123456789abcdef"
