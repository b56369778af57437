"""The shape of the logbook, as a history: migrations are only ever added at the end.

Each is a file of SQL in schema/. What is promised to other programs (docs/logbook.md): the views
`frame_facts` and `frame_files` and the table `unreadable`. The rest may change.

    frames      one row an exposure: what its files recorded, merged
    files       one row a file: what that file alone recorded, and where it lies
    unreadable  files that cannot be read now
    declarations  what the photographer said that no file records, with its history
    touched     frames whose derived rows are out of date
    bench       what kits resolved in photographs of a slanted edge
    receipts, receipt_files  what was handed over where, so that it can be taken back

    derived, rebuilt for the span that changed, each row stamped with version and settings:
    kits        body + lens + converter
    inferred    one row a frame: kit, converter, light, flags
    membership  one row a frame: its burst, scene, encounter and trip
    bursts, scenes, encounters, trips, verdicts
"""

from __future__ import annotations

import sqlite3
from importlib import resources

from auditor.store.database import Database, Migrations

APPLICATION_ID = 0x41554454
"""SQLite's application_id of a logbook, so that other SQLite files are told apart."""

migrations = Migrations("auditor")


@migrations(name="0001_first_tables")
def first_tables(db: Database) -> None:
    """Tables, and the views that other programs read."""
    _run(db, "0001_first_tables")


@migrations(name="0002_readings")
def readings(db: Database) -> None:
    """What was measured in the pixels, and the view with it."""
    _run(db, "0002_readings")


@migrations(name="0003_receipts")
def receipts(db: Database) -> None:
    """What was handed over, file by file."""
    _run(db, "0003_receipts")


@migrations(name="0004_camera_blur")
def camera_blur(db: Database) -> None:
    """The camera's own blur, calibrated: blur without it follows from the readings."""
    _run(db, "0004_camera_blur")


@migrations(name="0005_declarations")
def declarations(db: Database) -> None:
    """Things said at once, and the ratings that receipts wrote."""
    _run(db, "0005_declarations")


@migrations(name="0006_out_of_reach")
def out_of_reach(db: Database) -> None:
    """Pictures that cannot be decoded have reasons of their own; the size of kept focus areas."""
    _run(db, "0006_out_of_reach")


@migrations(name="0007_scene_blur")
def scene_blur(db: Database) -> None:
    """Spectra of what was measured, and the blur that frames of a scene tell together."""
    _run(db, "0007_scene_blur")


@migrations(name="0008_bench")
def bench(db: Database) -> None:
    """What kits resolved on a bench."""
    _run(db, "0008_bench")


@migrations(name="0009_receipt_fingerprints")
def receipt_fingerprints(db: Database) -> None:
    """Sidecars that the auditor rated are known again wherever they lie."""
    _run(db, "0009_receipt_fingerprints")


def _run(db: Database, name: str) -> None:
    """Run the statements of schema/NAME.sql."""
    script = (resources.files("auditor.store") / "schema" / f"{name}.sql").read_text(encoding="utf-8")
    for statement in _statements(script):
        db.execute(statement)


def _statements(script: str) -> list[str]:
    """Split a script: executescript() would commit, and a failed migration must roll back whole."""
    statements: list[str] = []
    unfinished = ""
    for piece in script.split(";"):
        unfinished += piece
        if not unfinished.strip():
            unfinished = ""
        elif sqlite3.complete_statement(unfinished + ";"):  # not inside a string, a comment or a trigger
            statements.append(unfinished.strip())
            unfinished = ""
        else:
            unfinished += ";"
    if unfinished.strip():
        statements.append(unfinished.strip())
    return statements
