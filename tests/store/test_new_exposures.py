"""Files of new exposures are written many at a time, and make what each would make by itself."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from random import Random
from typing import Any

import pytest

from auditor.records import FileReading, FoundFile, Recorded
from auditor.store.files import store_readings
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.new_exposures import NewExposures
from auditor.words import FileRole
from tests.store.test_identity import EDITED, ORIGINAL

ROLES = {
    "NEF": FileRole.RAW,
    "JPG": FileRole.JPEG,
    "TIF": FileRole.TIFF,
    "xmp": FileRole.SIDECAR,
    "NEF.xmp": FileRole.SIDECAR,
}


def reading(folder: str, number: int, ending: str, chance: Random) -> FileReading:
    """A raw, a JPEG, a sidecar or an edited copy of one of few exposures, of one of two bodies."""
    moment = f"2026-04-18T06:00:0{number // 2}.250"
    recorded = EDITED if ending == "TIF" else ORIGINAL
    recorded = replace(
        recorded,
        taken_at=moment,
        body_serial=chance.choice(["1001", "1001", "2002", None]),
        rating=chance.choice([None, 3]),
        iso=chance.choice([100.0, None]),
    )
    if ROLES[ending] == FileRole.SIDECAR:
        recorded = Recorded(rating=chance.choice([1, None]), keywords=("heron",))
    path = f"/{folder}/A_{number:04d}.{ending}"
    copied = chance.random() < 0.2  # the same bytes at several places
    return FileReading(
        found=FoundFile(path, ROLES[ending], chance.choice([1, 2]), "2026-04-18T06:00:00.000000+00:00"),
        fingerprint=f"{number}.{ending}" if copied else f"{path} {chance.randrange(2)}",
        recorded=recorded,
    )


def stored(path: Path, batches: Sequence[Sequence[FileReading]]) -> dict[str, list[tuple[Any, ...]]]:
    with open_logbook(path, create=True) as book:
        for batch in batches:
            with book.writing():
                store_readings(book, batch, volume="/", still_there=lambda path: path.startswith("/c/"))
        return {table: rows(book, table) for table in ("frames", "files", "touched")}


def rows(book: Logbook, table: str) -> list[tuple[Any, ...]]:
    return [tuple(row) for row in book.query(f"SELECT * FROM {table} ORDER BY 1")]


@pytest.mark.parametrize("seed", range(40))
def test_a_batch_is_stored_as_if_each_file_were_looked_up_by_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, seed: int
) -> None:
    chance = Random(seed)
    files = [
        reading(folder, number, ending, chance)
        for folder in ("c", "d")
        for number in range(1, 7)
        for ending in ROLES
        if chance.random() < 0.6
    ]
    files += [reading("c", number, "JPG", chance) for number in range(1, 4)]  # read again, or another file
    if seed % 2:
        chance.shuffle(files)
    cut = chance.randrange(1, len(files))
    batches = [[files], [files[:cut], files[cut:]], [[file] for file in files]]
    together = [stored(tmp_path / f"{number}.sqlite", batch) for number, batch in enumerate(batches)]
    monkeypatch.setattr(NewExposures, "take", lambda _new, _row: False)
    alone = [stored(tmp_path / f"{number} alone.sqlite", batch) for number, batch in enumerate(batches)]
    assert together == alone


@pytest.mark.parametrize("ending", ["JPG", "TIF"])
def test_new_frames_and_edited_copies_alone_are_not_asked_for_file_by_file(
    tmp_path: Path, ending: str
) -> None:
    """So many statements whatever the number of files: they are what a scan's writing would go into."""
    asked: list[int] = []
    for count in (10, 100):
        files = [reading("c", 2 * number, ending, Random(number)) for number in range(count)]
        with open_logbook(tmp_path / f"{count}.sqlite", create=True) as book:
            statements: list[str] = []
            with book.writing():
                book.connection.set_trace_callback(statements.append)
                store_readings(book, files, volume="/", still_there=lambda path: True)
            book.connection.set_trace_callback(None)
        asked.append(len([line for line in statements if line.lstrip().upper().startswith("SELECT")]))
    assert asked[0] == asked[1]
