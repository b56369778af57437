"""A logbook whose list of tables is gone: its rows are found page by page, as SQLite would read them."""

from __future__ import annotations

import random
import shutil
import sqlite3
import tempfile
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from auditor.errors import LogbookError
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store.damage import problems
from auditor.store.logbook import open_logbook
from auditor.store.pages import Pages, Shape
from auditor.store.repair import repair
from tests.cli.program import error_line, run
from tests.share import WHOLE, cases

SAMPLE = Path(__file__).parents[2] / "sample_images"
PAGE_BYTES = 4096
SHAPE = Shape(
    types=("INTEGER", "INTEGER", "REAL", "TEXT", "BLOB"), needed=(True,) + 4 * (False,), rowid_column=0
)
Values = list[tuple[int | None, float | None, str | None, bytes | None]]


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A scanned logbook with declarations, some of them undone."""
    path = tmp_path_factory.mktemp("whole") / "logbook.sqlite"
    scan(path, [SAMPLE], Settings())
    for ceiling in ("3200", "6400"):
        words = ["declare", "body", "--body", "Saltmark F2", "--iso-ceiling", ceiling, "--logbook", path]
        assert run(*words).returncode == 0
    with open_logbook(path) as book:
        book.query("PRAGMA wal_checkpoint(TRUNCATE)")
    return path


@pytest.fixture
def logbook(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy2(whole, tmp_path / "logbook.sqlite"))


def rows_of(path: Path, table: str) -> list[tuple[object, ...]]:
    with closing(sqlite3.connect(path)) as connection:
        return connection.execute(f"SELECT * FROM {table} ORDER BY rowid").fetchall()


def list_pages(path: Path) -> list[int]:
    """The pages of SQLite's own list of tables, inner ones first (SQLite, Database File Format, 2.6)."""
    data, pages, waiting = path.read_bytes(), [], [1]
    while waiting:
        page = waiting.pop(0)
        pages.append(page)
        start = (page - 1) * PAGE_BYTES + (100 if page == 1 else 0)
        if data[start] == 0x05:
            count = int.from_bytes(data[start + 3 : start + 5])
            for number in range(count):
                cell = int.from_bytes(data[start + 12 + 2 * number :][:2]) + (page - 1) * PAGE_BYTES
                waiting.append(int.from_bytes(data[cell : cell + 4]))
            waiting.append(int.from_bytes(data[start + 8 : start + 12]))
    return pages


def overwrite(path: Path, pages: list[int], *, keep: int = 0) -> None:
    """Fill pages with what a failing disk returns; the first bytes of each may stay."""
    data = bytearray(path.read_bytes())
    for page in pages:
        first = (page - 1) * PAGE_BYTES
        data[first + keep : first + PAGE_BYTES] = random.Random(page).randbytes(PAGE_BYTES - keep)
    path.write_bytes(data)


DAMAGE: dict[str, Callable[[Path], object]] = {
    "the first page": lambda path: overwrite(path, [1]),
    "the first page, but for the file's header": lambda path: overwrite(path, [1], keep=100),
    "the whole list": lambda path: overwrite(path, list_pages(path)),
    "the list behind the first page": lambda path: overwrite(path, list_pages(path)[1:]),
    "nothing but zeros at the start": lambda path: path.write_bytes(bytes(8192) + path.read_bytes()[8192:]),
}


@pytest.mark.long
@pytest.mark.parametrize("name", list(DAMAGE) if WHOLE else ["the whole list"])
def test_every_row_is_found_without_the_list_of_tables(
    whole: Path, logbook: Path, tmp_path: Path, name: str
) -> None:
    assert len(list_pages(logbook)) > 3
    DAMAGE[name](logbook)
    damaged, new = logbook.read_bytes(), tmp_path / "new.sqlite"
    done = run("check", "--repair", new, "--logbook", logbook)
    assert done.returncode == 0, done.stderr
    assert "its pages were searched one by one" in done.stdout
    assert logbook.read_bytes() == damaged
    assert run("kits", "--logbook", new).returncode == 0
    with open_logbook(new) as book:
        assert problems(book) == []
    for table in ("frames", "files", "declarations", "scans"):
        assert rows_of(new, table) == rows_of(whole, table)


def test_a_file_that_is_no_logbook_gives_one_line_and_no_new_file(tmp_path: Path) -> None:
    new = tmp_path / "new.sqlite"
    for number, content in enumerate((b"", b"x" * 50, random.Random(1).randbytes(50_000))):
        path = tmp_path / f"{number}.sqlite"
        path.write_bytes(content)
        assert "nothing of it can be read" in error_line(run("check", "--repair", new, "--logbook", path))
    assert "nothing of it can be read" in error_line(
        run("check", "--repair", new, "--logbook", tmp_path / "none.sqlite")
    )
    assert [path.name for path in tmp_path.iterdir() if "new" in path.name] == []


def test_a_place_that_cannot_be_is_told_as_such(whole: Path, tmp_path: Path) -> None:
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(LogbookError, match="this place for the logbook cannot be made"):
        repair(whole, tmp_path / "file" / "new.sqlite")


def test_a_database_of_another_program_is_not_taken_for_a_logbook(tmp_path: Path) -> None:
    path = tmp_path / "other.sqlite"
    with closing(sqlite3.connect(path)) as connection, connection:
        connection.execute("CREATE TABLE others (a TEXT, b TEXT)")
        connection.execute("INSERT INTO others VALUES ('1', '2')")
    with pytest.raises(LogbookError, match="no tables of a logbook"):
        repair(path, tmp_path / "new.sqlite")


@settings(max_examples=40, deadline=None)
@given(
    rows=st.lists(
        st.tuples(
            st.none() | st.integers(-(2**63), 2**63 - 1) | st.integers(-300, 300),
            st.none() | st.floats(allow_nan=False) | st.integers(0, 9).map(float),
            st.none() | st.text(st.characters(codec="utf-8", exclude_characters="\0"), max_size=30)
            | st.integers(3900, 13_000).map(lambda length: "ä" * length),
            st.none() | st.binary(max_size=40) | st.integers(4000, 9000).map(bytes),
        ),
        max_size=60,
    ),
    deleted=st.integers(1, 7),
)  # fmt: skip
def test_rows_are_read_as_sqlite_reads_them(rows: Values, deleted: int) -> None:
    """Reference: SQLite itself, on a file that is whole."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "any.sqlite"
        with closing(sqlite3.connect(path)) as connection:
            connection.execute(
                "CREATE TABLE t (id INTEGER PRIMARY KEY, i INTEGER, r REAL, t TEXT, b BLOB) STRICT"
            )
            connection.executemany("INSERT INTO t (i, r, t, b) VALUES (?, ?, ?, ?)", rows)
            connection.execute("DELETE FROM t WHERE id % 7 = ?", (deleted,))
            connection.commit()
            told = connection.execute("SELECT * FROM t ORDER BY id").fetchall()
            (root,) = connection.execute("SELECT rootpage FROM sqlite_master").fetchone()
        with Pages(path) as pages:
            assert pages.listed_roots() == {"t": [root]}
            assert list(pages.rows(root, SHAPE)) == told


@pytest.mark.long
@pytest.mark.parametrize("seed", range(cases(40, share=3)))
def test_pages_of_any_bytes_end(logbook: Path, tmp_path: Path, seed: int) -> None:
    """Damage everywhere, and no list: what is found is sound, or nothing is."""
    chance = random.Random(seed)
    overwrite(logbook, [1, *chance.sample(range(2, logbook.stat().st_size // PAGE_BYTES), 20)], keep=seed % 9)
    new = tmp_path / "new.sqlite"
    repair(logbook, new)
    with open_logbook(new) as book:
        assert problems(book) == []
