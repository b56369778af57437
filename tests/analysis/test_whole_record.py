"""Answers that rest on the whole record, and rates that stand beside each other."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import pytest

from auditor.analysis.breakdowns import breakdown
from auditor.analysis.comparisons import comparisons, evidence, with_record
from auditor.analysis.findings import findings
from auditor.analysis.kit_encounters import kit_encounters
from auditor.analysis.kit_table import kit_table
from auditor.analysis.losses import arms_of, trip_part
from auditor.analysis.trips import Added, added_by_trips
from auditor.report.text.advice import paragraph
from auditor.report.text.first_screen import first_screen
from auditor.report.text.losses import what_it_added
from auditor.settings import Settings
from auditor.store.encounter_sums import known_kits
from auditor.store.logbook import Logbook, open_logbook
from benchmarks.simulated_logbook import KITS, Trip, write

WITH_2X = "Saltmark F2 + Saltmark 400mm f/4 + 2x"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Seven trips; the 2x of F2 loses a logit of hits, nothing else does."""
    path = tmp_path_factory.mktemp("record") / "logbook.sqlite"
    write(path, Trip(encounters=800))
    return path


@pytest.fixture
def book(made: Path) -> Iterator[Logbook]:
    with open_logbook(made) as logbook:
        yield logbook


def test_one_trip_is_told_what_the_whole_record_says(book: Logbook) -> None:
    of_trip = {one.kit_name: one for one in findings(book, 3, Settings()).compared}
    of_all = {one.kit_name: one for one in findings(book, None, Settings()).compared}
    alone = {one.kit_name: one for one in findings(book, 3, Settings(), advice_from="shown").compared}
    assert of_trip[WITH_2X].hits == of_all[WITH_2X].hits
    assert of_trip[WITH_2X].hits.outcome == "fell"
    assert alone[WITH_2X].hits.clusters_treated < of_trip[WITH_2X].hits.clusters_treated / 3


def test_a_trip_says_what_it_added(book: Logbook) -> None:
    found = next(one for one in findings(book, 3, Settings()).compared if one.kit_name == WITH_2X)
    part, answer = found.trip, found.hits.answer
    assert part is not None
    assert answer is not None
    assert 0 < part.encounters < answer.encounters
    assert part.encounters_both <= part.encounters
    assert part.most_likely_before is not None
    assert part.most_likely_before == pytest.approx(answer.likely.loss, abs=0.1)
    assert all(one.trip is None for one in findings(book, None, Settings()).compared)


def test_tables_still_show_the_trip(book: Logbook) -> None:
    shown = findings(book, 3, Settings()).table
    assert sum(kit.frames for kit in shown) == sum(kit.frames for kit in kit_table(book, 3))


def test_rates_side_by_side_judge_every_kit_by_one_angle(tmp_path: Path) -> None:
    """A sensor's criterion counts magnification against a converter: no table that shows kits may use it."""
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=120, kits=tuple(replace(kit, fall_logit=0.0) for kit in KITS[:3])))
    with open_logbook(path) as logbook:
        before = [kit.hit_rate for kit in kit_table(logbook)], breakdown(logbook, "converter", None)
        with logbook.writing():
            logbook.execute(
                "UPDATE verdicts SET verdict = 'miss' WHERE frame_id IN "
                "(SELECT frame_id FROM inferred WHERE converter_factor > 1)"
            )
        after = [kit.hit_rate for kit in kit_table(logbook)], breakdown(logbook, "converter", None)
    assert after == before


def test_distance_missing_here_and_there_stays_adjusted_for(book: Logbook) -> None:
    whole = comparisons(evidence(book))
    with book.writing():
        book.execute("UPDATE frames SET focus_distance_m = NULL WHERE frame_id % 33 = 0")
        book.execute(
            "UPDATE frames SET focus_distance_m = NULL WHERE frame_id IN (SELECT frame_id FROM membership "
            "WHERE encounter_id IN (SELECT encounter_id FROM encounters WHERE encounter_id % 30 = 0))"
        )
    for one, other in zip(whole, comparisons(evidence(book)), strict=True):
        assert "subject size" in other.hits.adjusted_for
        assert other.hits.difference == pytest.approx(one.hits.difference, abs=0.03)


def test_exposure_by_hand_says_why_nothing_is_compared(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=80, kits=KITS[:2]))
    with open_logbook(path) as logbook:
        with logbook.writing():
            number = logbook.execute(
                """INSERT INTO reasons (reasons) VALUES ('{"light_value_ev": "manual_exposure"}')"""
            )
            logbook.execute("UPDATE inferred SET light_value_ev = NULL, missing = ?", (number,))
        found = findings(logbook, None, Settings())
    with_it = next(one for one in found.kits if one.kit.converted)
    assert with_it.kit.unmetered_frames == with_it.kit.frames
    said = "auditor declare body --auto-iso"
    assert said in paragraph(with_it)
    assert said in first_screen(found.kits).to_settle


def test_without_distance_a_converter_is_not_blamed_outright(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    kits = (KITS[0], replace(KITS[2], fall_logit=1.5))
    write(path, Trip(encounters=400, kits=kits))
    with open_logbook(path) as logbook:
        with logbook.writing():
            logbook.execute("UPDATE frames SET focus_distance_m = NULL")
            logbook.execute(  # each kit on animals of its own: pairs would tell
                "DELETE FROM membership WHERE frame_id IN (SELECT m.frame_id FROM membership AS m "
                "JOIN inferred AS i USING (frame_id) WHERE i.converter_factor > 1 AND m.encounter_id IN "
                "(SELECT encounter_id FROM membership JOIN inferred USING (frame_id) "
                "WHERE converter_factor = 1))"
            )
        (row,) = comparisons(evidence(logbook))
    assert row.hits.outcome == "fewer hits"
    assert "distance to the subject" in row.hits.not_adjusted_for
    answer = row.hits.answer
    assert answer is not None
    assert answer.hidden is not None
    assert answer.hidden.times_as_far > 1.5


def test_each_trip_says_what_it_changed(book: Logbook) -> None:
    """Up to the newest trip the record is whole: its answer is that of all trips."""
    newest = max(row[0] for row in book.query("SELECT trip_id FROM trips"))
    added = added_by_trips(book, [1, newest])
    of_all = {one.kit_name: one for one in findings(book, None, Settings()).compared}
    losses = [one.hits.answer.likely.loss for one in of_all.values() if one.hits.answer is not None]
    assert added[newest].most_likely in losses
    assert added[newest].most_likely_before is not None
    assert added[1].most_likely_before is None


def test_the_record_says_the_same_of_a_kit_whatever_else_a_trip_used(tmp_path: Path) -> None:
    """Other kits move what is most likely of one, also those that this trip left at home."""
    write(tmp_path / "logbook.sqlite", Trip(encounters=200))
    with open_logbook(tmp_path / "logbook.sqlite") as book:
        home = max(kit.kit_id for kit in known_kits(book) if kit.converter_factor != 1)
        with book.writing():
            book.execute(
                "DELETE FROM membership WHERE trip_id = 1 AND frame_id IN "
                "(SELECT frame_id FROM inferred WHERE kit_id = ?)",
                (home,),
            )
        of_all = {one.kit_id: one.hits for one in findings(book, None, Settings()).compared}
        of_trip = {one.kit_id: one.hits for one in findings(book, 1, Settings()).compared}
    assert of_trip.keys() == of_all.keys() - {home}
    assert of_trip == {kit_id: hits for kit_id, hits in of_all.items() if kit_id != home}


def test_a_longer_pause_between_sittings_makes_fewer_of_them(book: Logbook) -> None:
    """Sittings are counted by the settings, wherever frames are gathered."""
    counted = []
    for gap_h in (0.1, 2.0, 24.0):
        settings = Settings(sitting_gap_h=gap_h)
        (trip, record), whole = with_record(book, 1, settings), evidence(book, None, settings)
        assert record.kit_encounters.sitting.tolist() == whole.kit_encounters.sitting.tolist()
        counted.append((len(set(trip.kit_encounters.sitting)), len(set(whole.kit_encounters.sitting))))
    assert counted[0] > counted[1] >= counted[2]
    assert counted[0][1] > counted[1][1] > len({*whole.kit_encounters.trip_id.tolist()})


def test_a_trips_line_says_the_answer() -> None:
    added = Added(
        factor=2.0,
        encounters=6,
        encounters_both=4,
        most_likely=0.21,
        low=0.17,
        high=0.26,
        most_likely_before=0.18,
    )
    assert what_it_added(added) == (
        "4 animals with both kits: now 21 fewer of 100 in focus with the 2x (likely 17 to 26 fewer), "
        "18 fewer before"
    )
    gained = replace(
        added, encounters_both=0, most_likely=-0.03, low=-0.14, high=0.08, most_likely_before=None
    )
    assert what_it_added(gained) == (
        "6 animals with the 2x: now 3 more of 100 in focus (likely 14 more to 8 fewer)"
    )
    turned = replace(gained, most_likely_before=0.02)
    assert what_it_added(turned).endswith("(likely 14 more to 8 fewer), 2 fewer before")
    as_before = replace(added, most_likely=0.178, most_likely_before=0.181)
    assert what_it_added(as_before).endswith(
        ": still 18 fewer of 100 in focus with the 2x (likely 17 to 26 fewer)"
    )
    nothing = replace(added, most_likely=0.001, low=-0.05, high=0.05)
    assert ": now as many in focus with the 2x (likely 5 more to 5 fewer), 18" in what_it_added(nothing)
    alone = replace(nothing, encounters_both=0)
    assert " with the 2x: now as many in focus as bare (likely " in what_it_added(alone)


def test_as_many_frames_deleted_as_there_are_would_halve_a_rate(book: Logbook) -> None:
    """Deleted frames count as misses; so they do where frames count by probabilities that tell half."""
    table = kit_encounters(book)
    likely, weighed = table.likely_hits, table.weighed.astype(float)
    half_told = replace(
        table, likely_hits=weighed / 4 + likely / 2, base=weighed / 4, told=weighed / 2, deleted=weighed
    )
    for rows in (
        kit_table(book, gathered=replace(table, deleted=weighed)),
        kit_table(book, gathered=half_told),
    ):
        rates = {row.kit_name: row.hit_rate for row in rows}
        assert 0.3 < (rates[WITH_2X] or 0) < 0.9
        for row in rows:
            assert row.hit_rate_if_deleted_missed == pytest.approx((row.hit_rate or 0) / 2)


@pytest.mark.parametrize(("apart", "differs"), [(3.5, False), (3.8, True), (-3.8, True)])
def test_a_trip_differs_from_the_rest_by_the_errors_of_both(
    book: Logbook, monkeypatch: pytest.MonkeyPatch, apart: float, differs: bool
) -> None:
    """The difference of two estimates has sqrt(2) of their error; 1 in 100 lies beyond 2.58 of those (tables
    of the normal distribution), which is 3.65."""
    error, loss = 0.1, iter((0.1 * apart, 0.0))

    def answered(*_given: object, **_named: object) -> list[SimpleNamespace]:
        return [SimpleNamespace(loss=next(loss), error=error, likely=SimpleNamespace(loss=0.0))]

    monkeypatch.setattr("auditor.analysis.losses.answers", answered)
    kit = next(one for one in known_kits(book) if one.kit_name == WITH_2X)
    bare = next(one for one in known_kits(book) if one.kit_name == WITH_2X.removesuffix(" + 2x"))
    arms = arms_of(kit_encounters(book), kit.kit_id, bare.kit_id)
    part = trip_part(kit, arms, 3, 0.05)
    assert part is not None
    assert part.differs is differs
