"""Frames are inferred while a scan still reads: what comes of it is what one rebuild at the end makes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

import pytest

from auditor.derive import rebuild as rebuilding
from auditor.derive.declaring import declare
from auditor.derive.rebuild import Ahead, rebuild
from auditor.frames.declared import ForFrame
from auditor.frames.facts import frame_facts
from auditor.frames.kit import Kit
from auditor.records import FileReading, FoundFile, Inferred, Recorded
from auditor.settings import Settings
from auditor.store.declared_facts import BodyFacts, ConverterFacts, Said
from auditor.store.files import store_readings
from auditor.store.logbook import Logbook, open_logbook
from auditor.words import FileRole
from tests.store.test_identity import EDITED, ORIGINAL

START = datetime(2026, 4, 18, 6, 0, 0)
DERIVED = (
    "kits", "inferred", "verdicts", "membership", "bursts", "scenes", "encounters", "trips", "encounter_sums",
    "flag_sums", "trip_numbers", "summed", "touched",
)  # fmt: skip
BY_HAND = 1
Batches = Sequence[Sequence[FileReading]]


@pytest.fixture(autouse=True)
def few_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(rebuilding, "_AHEAD", 3)


def reading(folder: str, name: str, role: FileRole, recorded: Recorded) -> FileReading:
    path = f"/{folder}/{name}"
    found = FoundFile(path, role, 1, "2026-04-18T06:00:00.000000+00:00")
    return FileReading(found=found, fingerprint=path, recorded=recorded)


def files_of(number: int, chance: Random) -> list[FileReading]:
    """What one exposure left on two cards: some of raw, JPEG, edited copy and sidecar."""
    # One model numbers each body's files apart, and records serial numbers of some of them alone.
    serial = chance.choice(["1001", "2002", None, None])
    prefix, counted = ("ANN_", number) if chance.random() < 0.5 else ("BOB_", number + 4000)
    recorded = replace(
        ORIGINAL,
        taken_at=(START + timedelta(hours=2 * (number // 6), seconds=0.4 * number)).isoformat(),
        body_model=chance.choice(["Body One", "Body One", "Body Two"]),
        body_serial=serial,
        iso=chance.choice([800.0, 1000.0, 1600.0]),
        exposure_program=chance.choice([BY_HAND, BY_HAND, 3]),
        f_number=5.6,
        exposure_time_s=0.001,
        focal_length_mm=chance.choice([500.0, 700.0]),
        lens_name="Long 500mm f/5.6",
    )
    less = replace(recorded, lens_name=None, body_serial=None, iso=None)
    edited = replace(EDITED, taken_at=recorded.taken_at, body_model=recorded.body_model)
    name = f"{prefix}{counted:04d}"
    left = [
        reading("c", f"{name}.JPG", FileRole.JPEG, chance.choice([recorded, less])),
        reading("d", f"{name}.NEF", FileRole.RAW, recorded),
        reading("d", f"{name}.xmp", FileRole.SIDECAR, Recorded(rating=4)),
        reading("c", f"{name}-print.JPG", FileRole.JPEG, edited),
    ]
    return chance.sample(left, chance.choice([1, 1, 2, 3]))


def batches_of(seed: int) -> list[list[FileReading]]:
    chance = Random(seed)
    files = [file for number in range(1, 40) for file in files_of(number, chance)]
    if seed % 3:
        files.sort(key=lambda file: file.found.path)
    cuts = sorted(chance.sample(range(len(files)), 8))
    return [files[start:end] for start, end in zip([0, *cuts], [*cuts, len(files)], strict=True)]


def store(book: Logbook, batch: Sequence[FileReading], ahead: Ahead | None = None) -> None:
    with book.writing():
        store_readings(book, batch, volume="/", still_there=lambda path: True)
        if ahead is not None:
            ahead.wrote(len(batch))


def scanned(book: Logbook, batches: Batches, *, ahead: bool) -> None:
    inferring = Ahead(book, Settings()) if ahead else None
    for batch in batches:
        store(book, batch, inferring)
    rebuild(book, Settings(), inferring)


def tables(book: Logbook) -> dict[str, list[tuple[Any, ...]]]:
    """Every derived table; sets of reasons by what they say, since their numbers are any."""
    said = {row[0]: row[1] for row in book.query("SELECT reasons_id, reasons FROM reasons")}
    found = {}
    for table in (*DERIVED, "frame_facts"):
        rows = [dict(row) for row in book.query(f"SELECT * FROM {table}")]
        if table == "inferred":
            rows = [row | {"missing": said[row["missing"]]} for row in rows]
        found[table] = sorted((tuple(row.values()) for row in rows), key=repr)
    return found


@pytest.mark.parametrize("seed", range(30))
def test_tables_are_the_same_to_the_last_number(tmp_path: Path, seed: int) -> None:
    """Two cards, the second begun and broken off once before; then what was declared of both."""
    batches = batches_of(seed)
    tables_of_ways: list[list[dict[str, list[tuple[Any, ...]]]]] = []
    for ahead in (True, False):
        with open_logbook(tmp_path / f"{ahead}.sqlite", create=True) as book:
            scanned(book, batches[:4], ahead=ahead)
            broken_off = Ahead(book, Settings()) if ahead else None
            for batch in batches[4:6]:
                store(book, batch, broken_off)
        with open_logbook(tmp_path / f"{ahead}.sqlite") as book:
            scanned(book, batches[6:], ahead=ahead)
            tables_of_ways.append([tables(book)])
            for said in (ConverterFacts(factor=1.4), BodyFacts(base_iso=64, auto_iso=True)):
                declare(book, Settings(), [Said(facts=said, body="Body One")])
                tables_of_ways[-1].append(tables(book))
    assert tables_of_ways[0] == tables_of_ways[1]


def originals(*numbers: int) -> list[FileReading]:
    """Each with another ISO, by which it is known."""
    return [
        reading("c", f"A_{number:04d}.JPG", FileRole.JPEG, replace(ORIGINAL, iso=float(number)))
        for number in numbers
    ]


def test_frames_are_inferred_before_the_scan_ends_and_their_groups_wait(tmp_path: Path) -> None:
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        store(book, originals(1, 2, 3, 4), Ahead(book, Settings()))
        for table in ("inferred", "verdicts", "touched"):
            assert book.query(f"SELECT count(*) FROM {table}")[0][0] == 4
        assert book.query("SELECT count(*) FROM membership")[0][0] == 0


def test_what_was_inferred_is_not_inferred_again(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    asked: list[float | None] = []

    def noted(recorded: Recorded, declared: ForFrame, **seen: bool) -> tuple[Kit, Inferred]:
        asked.append(recorded.iso)
        return frame_facts(recorded, declared, **seen)

    monkeypatch.setattr(rebuilding, "frame_facts", noted)
    with open_logbook(tmp_path / "logbook.sqlite", create=True) as book:
        scanned(book, [originals(1, 2, 3, 4), originals(5, 6), originals(7, 8)], ahead=True)
    assert asked == [float(number) for number in range(1, 9)]


@pytest.mark.parametrize("seed", range(10))
def test_what_another_run_declares_meanwhile_holds(tmp_path: Path, seed: int) -> None:
    batches = batches_of(seed)
    found = []
    for ahead in (True, False):
        path = tmp_path / f"{ahead}.sqlite"
        with open_logbook(path, create=True) as book, open_logbook(path) as other:
            inferring = Ahead(book, Settings()) if ahead else None
            for number, batch in enumerate(batches):
                store(book, batch, inferring)
                if number == 4:
                    declare(other, Settings(), [Said(facts=ConverterFacts(factor=1.4), body="Body One")])
            rebuild(book, Settings(), inferring)
            found.append(tables(book))
    assert found[0] == found[1]
