"""The address of a logbook, for paths of this system and of Windows. Reference: SQLite opens them."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path, PurePosixPath, PureWindowsPath

import pytest

from auditor.store.uri import uri


@pytest.mark.parametrize(
    ("path", "address"),
    [
        # SQLite, Uniform Resource Identifiers, 3.1 and its examples; RFC 8089, E.2 and E.3.
        (PureWindowsPath("C:\\Users\\Ann\\logbook.sqlite"), "file:///C:/Users/Ann/logbook.sqlite?mode=ro"),
        (PureWindowsPath("\\\\nas\\photos\\a b.sqlite"), "file:////nas/photos/a%20b.sqlite?mode=ro"),
        (PurePosixPath("/home/ann/a?b#c%.sqlite"), "file:///home/ann/a%3Fb%23c%25.sqlite?mode=ro"),
    ],
)
def test_addresses(path: PurePosixPath, address: str) -> None:
    assert uri(path, "ro") == address


@pytest.mark.parametrize("name", ["logbook.sqlite", "a b?c#d%20.sqlite", "caf\u00e9.sqlite"])
def test_sqlite_opens_just_that_file(tmp_path: Path, name: str) -> None:
    with closing(sqlite3.connect(uri(tmp_path / name, "rwc"), uri=True)) as connection:
        connection.execute("CREATE TABLE t (a)")
    assert [path.name for path in tmp_path.iterdir()] == [name]


def test_sqlite_refuses_the_name_of_a_machine_and_takes_it_as_part_of_the_path(tmp_path: Path) -> None:
    """That a share's address is written as it is has its reason in SQLite."""
    share = PureWindowsPath("\\\\nas\\photos\\logbook.sqlite")
    with pytest.raises(sqlite3.OperationalError, match="invalid uri authority: nas"):
        sqlite3.connect(f"{share.as_uri()}?mode=ro", uri=True)
    with pytest.raises(sqlite3.OperationalError, match="unable to open"):
        sqlite3.connect(uri(share, "ro"), uri=True)
