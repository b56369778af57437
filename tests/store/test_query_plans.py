"""Questions about one trip go by an index: none reads through the frames of all trips. Questions about all
trips are answered from the sums that are kept a trip.

The plans are SQLite's own (EXPLAIN QUERY PLAN: "SCAN" reads every row of a table or of an index).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from auditor.analysis.changes import changes
from auditor.analysis.measuring import measuring
from auditor.jobs.opening import up_to_date
from auditor.store import (
    bursts,
    candidates,
    derived,
    encounter_sums,
    frame_files,
    gear,
    kit_hits,
    kit_queries,
    listed_frames,
    selection,
    summed,
    trip_numbers,
    trip_summaries,
)
from auditor.store.best_frames import best_hits
from auditor.store.conditions import Conditions
from auditor.store.hit_probability import telling
from auditor.store.logbook import Logbook, open_logbook
from auditor.store.pairs import pairs_of_trip, sharpest_of_kit
from auditor.store.selection import Selection
from auditor.store.trips import find_trip, trips_newest_first
from benchmarks.simulated_logbook import Trip, write

MAY_BE_READ_THROUGH = {
    "trips", "t", "kits", "k", "unreadable", "settings",
    "json_each", "flag", "word",  # what is handed in, or one frame holds
    "camera", "auto", "limits",  # made on the way, of the trip alone
    "CONSTANT",  # a row without a table
    "summed", "trip_numbers", "encounter_columns",  # a row a trip
    "u",  # `unreadable`, from which other auditors' failures are looked up
    "it", "bare",  # the same, of one encounter
    "reasons",  # some hundred sets, however many frames have them
}  # fmt: skip
TOLD = {"read_base": 0.1, "read_share": 0.9, "word_base": 0.3, "word_share": 0.5}
"""Of the whole logbook, asked apart."""
Question = Callable[[Logbook, int], Any]
QUESTIONS: dict[str, Question] = {
    "the trip itself": lambda book, trip_id: find_trip(book, str(trip_id)),
    "frames": lambda book, trip_id: selection.selected_frames(book, Selection(trip_id=trip_id)),
    "flagged frames": lambda book, trip_id: selection.flagged_frames(
        book, Selection(trip_id=trip_id), most=20
    ),
    "counts of flags": lambda book, trip_id: selection.selected_flag_counts(book, Selection(trip_id=trip_id)),
    "number of frames": lambda book, trip_id: selection.count_selected(book, Selection(trip_id=trip_id)),
    "days": selection.days,
    "converters": lambda book, _trip_id: selection.converter_factors(book),
    "frames gathered": lambda book, trip_id: encounter_sums.encounters(book, trip_id, TOLD),
    "light": trip_numbers.light,
    "detail": trip_numbers.measured_detail,
    "rates by light": lambda book, trip_id: kit_queries.rates_by(
        book, "light", trip_id, across_kits=False, told=TOLD
    ),
    "what waits": measuring,
    "bursts for hints": bursts.bursts_of_trip,
    "a fall inside the trip": changes,
    "frames that a page lists": lambda book, trip_id: listed_frames.picked(book, trip_id, best=(), most=50),
    "best of bursts": best_hits,
    "pairs": lambda book, trip_id: pairs_of_trip(book, trip_id, most=6),
    "keepers": lambda book, trip_id: candidates.sifted(book, Conditions(), Selection(trip_id=trip_id)),
    "files of frames": lambda book, _trip_id: frame_files.files_of(book, [1, 2, 3]),
}
SUMS = {"encounter_sums", "s", "m", "flag_sums"}
"""Rows that grow with encounters, a tenth of the frames."""
OF_ALL_TRIPS: dict[str, Callable[[Logbook], Any]] = {
    "frames gathered": lambda book: encounter_sums.encounters(book, None, TOLD),
    "kits": encounter_sums.known_kits,
    "how alike encounters are": encounter_sums.judged_of_all_trips,
    "Auto-ISO at its limit": lambda book: encounter_sums.frames_at_iso_limit(book, None),
    "light": lambda book: trip_numbers.light(book, None),
    "detail": lambda book: trip_numbers.measured_detail(book, None),
    "what waits": measuring,
    "counts of flags": lambda book: selection.selected_flag_counts(book, selection.EVERYTHING),
    "trips": trip_summaries.trip_summaries,
    "what probabilities tell": telling,
    "hits for a plan": kit_hits.kit_hits,
    "kits for a plan": gear.used_kits,
    "kits in use": derived.kits_in_use,
}


@pytest.fixture(scope="module")
def logbook(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logbook]:
    path: Path = tmp_path_factory.mktemp("plans") / "logbook.sqlite"
    write(path, Trip(encounters=300))
    with open_logbook(path) as book:
        with book.writing():
            book.execute("""UPDATE readings SET region = '{"x": 0.5, "y": 0.5}'""")
        yield book


@pytest.fixture(scope="module")
def with_sums(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Logbook]:
    path: Path = tmp_path_factory.mktemp("plans") / "logbook.sqlite"
    write(path, Trip(encounters=300))
    with up_to_date(path) as book:
        assert summed.all_stand(book)
        yield book


def read_through(logbook: Logbook, ask: Question, trip_id: int) -> list[str]:
    """The steps in which a question reads every row of something that grows with the frames."""
    asked: list[str] = []
    logbook.connection.set_trace_callback(asked.append)
    try:
        ask(logbook, trip_id)
    finally:
        logbook.connection.set_trace_callback(None)
    statements = [sql for sql in asked if sql.lstrip().upper().startswith(("SELECT", "WITH"))]
    assert statements
    steps = [
        str(row[3]) for sql in statements for row in logbook.connection.execute(f"EXPLAIN QUERY PLAN {sql}")
    ]
    return [
        step
        for step in steps
        if step.startswith("SCAN ") and step.split()[1] not in MAY_BE_READ_THROUGH and "(" not in step
    ]


@pytest.mark.parametrize("what", QUESTIONS)
def test_a_question_about_one_trip_goes_by_an_index(logbook: Logbook, what: str) -> None:
    trip_id = trips_newest_first(logbook)[1].trip_id
    assert read_through(logbook, QUESTIONS[what], trip_id) == []


@pytest.mark.parametrize("what", QUESTIONS)
def test_it_does_so_with_sums_too(with_sums: Logbook, what: str) -> None:
    trip_id = trips_newest_first(with_sums)[1].trip_id
    assert read_through(with_sums, QUESTIONS[what], trip_id) == []


@pytest.mark.parametrize("what", OF_ALL_TRIPS)
def test_a_question_about_all_trips_reads_sums_alone(with_sums: Logbook, what: str) -> None:
    steps = read_through(with_sums, lambda book, _trip_id: OF_ALL_TRIPS[what](book), 0)
    assert [step for step in steps if step.split()[1] not in SUMS] == []


def test_frames_that_have_gone_are_looked_for_among_those_alone(logbook: Logbook) -> None:
    steps = read_through(logbook, lambda book, _trip_id: frame_files.gone_frames(book), 0)
    assert [step for step in steps if "files_gone" not in step] == []


def test_a_statement_that_reads_everything_is_found_out(logbook: Logbook) -> None:
    def everything(book: Logbook, _trip_id: int) -> Any:
        return book.query("SELECT sum(light_value_ev) FROM inferred AS i")

    assert read_through(logbook, everything, 1) == ["SCAN i"]


@contextmanager
def counted_steps(logbook: Logbook) -> Iterator[list[int]]:
    """Steps of SQLite's machine, by the hundred."""
    steps = [0]

    def count() -> int:
        steps[0] += 100
        return 0

    logbook.connection.set_progress_handler(count, 100)
    try:
        yield steps
    finally:
        logbook.connection.set_progress_handler(None, 100)


def test_pairs_are_looked_for_within_encounters_and_not_over_the_whole_trip(logbook: Logbook) -> None:
    """Every frame beside every other takes thousands of steps a frame."""
    trip_id = trips_newest_first(logbook)[1].trip_id
    with counted_steps(logbook) as steps:
        assert len(pairs_of_trip(logbook, trip_id, most=6)) == 6
    frames = selection.count_selected(logbook, Selection(trip_id=trip_id))
    assert frames > 500
    assert steps[0] < 200 * frames


def test_the_sharpest_of_a_kit_are_looked_for_on_the_trip_and_not_among_all_its_frames(
    logbook: Logbook,
) -> None:
    sql = "SELECT trip_id, count(*) FROM membership GROUP BY 1 ORDER BY 2 LIMIT 1"
    trip_id, frames = logbook.query(sql)[0]
    ((kit_id, of_kit),) = logbook.query(
        "SELECT kit_id, count(*) FROM inferred GROUP BY 1 ORDER BY 2 DESC LIMIT 1"
    )
    with counted_steps(logbook) as steps:
        sharpest_of_kit(logbook, trip_id, kit_id, most=2)
    assert of_kit > 2 * frames, "else it would be no matter"
    assert steps[0] < 40 * frames, (steps, frames, of_kit)
