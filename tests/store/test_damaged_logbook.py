"""A logbook damaged in place gives one line and what to do, whatever is asked of it; never a traceback."""

from __future__ import annotations

import os
import random
import shutil
from pathlib import Path
from typing import Any

import pytest

from auditor.errors import LogbookError
from auditor.store.damage import damage_told
from auditor.store.logbook import open_logbook
from tests.cli.program import run

SAMPLE = Path(__file__).parents[2] / "sample_images" / "DCIM" / "100SALT"
COMMANDS = [
    ["kits"], ["frames"], ["frames", "--json"], ["flags"], ["check"], ["keepers"], ["declare", "list"],
    ["declare", "exclude", "--body", "Saltmark F2", "--always"],
    ["report", "--format", "html,csv,json", "--into", "page"],
    ["measure"], ["scan", "card"],
]  # fmt: skip
CASES = int(os.environ.get("AUDITOR_FUZZ", "8"))
"""More of them: AUDITOR_FUZZ=200 make test."""


@pytest.fixture(scope="module")
def whole(tmp_path_factory: pytest.TempPathFactory) -> Path:
    place = tmp_path_factory.mktemp("whole")
    (place / "card").mkdir()
    for path in sorted(SAMPLE.glob("*.JPG"))[:12]:
        shutil.copy2(path, place / "card" / path.name)
    book = place / "logbook.sqlite"
    arguments = [
        "audit",
        str(place / "card"),
        "--logbook",
        str(book),
        "--into",
        str(place / "report"),
        "--jobs",
        "1",
    ]
    assert run(*arguments).returncode == 0
    said = ["declare", "body", "--body", "Saltmark F2", "--iso-ceiling", "3200", "--logbook", str(book)]
    assert run(*said).returncode == 0
    with open_logbook(book) as opened:
        opened.query("PRAGMA wal_checkpoint(TRUNCATE)")
    return place


def damaged(data: bytes, seed: int) -> bytes:
    """Bytes flipped in one place, or in some, or a page lost."""
    chance = random.Random(seed)
    broken = bytearray(data)
    kind = seed % 4
    if kind == 0:  # a run of bytes within a page
        place = chance.randrange(100, len(broken) - 64)
        broken[place : place + 16] = chance.randbytes(16)
    elif kind == 1:  # single bits all over
        for _ in range(40):
            broken[chance.randrange(100, len(broken))] ^= 1 << chance.randrange(8)
    elif kind == 2:  # a page of zeros
        page = 4096 * chance.randrange(1, len(broken) // 4096)
        broken[page : page + 4096] = bytes(4096)
    else:  # text that is no longer UTF-8, amid what was recorded
        place = broken.find(chance.choice([b"2026-", b"Saltmark", b"focus_areas", b"needs_", b"DCIM"]), 5000)
        broken[max(place, 100) : max(place, 100) + 3] = b"\xff\xfe\x80"
    return bytes(broken)


@pytest.mark.parametrize("seed", range(CASES))
def test_every_command_on_a_damaged_logbook(
    whole: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    data = damaged((whole / "logbook.sqlite").read_bytes(), seed)
    shutil.copytree(whole / "card", tmp_path / "card")
    monkeypatch.chdir(tmp_path)
    for number, arguments in enumerate(COMMANDS):
        book = tmp_path / f"book{number}" / "logbook.sqlite"
        book.parent.mkdir()
        book.write_bytes(data)
        done = run(*arguments, "--logbook", book)  # any other exception than the auditor's own comes through
        assert done.returncode in (0, 1, 2, 3), (arguments, done.stderr)


def test_text_that_is_not_unicode_is_told_with_what_to_do(whole: Path, tmp_path: Path) -> None:
    book = Path(shutil.copy2(whole / "logbook.sqlite", tmp_path / "logbook.sqlite"))
    with open_logbook(book) as opened, opened.writing():
        opened.execute("UPDATE inferred SET lens_name = CAST(x'ff80' AS TEXT)")
    with (
        pytest.raises(LogbookError, match=r"damaged.*copy.*scanning brings all frames back"),
        open_logbook(book) as b,
    ):
        b.query("SELECT lens_name FROM inferred")


def test_values_that_make_no_sense_are_told_as_damage_and_other_faults_are_not(
    whole: Path, tmp_path: Path
) -> None:
    book = Path(shutil.copy2(whole / "logbook.sqlite", tmp_path / "logbook.sqlite"))

    def fails(_book: Any) -> None:
        raise ValueError("whatever followed from it")

    with pytest.raises(ValueError, match="whatever"), open_logbook(book) as opened, damage_told(opened):
        fails(opened)
    with open_logbook(book) as opened, opened.writing():
        opened.execute("UPDATE frames SET taken_at = '20r6-04-18T06:00:00' WHERE frame_id = 1")
    with pytest.raises(LogbookError, match="damaged"), open_logbook(book) as opened, damage_told(opened):
        fails(opened)
