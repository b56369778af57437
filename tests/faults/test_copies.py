"""A logbook that is cut short, copied, brought up to date and saved from damage."""

from __future__ import annotations

import random
import resource
import shutil
import signal
import sqlite3
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import LogbookError, OutputError
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.settings import Settings
from auditor.store import copies, migrations, scans
from auditor.store import logbook as logbook_module
from auditor.store.damage import problems
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.repair import repair
from tests.cli.program import error_line, run
from tests.share import cases

MOMENT = "2026-04-18T10:00:00+00:00"
SAMPLE = Path(__file__).parents[2] / "sample_images"


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A scanned logbook with declarations, all of it in the one file."""
    path = tmp_path_factory.mktemp("whole") / "logbook.sqlite"
    scan(path, [SAMPLE], Settings())
    done = run("declare", "body", "--body", "Saltmark F2", "--iso-ceiling", "3200", "--logbook", path)
    assert done.returncode == 0
    with open_logbook(path) as book:
        book.query("PRAGMA wal_checkpoint(TRUNCATE)")
    return path


@pytest.fixture
def logbook(whole: Path, tmp_path: Path) -> Path:
    return Path(shutil.copy2(whole, tmp_path / "logbook.sqlite"))


@contextmanager
def files_at_most(size_bytes: int) -> Iterator[None]:
    """Every write that would make a file longer fails, as on a full disk (setrlimit, RLIMIT_FSIZE)."""
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    kept = signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size_bytes, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)
        signal.signal(signal.SIGXFSZ, kept)


def frame_rows(book: Logbook) -> list[dict[str, Any]]:
    return [dict(row) for row in book.query("SELECT * FROM frame_facts ORDER BY path")]


def tables(path: Path) -> list[dict[str, Any]]:
    with open_logbook(path) as book:
        return frame_rows(book)


def test_a_copy_is_whole_and_replaces_nothing(logbook: Path, tmp_path: Path) -> None:
    place = tmp_path / "copy.sqlite"
    done = run("check", "--backup", place, "--logbook", logbook)
    assert (done.returncode, done.stdout) == (0, f"{place}: a copy with 88 frames, sound\n")
    assert tables(place) == tables(logbook)
    assert error_line(run("check", "--backup", place, "--logbook", logbook)).endswith(
        "exists already. Choose another name for the copy."
    )


def test_a_copy_of_a_logbook_that_is_being_written_has_what_was_committed(
    logbook: Path, tmp_path: Path
) -> None:
    with open_logbook(logbook) as one, open_logbook(logbook) as other:
        with one.writing():
            one.execute("UPDATE trips SET name = 'committed'")
        copies.copy_to(other.connection, tmp_path / "copy.sqlite")
    assert {row["trip_id"] for row in tables(tmp_path / "copy.sqlite")} == {1}
    with closing(sqlite3.connect(tmp_path / "copy.sqlite")) as copy:
        assert copy.execute("SELECT DISTINCT name FROM trips").fetchall() == [("committed",)]


def test_a_copy_never_goes_into_a_scanned_folder(tmp_path: Path) -> None:
    card = tmp_path / "card"
    shutil.copytree(SAMPLE / "DCIM", card)
    book = tmp_path / "logbook.sqlite"
    scan(book, [card], Settings())
    assert "never written to" in error_line(run("check", "--backup", card / "a.sqlite", "--logbook", book))
    assert not (card / "a.sqlite").exists()


@pytest.mark.parametrize("share", [0.001, 0.1, 0.5, 0.97])
def test_a_logbook_cut_short_is_told_with_its_last_good_copy_and_stays(
    logbook: Path, tmp_path: Path, share: float
) -> None:
    for name in ("older.sqlite", "newer.sqlite", "broken.sqlite"):
        assert run("check", "--backup", tmp_path / name, "--logbook", logbook).returncode == 0
    data = logbook.read_bytes()
    (tmp_path / "broken.sqlite").write_bytes(data[: len(data) // 3])
    cut = data[: max(50, int(share * len(data)))]
    logbook.write_bytes(cut)
    for words in (["kits"], ["check"], ["scan", SAMPLE], ["measure"]):
        told = error_line(run(*words, "--logbook", logbook))
        assert "damaged" in told
        assert f"The last good copy is {tmp_path / 'newer.sqlite'}; auditor check --repair" in told
    assert logbook.read_bytes() == cut, "never silently replaced"


def test_without_a_copy_that_is_said(logbook: Path) -> None:
    logbook.write_bytes(logbook.read_bytes()[:40_000])
    assert "Put a copy of it back if you have one" in error_line(run("kits", "--logbook", logbook))


def older(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A logbook as the auditor before the last migration made it."""
    *before, _last = migrations.MIGRATIONS.items()
    with monkeypatch.context() as patched:
        patched.setattr(migrations, "MIGRATIONS", dict(before))
        with open_logbook(path, create=True) as book, book.writing():
            scans.add(book, "/card", started_at=MOMENT, finished_at=MOMENT, seen=0, read=0, unreadable=0)


def test_a_logbook_is_copied_before_its_tables_change(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, last = tmp_path / "logbook.sqlite", list(migrations.MIGRATIONS)[-1]
    older(path, monkeypatch)
    with open_logbook(path) as book:
        assert migrations.applied(book.connection) == list(migrations.MIGRATIONS)
    copy = tmp_path / f"logbook-before-{last}.sqlite"
    with closing(sqlite3.connect(copy)) as connection:
        assert migrations.applied(connection) == list(migrations.MIGRATIONS)[:-1]
        assert connection.execute("SELECT folder FROM scans").fetchall() == [("/card",)]
    path.write_bytes(path.read_bytes()[:20_000])
    with pytest.raises(LogbookError, match=f"The last good copy is {copy}"), open_logbook(path):
        pass


def test_a_new_logbook_leaves_no_copy(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "logbook.sqlite", create=True):
        pass
    assert sorted(path.name for path in tmp_path.glob("*-before-*")) == []


def test_one_that_another_run_reads_is_brought_up_to_date_at_once(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Alone it needs no log; with a reader it keeps to the log, and waits for nobody."""
    path, last = tmp_path / "logbook.sqlite", list(migrations.MIGRATIONS)[-1]
    older(path, monkeypatch)
    monkeypatch.setattr(logbook_module, "WAIT_FOR_OTHERS_S", 5.0)
    with closing(sqlite3.connect(path, isolation_level=None)) as reader:
        reader.execute("BEGIN")
        assert last not in migrations.applied(reader)
        began = time.monotonic()
        with open_logbook(path) as book:
            assert migrations.applied(book.connection) == list(migrations.MIGRATIONS)
            assert book.query("PRAGMA journal_mode")[0][0] == "wal"
            assert book.query("PRAGMA cache_size")[0][0] == -logbook_module.USUAL_KIB
        assert time.monotonic() - began < logbook_module.WAIT_FOR_OTHERS_S
        assert last not in migrations.applied(reader), "it reads on as it began"


def test_without_room_for_the_copy_nothing_is_changed(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "logbook.sqlite"
    older(path, monkeypatch)
    with files_at_most(50_000), pytest.raises(LogbookError, match="make room"), open_logbook(path):
        pass
    assert sorted(file.name for file in tmp_path.iterdir() if "before" in file.name) == []
    with closing(sqlite3.connect(path)) as connection:
        assert migrations.applied(connection) == list(migrations.MIGRATIONS)[:-1]


def test_a_full_disk_leaves_no_half_copy(logbook: Path, tmp_path: Path) -> None:
    place = tmp_path / "copy.sqlite"
    with (
        open_logbook(logbook) as book,
        files_at_most(100_000),
        pytest.raises(OutputError, match="cannot be copied there"),
    ):
        copies.copy_to(book.connection, place)
    assert [path.name for path in tmp_path.iterdir() if path.name.startswith("copy")] == []


def test_a_full_disk_while_focus_pictures_are_kept_is_one_line(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    scan(path, [SAMPLE], Settings())
    with open_logbook(path) as book:
        with files_at_most(500), pytest.raises(LogbookError, match=r"focus area cannot be kept.*Make room"):
            measure(book, jobs=1)
        left = [file for file in (tmp_path / "logbook-focus").rglob("*") if file.is_file()]
        assert left == []
        assert measure(book).measured == 88, "the next run does it"


def test_what_can_be_saved_of_a_logbook_cut_short_is_saved(logbook: Path, tmp_path: Path) -> None:
    """The shorter it is, the less; what is saved is sound, and the same as it was."""
    before = {row["path"]: row for row in tables(logbook)}
    data, saved = logbook.read_bytes(), []
    for share in (1.0, 0.95, 0.9):  # the first four fifths of so small a logbook are where its tables begin
        cut, place = tmp_path / f"cut{share}.sqlite", tmp_path / f"new{share}.sqlite"
        cut.write_bytes(data[: int(share * len(data))])
        told = run("check", "--repair", place, "--logbook", cut)
        assert told.returncode == 0, told.stderr
        run("kits", "--logbook", place)
        with open_logbook(place) as book:
            assert problems(book) == []
        rows = [row for row in tables(place) if row["path"] in before]
        for row in rows:
            for name in ("taken_at", "body_serial", "lens_name", "focal_length_mm", "iso", "kit_name"):
                assert row[name] == before[row["path"]][name]
        saved.append(len(rows))
        assert cut.read_bytes() == data[: int(share * len(data))]
    assert saved[0] == len(before)
    assert saved[0] >= saved[1] >= saved[2] > 0


@pytest.mark.long
@pytest.mark.parametrize("seed", range(cases(60, share=4)))
def test_a_logbook_damaged_anywhere_is_saved_or_told(logbook: Path, tmp_path: Path, seed: int) -> None:
    chance = random.Random(seed)
    data = bytearray(logbook.read_bytes())
    for _ in range(chance.choice([1, 3])):
        place = chance.randrange(4096, len(data) - 4096)
        data[place : place + chance.choice([16, 4096])] = chance.randbytes(16)
    logbook.write_bytes(data[: len(data) if seed % 2 else chance.randrange(4096, len(data))])
    new = tmp_path / "new.sqlite"
    try:
        repair(logbook, new)
    except LogbookError:  # its list of tables is gone: said so, in one line
        return
    with open_logbook(new) as book:
        assert book.problems() == []
    (outcome,) = scan(new, [SAMPLE], Settings())
    assert outcome.unreadable == []
    with open_logbook(new) as book:
        assert problems(book) == []
        assert len([row for row in frame_rows(book) if row["path"]]) == 88
