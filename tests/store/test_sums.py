"""Sums that are kept tell what the frames themselves tell, and never outlive a change of a frame."""

from __future__ import annotations

import re
import shutil
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import asdict, is_dataclass
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from auditor.analysis.answers import answers
from auditor.analysis.comparisons import comparisons, evidence
from auditor.analysis.findings import findings
from auditor.analysis.kit_encounters import KitEncounters, kit_encounters
from auditor.analysis.measuring import measuring
from auditor.derive.sums import sum_changed_trips
from auditor.jobs.opening import up_to_date
from auditor.settings import Settings
from auditor.store import derived, encounter_sums, gear, kit_hits, summed, trip_summaries
from auditor.store.hit_probability import telling
from auditor.store.logbook import Logbook
from auditor.store.selection import EVERYTHING, Selection, narrowed, selected_flag_counts
from auditor.store.trips import trips_newest_first
from benchmarks.simulated_logbook import Trip, write

# What a simulated logbook lacks: frames without a time, left out, not measured, undecodable, Auto-ISO, flags.
_MORE = (
    "DELETE FROM membership WHERE frame_id % 50 IN (1, 2)",
    "UPDATE inferred SET excluded = 1 WHERE frame_id % 50 = 1",
    "UPDATE inferred SET taken_at = NULL WHERE frame_id % 50 = 2",
    'UPDATE inferred SET flags = \'["iso_pushed", "smeared"]\' WHERE frame_id % 7 = 1',
    'INSERT INTO reasons (reasons) VALUES (\'{"light_value_ev": "manual_exposure"}\')',
    "UPDATE inferred SET light_value_ev = NULL, missing = (SELECT max(reasons_id) FROM reasons) "
    "WHERE frame_id % 11 = 3",
    "UPDATE inferred SET sensor_diagonal_mm = 43.27 / crop_factor WHERE frame_id % 3 > 0",
    "UPDATE frames SET auto_iso = frame_id % 2, width_px = 6000, height_px = 4000 WHERE frame_id % 5 > 1",
    "UPDATE frames SET iso = 409600 WHERE frame_id % 31 = 4",
    "UPDATE frames SET keywords = '[]' WHERE frame_id % 13 = 5",
    "DELETE FROM readings WHERE frame_id % 4 = 1",
    "INSERT INTO files (frame_id, role, volume, path, stem, present, size_bytes, modified_at, fingerprint, "
    "recorded) SELECT frame_id, 'jpeg', '/', '/card/' || frame_id, '', frame_id % 9 > 0, 7, 'then', 'f', "
    "'{}' FROM frames",
    "INSERT INTO unreadable SELECT path, 'pixels', 'cut short', 'IncompleteFileError', 'then', 7, 'then', "
    "iif(frame_id % 8 = 1, 'another', :version) FROM files WHERE frame_id % 4 = 1 AND frame_id % 3 = 0",
    "UPDATE verdicts SET hit_probability = (frame_id % 97) / 97.0 WHERE frame_id % 3 = 1",
    "UPDATE verdicts SET verdict_source = 'camera_word', verdict_on_subject = NULL WHERE frame_id % 5 = 2",
    "UPDATE verdicts SET verdict = 'unclear', verdict_on_subject = 'unclear' WHERE frame_id % 17 = 3",
)


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    from auditor import __version__

    path = tmp_path_factory.mktemp("sums") / "logbook.sqlite"
    write(path, Trip(encounters=260))
    with up_to_date(path) as book, book.writing():
        for sql in _MORE:
            book.execute(sql, {"version": __version__} if ":version" in sql else ())
        sum_changed_trips(book)
    return path


@pytest.fixture
def book(made: Path, tmp_path: Path) -> Iterator[Logbook]:
    shutil.copy(made, tmp_path / "logbook.sqlite")
    with up_to_date(tmp_path / "logbook.sqlite") as logbook:
        yield logbook


@contextmanager
def without_sums(book: Logbook) -> Iterator[None]:
    """Inside, the frames themselves are read."""
    stood = [row[0] for row in book.query("SELECT trip_id FROM summed")]
    with book.writing():
        book.execute("DELETE FROM summed")
    assert not summed.all_stand(book)
    yield
    with book.writing():
        for trip_id in stood:
            summed.note(book, trip_id)


def same(one: Any, other: Any, rel: float = 1e-12) -> None:
    """Alike to the last few bits of a float: sums of sums are rounded otherwise than sums of frames."""
    if isinstance(one, KitEncounters):
        one, other = ({name: getattr(table, name) for name in table.__slots__} for table in (one, other))
    elif is_dataclass(one) and not isinstance(one, type):
        one, other = asdict(one), asdict(other)
    assert type(one) is type(other)
    if isinstance(one, np.ndarray):
        same(one.tolist(), other.tolist(), rel)
    elif isinstance(one, dict):
        assert one.keys() == other.keys()
        for key in one:
            same(one[key], other[key], rel)
    elif isinstance(one, list | tuple):
        assert len(one) == len(other)
        for pair in zip(one, other, strict=True):
            same(*pair, rel)
    elif isinstance(one, float):
        assert one == pytest.approx(other, rel=rel, abs=rel, nan_ok=True)
    else:
        assert one == other


FITTED = ("comparisons", "findings", "of the trip alone")


def told(book: Logbook, trip_id: int | None) -> dict[str, Any]:
    """Everything that sums serve, as the rest of the product reads it."""
    found = evidence(book, trip_id)
    return {
        "encounters": kit_encounters(book, trip_id),
        "measured": {kit_id: one.noise_on_subject for kit_id, one in found.measured.items()},
        "comparisons": comparisons(found),
        "findings": findings(book, trip_id, Settings()),
        # Of all trips these are the findings above.
        "of the trip alone": trip_id and findings(book, trip_id, Settings(), advice_from="shown"),
        "waiting": measuring(book, trip_id),
        "flags": selected_flag_counts(book, Selection(trip_id=trip_id)),
        "at the limit of Auto-ISO": encounter_sums.frames_at_iso_limit(book, trip_id),
        "alike": encounter_sums.judged_of_all_trips(book),
        "kits": encounter_sums.known_kits(book),
        "trips": trip_summaries.trip_summaries(book),
        "hits": sorted(kit_hits.kit_hits(book)),
        "gear": gear.used_kits(book),
        "kits in use": derived.kits_in_use(book),
    }


def both_alike(book: Logbook) -> dict[str, Any]:
    """What is told of all trips, once it was compared."""
    everything: dict[str, Any] = {}
    # Of all trips, and of two that are unlike: more of them are fitted by the same code, a second each.
    for trip_id in (None, *(trip.trip_id for trip in trips_newest_first(book)[:2])):
        assert summed.stand_for(book)
        kept = told(book, trip_id)
        with without_sums(book):
            read = told(book, trip_id)
        for what in read:
            # A fit stops where its steps get small: what was rounded otherwise stops a little elsewhere.
            same(kept[what], read[what], 1e-8 if what in FITTED else 1e-12)
        everything = everything or kept
    return everything


def test_kept_sums_tell_what_the_frames_tell(book: Logbook) -> None:
    everything = both_alike(book)
    # The comparison is worth something only where there is something to compare.
    frames = book.query("SELECT count(*) FROM frames WHERE frame_id % 7 = 1")[0][0]
    assert everything["flags"] == {"iso_pushed": frames, "smeared": frames}
    assert 0 < everything["waiting"].waiting < everything["waiting"].frames
    assert everything["at the limit of Auto-ISO"]
    assert len(everything["gear"]) == 6
    assert (everything["encounters"].encounter_id == 0).any()


def test_so_they_do_on_the_sample_trip(measured_sample: Callable[[Path], Path], tmp_path: Path) -> None:
    with up_to_date(measured_sample(tmp_path)) as book:
        both_alike(book)
        assert selected_flag_counts(book, EVERYTHING)


def test_files_that_another_auditor_could_not_decode_wait_again(book: Logbook) -> None:
    waiting = measuring(book).waiting
    with book.writing():
        book.execute("UPDATE unreadable SET tried_with = 'another'")
    kept = measuring(book)
    assert kept.waiting > waiting
    with without_sums(book):
        same(kept, measuring(book))


CHANGES = {
    "a frame is merged anew": "UPDATE frames SET iso = 800 WHERE frame_id = 5",
    "a frame is inferred anew": "UPDATE inferred SET flags = '[]' WHERE frame_id = 5",
    "it is inferred for the first time": (
        "INSERT OR REPLACE INTO inferred SELECT * FROM inferred WHERE frame_id = 5"
    ),
    "its verdict changes": "UPDATE verdicts SET hit_probability = .5 WHERE frame_id = 5",
    "it has a verdict": "INSERT OR REPLACE INTO verdicts SELECT * FROM verdicts WHERE frame_id = 5",
    "it loses its verdict": "DELETE FROM verdicts WHERE frame_id = 5",
    "it is measured": "INSERT OR REPLACE INTO readings SELECT * FROM readings WHERE frame_id = 8",
    "it loses its reading": "DELETE FROM readings WHERE frame_id = 8",
    "its reading changes": "UPDATE readings SET noise = 3 WHERE frame_id = 8",
    "it loses its time": "UPDATE inferred SET taken_at = NULL WHERE frame_id = 5; "
    "DELETE FROM membership WHERE frame_id = 5",
    "it goes to another trip": "UPDATE membership SET trip_id = 2 WHERE encounter_id = "
    "(SELECT encounter_id FROM membership WHERE frame_id = 5)",
    "its file has gone": "UPDATE files SET present = 0 WHERE frame_id = 5",
    "its file is dropped": "DELETE FROM files WHERE frame_id = 5",
    "its file cannot be decoded": "INSERT OR REPLACE INTO unreadable VALUES "
    "('/card/5', 'pixels', '', 'CorruptFileError', '', 7, 'then', 'now')",
    "its file can be decoded now": "DELETE FROM unreadable WHERE path = '/card/9'",
    "it is taken out": "DELETE FROM frames WHERE frame_id = 5",
}


@pytest.mark.parametrize("what", CHANGES)
def test_no_sums_stand_once_a_frame_has_changed(book: Logbook, what: str) -> None:
    assert summed.waiting(book) == []
    with book.writing():
        for sql in CHANGES[what].split("; "):
            book.execute(sql)
    assert not summed.all_stand(book)
    assert 1 in summed.waiting(book)
    assert set(summed.waiting(book)) <= {0, 1, 2}  # other trips need no summing
    read = kit_encounters(book)
    with book.writing():
        sum_changed_trips(book)
    assert summed.stand_for(book)
    same(kit_encounters(book), read)


def test_opening_a_logbook_sums_what_has_changed(book: Logbook) -> None:
    with book.writing():
        book.execute("UPDATE verdicts SET verdict = 'miss' WHERE frame_id = 5")
    with up_to_date(book.path) as again:
        assert summed.all_stand(again)


def test_frames_chosen_by_options_are_read_themselves(book: Logbook) -> None:
    kit_id = book.query("SELECT kit_id FROM inferred WHERE kit_id > 1 LIMIT 1")[0][0]
    with narrowed(book, Selection(kit_ids=(kit_id,))):
        assert not summed.stand_for(book)
        assert set(kit_encounters(book).kit_id.tolist()) == {kit_id}
        assert [row.kit_id for row in measuring(book).kits] == [kit_id]
        assert len(encounter_sums.judged_of_all_trips(book)) > 1  # of the whole logbook in any case
    assert summed.stand_for(book)


def test_what_probabilities_tell_is_of_the_whole_logbook_whatever_was_chosen(book: Logbook) -> None:
    whole = telling(book)
    with narrowed(book, Selection(kit_ids=(1,))):
        same(telling(book), whole)
        with without_sums(book):
            same(telling(book), whole)


def test_a_trip_that_is_gone_leaves_no_sums_behind(book: Logbook) -> None:
    with book.writing():
        book.execute("DELETE FROM membership WHERE trip_id = 2")
        for table in ("bursts", "scenes", "encounters", "trips"):
            where = "trip_id = 2" if table in ("encounters", "trips") else "FALSE"
            book.execute(f"DELETE FROM {table} WHERE {where}")
        sum_changed_trips(book)
    assert book.query("SELECT count(*) FROM encounter_sums WHERE trip_id = 2")[0][0] == 0
    assert 2 not in [row.trip_id for row in trip_summaries.trip_summaries(book)]


def test_answers_are_made_from_sums_alone(book: Logbook) -> None:
    """What a million frames are asked: no statement reads `inferred` through."""
    from auditor.analysis.kit_table import kit_table

    def read_through() -> list[str]:
        asked: list[str] = []
        book.connection.set_trace_callback(asked.append)
        found = evidence(book)
        answers(kit_table(book, gathered=found.kit_encounters), comparisons(found))
        book.connection.set_trace_callback(None)
        return [sql for sql in asked if re.search(r"FROM\s+inferred", sql) and "LIMIT 1" not in sql]

    assert read_through() == []
    with without_sums(book):
        assert read_through() != [], "statements that do so are found out"
