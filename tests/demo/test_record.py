"""The record of earlier invented trips: what is told of it must be what was put in."""

from __future__ import annotations

import csv
from pathlib import Path

import pytest

from auditor.analysis.findings import Findings, findings
from auditor.demo.record import LOGBOOK, TRUTH, write_record
from auditor.errors import OutputError
from auditor.jobs.measure import measure
from auditor.jobs.scan import scan
from auditor.report.text.first_screen import first_screen
from auditor.settings import Settings
from auditor.store.logbook import open_logbook
from auditor.store.trips import trips_newest_first

SAMPLE = Path(__file__).parents[2] / "sample_images"
WITH_2X = "Saltmark F2 + Saltmark 500mm f/5.6 + 2x"
WITH_1_4X = "Saltmark F2 + Saltmark 500mm f/5.6 + 1.4x"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("record")
    write_record(made, 8)
    scan(made / LOGBOOK, [SAMPLE], Settings())
    return made


@pytest.fixture(scope="module")
def found(folder: Path) -> Findings:
    """What is told of the sample, the last trip of the record."""
    with open_logbook(folder / LOGBOOK) as book:
        newest = max(trips_newest_first(book), key=lambda trip: trip.first_at)
        return findings(book, newest.trip_id, Settings())


def truth(folder: Path, column: str = "hits_lost_of_100") -> dict[str, float]:
    with (folder / TRUTH).open(encoding="utf-8") as file:
        return {row["converter_factor"]: float(row[column]) / 100 for row in csv.DictReader(file)}


def test_the_sample_after_its_record_answers_with_the_true_loss(folder: Path, found: Findings) -> None:
    lost = truth(folder)
    compared = {row.kit_name: row for row in found.compared}
    for name, factor in ((WITH_2X, "2"), (WITH_1_4X, "1.4")):
        answer = compared[name].hits.answer
        assert answer is not None
        assert answer.low <= lost[factor] <= answer.high
    assert compared[WITH_2X].hits.outcome == "fell"
    assert compared[WITH_1_4X].hits.outcome != "fell"


def test_the_detail_told_holds_what_was_put_in(folder: Path, found: Findings) -> None:
    finer = truth(folder, "detail_finer_percent")
    compared = {row.kit_name: row for row in found.compared}
    for name, factor in ((WITH_2X, "2"), (WITH_1_4X, "1.4")):
        detail = compared[name].detail
        assert detail.low is not None
        assert detail.high is not None
        assert detail.low <= finer[factor] <= detail.high
        assert detail.high - detail.low < 0.3


def test_earlier_frames_do_not_change_how_the_pixels_of_the_sample_are_judged(
    folder: Path, tmp_path: Path
) -> None:
    scan(tmp_path / LOGBOOK, [SAMPLE], Settings())
    verdicts = []
    for place in (tmp_path, folder):
        with open_logbook(place / LOGBOOK) as book:
            measure(book, Settings())
            verdicts.append(
                [
                    tuple(row)
                    for row in book.query(
                        "SELECT path, verdict, verdict_on_subject FROM frame_facts "
                        "WHERE taken_at >= '2026-04' ORDER BY path"
                    )
                ]
            )
    assert len(verdicts[0]) == 88
    assert verdicts[0] == verdicts[1]


def test_the_first_screen_has_the_answer_and_its_number(found: Findings) -> None:
    answer = next(row for row in found.compared if row.kit_name == WITH_2X).hits.answer
    assert answer is not None
    told = first_screen(found.kits)
    assert f" lost {round(100 * answer.likely.loss)} of 100 frames." in told.heading
    assert told.lines[0].name == WITH_2X
    assert told.below.startswith("This trip")


def test_the_trip_says_what_it_added(found: Findings) -> None:
    part = next(row for row in found.compared if row.kit_name == WITH_2X).trip
    assert part is not None
    assert part.encounters >= 1
    assert part.most_likely_before is not None


def test_the_same_seed_writes_the_same(folder: Path, tmp_path: Path) -> None:
    again = write_record(tmp_path / "again", 8)
    assert (tmp_path / "again" / TRUTH).read_bytes() == (folder / TRUTH).read_bytes()
    with open_logbook(again.logbook) as one, open_logbook(folder / LOGBOOK) as other:
        sql = (
            "SELECT taken_at, iso, camera_word, sigma_px FROM frames JOIN readings USING (frame_id) "
            "WHERE taken_at < '2026-04' ORDER BY taken_at, 2, 3"
        )
        assert [tuple(row) for row in one.query(sql)] == [tuple(row) for row in other.query(sql)]


def test_a_record_that_is_there_is_not_written_over(folder: Path) -> None:
    with pytest.raises(OutputError, match="is there already"):
        write_record(folder, 2)
