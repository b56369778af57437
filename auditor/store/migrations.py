"""The shape of the logbook, as a history: migrations are only ever added at the end.

Each is a file of SQL in schema/. What is promised to other programs (docs/logbook.md): the views
`frame_facts` and `frame_files` and the table `unreadable`. The rest may change.

    frames      one row an exposure: what its files recorded, merged
    reasons     why facts of frames are not known: each set of reasons once
    files       one row a file: what that file alone recorded, and where it lies
    unreadable  files that cannot be read now
    declarations  what the photographer said that no file records, with its history
    touched     frames whose derived rows are out of date
    choices     what the photographer chose by eye
    bench       what kits resolved in photographs of a slanted edge
    receipts, receipt_files  what was handed over where, so that it can be taken back

    derived, rebuilt for the span that changed, each row stamped with version and settings:
    kits        body + lens + converter
    inferred    one row a frame: kit, converter, light, flags
    membership  one row a frame: its burst, scene, encounter and trip
    bursts, scenes, encounters, trips, verdicts
    summed      trips whose sums stand: encounter_columns, encounter_sums, flag_sums, trip_numbers
"""

from __future__ import annotations

import sqlite3
from importlib import resources
from typing import TYPE_CHECKING

from auditor.serials import serial_number
from auditor.store.exposure_identity import shortened, without_filled_serial
from auditor.store.packed import packed, packed_again
from auditor.store.packed_numbers import numbers_packed
from auditor.store.paths import stem_key
from auditor.store.reasons import no_serial_recorded

if TYPE_CHECKING:
    from sqlite_utils import Database

APPLICATION_ID = 0x41554454
"""SQLite's application_id of a logbook, so that other SQLite files are told apart."""
SET = "auditor"
TABLE = "_sqlite_migrations"
"""Where sqlite-utils keeps what was applied, by set and name."""
MIGRATIONS = {
    "0001_first_tables": "Tables, and the views that other programs read.",
    "0002_readings": "What was measured in the pixels, and the view with it.",
    "0003_receipts": "What was handed over, file by file.",
    "0004_camera_blur": "The camera's own blur, calibrated: blur without it follows from the readings.",
    "0005_declarations": "Things said at once, and the ratings that receipts wrote.",
    "0006_out_of_reach": "Reasons of pictures that cannot be decoded; the size of kept focus areas.",
    "0007_scene_blur": "Spectra of what was measured; the blur that frames of a scene tell together.",
    "0008_bench": "What kits resolved on a bench.",
    "0009_receipt_fingerprints": "Sidecars that the auditor rated are known again wherever they lie.",
    "0010_quantiles": "Quantiles of blur: how likely a frame is in focus for any limit.",
    "0011_hit_probability": "How likely each frame is in focus, for rates that unclear frames enter too.",
    "0012_choices": "What the photographer chose by eye, frame by frame.",
    "0013_sums": "Sums of trips, for questions over all frames.",
    "0014_packed": "What files recorded takes a quarter of its room, and paths less.",
    "0015_reasons": "Reasons that frames have alike stand once; focus areas and keys take less room.",
    "0016_packed_numbers": "Numbers of every frame take a seventh of their room.",
    "0017_encounter_columns": "Sums that comparisons are made of are packed, so that they are soon read.",
    "0018_plain_names": "Of copies of a picture, the one with the plain name stands for the frame.",
    "0019_no_serial": "Serial numbers of zeros, or of one letter over and over, are none.",
    "0020_one_clock": "Frames of several time zones are put in one order.",
    "0021_system_blur": "Blur with lens and camera is never told as less than without.",
}
"""Every migration and what it brings, in their order; each is a script in schema/."""
_FUNCTIONS = (
    no_serial_recorded, numbers_packed, packed, packed_again, serial_number, shortened, stem_key,
    without_filled_serial,
)  # fmt: skip
"""What the scripts call by its name."""


def applied(connection: sqlite3.Connection) -> list[str]:
    """The migrations that a database has; none where it is no logbook.

    Parameters
    ----------
    connection
        To any database.

    Returns
    -------
    list[str]
        Names, in the order in which they were applied.
    """
    tables = {row[0] for row in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    if TABLE not in tables:
        return []
    return [row[0] for row in connection.execute(f"SELECT name FROM {TABLE} WHERE migration_set = ?", (SET,))]


def bring_up_to_date(connection: sqlite3.Connection) -> None:
    """Apply the migrations that a logbook lacks, inside a transaction.

    Parameters
    ----------
    connection
        To a logbook, or an empty database.
    """
    # sqlite-utils brings pandas along where that is installed: half a second, only spent on this.
    from sqlite_utils import Database
    from sqlite_utils.migrations import Migrations

    migrations = Migrations(SET)
    for name in MIGRATIONS:

        def run(db: Database, name: str = name) -> None:
            _run(db, name)

        migrations(name=name)(run)
    connection.execute(f"PRAGMA application_id = {APPLICATION_ID}")
    migrations.apply(Database(connection))


def _run(db: Database, name: str) -> None:
    """Run the statements of schema/NAME.sql."""
    for function in _FUNCTIONS:
        db.conn.create_function(function.__name__, 1, function, deterministic=True)
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
