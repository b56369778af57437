"""Comparisons, flags and advice from logbooks in which effects were put in on purpose."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from auditor.analysis.answers import KitAnswer, answers
from auditor.analysis.breakdowns import BANDS, breakdown
from auditor.analysis.changes import changes
from auditor.analysis.compared import Comparison
from auditor.analysis.comparisons import _disagree, alternatives, comparisons, evidence
from auditor.analysis.findings import findings
from auditor.analysis.kit_table import kit_table
from auditor.report.text.advice import paragraph
from auditor.report.text.comparisons import kit_flags
from auditor.settings import Settings
from auditor.store.logbook import Logbook, open_logbook
from auditor.words import KitFlag, NoRate
from benchmarks.simulated_logbook import KITS, Trip, write


@pytest.fixture(scope="module")
def book(tmp_path_factory: pytest.TempPathFactory) -> Any:
    """The 2x of F2 loses a logit of hits; the 1.4x of S2 is a fifth finer; all else is alike."""
    path = tmp_path_factory.mktemp("book") / "logbook.sqlite"
    write(path, Trip(encounters=900))
    with open_logbook(path) as logbook:
        yield logbook


def by_kit(rows: list[Comparison]) -> dict[str, Comparison]:
    return {row.kit_name: row for row in rows}


def of_kits(book: Logbook) -> list[KitAnswer]:
    return answers(kit_table(book), comparisons(evidence(book)))


def test_what_was_put_in_is_flagged_and_nothing_else_falls(book: Logbook) -> None:
    rows = comparisons(evidence(book))
    flags = kit_flags(answers(kit_table(book), rows))
    fell = [one["kit_name"] for one in flags if one["flag"] == "hit_rate_fell"]
    assert fell == ["Saltmark F2 + Saltmark 400mm f/4 + 2x"]
    found = by_kit(rows)
    assert found["Saltmark S2 + Saltmark 360mm f/4 + 1.4x"].detail.outcome == "gain"
    assert found["Saltmark F2 + Saltmark 400mm f/4 + 2x"].detail.outcome != "gain"
    reason = next(one["reason"] for one in flags if one["flag"] == "hit_rate_fell")
    assert " against bare, adjusted for light, distance and activity, not for the animal's size" in reason


def test_a_comparison_says_what_it_adjusted_for(book: Logbook) -> None:
    hits = comparisons(evidence(book))[0].hits
    assert hits.adjusted_for == ("light", "subject size", "activity")
    assert hits.not_adjusted_for == ("the animal's own size",)


def test_keywords_of_keepers_alone_are_not_adjusted_for(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=200))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute(
                "UPDATE frames SET keywords = '[]', area_mode = NULL, drive_mode = NULL WHERE frame_id IN "
                "(SELECT frame_id FROM verdicts WHERE verdict = 'miss')"
            )
            logbook.execute("UPDATE frames SET area_mode = NULL, drive_mode = NULL")
        hits = comparisons(evidence(logbook))[0].hits
    assert "activity" not in hits.adjusted_for
    assert "what the animal did" in hits.not_adjusted_for


def test_misses_deleted_in_camera_weaken_a_fall_that_they_made(tmp_path: Path) -> None:
    """No kit falls; but bare misses were deleted more often than misses with the converter."""
    kits = tuple(replace(kit, fall_logit=0.0, gain=0.0) for kit in KITS)
    deleted = {1.0: 0.5, 1.4: 0.2, 2.0: 0.2}
    differences, if_missed, turned, fell = [], [], 0, 0
    for seed in range(6):
        path = tmp_path / f"{seed}.sqlite"
        write(path, Trip(encounters=500, kits=kits, deleted_misses=deleted, seed=seed))
        with open_logbook(path) as logbook:
            for row in comparisons(evidence(logbook)):
                assert row.hits.difference is not None
                assert row.deleted.difference_if_missed is not None
                differences.append(row.hits.difference)
                if_missed.append(row.deleted.difference_if_missed)
                turned += row.deleted.turned
                fell += row.hits.outcome == "fell"
    assert sum(differences) / len(differences) < -0.05
    assert abs(sum(if_missed) / len(if_missed)) < 0.03
    assert turned > fell
    assert fell <= 3  # of 24 comparisons


def test_deleted_frames_are_counted_from_the_file_numbers(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    whole = write(tmp_path / "whole.sqlite", Trip(encounters=60))
    left = write(path, Trip(encounters=60, deleted_misses={1.0: 0.7, 1.4: 0.7, 2.0: 0.7}))
    with open_logbook(path) as logbook:
        counted = sum(row.deleted for row in kit_table(logbook))
    assert left < whole
    assert counted == pytest.approx(whole - left, rel=0.1)  # a gap over a night is not counted
    with open_logbook(tmp_path / "whole.sqlite") as logbook:
        assert sum(row.deleted for row in kit_table(logbook)) == 0


def test_a_gap_that_no_thumb_can_make_is_another_card(tmp_path: Path) -> None:
    """Thousands of numbers missing inside one encounter of ten frames: another body or card."""
    write(tmp_path / "logbook.sqlite", Trip(encounters=40))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute(
                "UPDATE frames SET file_number = file_number + 4000 WHERE frame_id IN (SELECT max(frame_id) "
                "FROM membership GROUP BY encounter_id HAVING count(*) > 1)"
            )
        assert sum(row.deleted for row in kit_table(logbook)) == 0


def test_a_smaller_sensor_that_frames_alike_is_compared_too(book: Logbook) -> None:
    rows = alternatives(evidence(book))
    assert [(row.kit_name, row.other_kit_name) for row in rows] == [
        ("Saltmark F2 + Saltmark 400mm f/4 + 1.4x", "Saltmark S2 + Saltmark 360mm f/4")
    ]
    assert rows[0].hits.outcome != "fell"


def test_advice_is_no_stronger_than_its_evidence(book: Logbook) -> None:
    told = {answer.kit_name: answer for answer in of_kits(book)}
    assert "leave it off" in paragraph(told["Saltmark F2 + Saltmark 400mm f/4 + 2x"])
    for answer in told.values():
        row = answer.comparison
        if row is None:
            continue
        if row.hits.outcome != "fell":
            assert "It did not pay" not in paragraph(answer)
        if row.detail.outcome != "gain":
            assert "worth its cost" not in paragraph(answer)
        assert "By optics alone, not your record" in paragraph(answer)


def test_a_kit_that_was_never_used_bare_gets_the_optics_labelled(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=60, kits=KITS[1:3]))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        found = findings(logbook, None, Settings())
    assert found.compared == []
    assert len(found.kits) == 2
    for answer in found.kits:
        assert "no frames of the same body and lens bare" in paragraph(answer)
        assert "By optics alone, not your record" in paragraph(answer)


def test_a_small_trip_settles_nothing(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=6))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        told = of_kits(logbook)
    compared = [answer for answer in told if answer.comparison is not None]
    assert {answer.comparison.hits.outcome for answer in compared if answer.comparison} == {
        "not enough evidence"
    }
    assert kit_flags(told) == []
    for answer in compared:
        assert "do not settle whether it pays" in paragraph(answer)


@pytest.mark.parametrize("by", sorted(BANDS))
def test_every_breakdown_counts_each_judged_frame_once(book: Logbook, by: str) -> None:
    rows = breakdown(book, by)
    judged = book.query("SELECT count(*) FROM verdicts WHERE verdict IN ('hit', 'miss')")[0][0]
    assert sum(row.judged for row in rows) == judged
    rated = [row for row in rows if row.hit_rate is not None]
    assert rated
    assert all((row.hit_rate_low or 0) <= (row.hit_rate or 0) and row.encounters >= 3 for row in rated)


def test_a_breakdown_by_anything_else_is_refused(book: Logbook) -> None:
    with pytest.raises(ValueError, match="by must be one of"):
        breakdown(book, "moon")


def test_a_knock_inside_a_trip_is_flagged_with_the_frames_beside_it(tmp_path: Path) -> None:
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=120, kits=KITS[:1], confounded=0.0))
    with open_logbook(path) as logbook:
        assert not any(row.fell for row in changes(logbook, 1))
        knock = "2025-03-02T10:00"
        with logbook.writing():
            logbook.execute(
                "UPDATE verdicts SET verdict = 'miss', verdict_on_subject = 'miss' WHERE frame_id IN "
                "(SELECT frame_id FROM inferred WHERE taken_at > ? AND frame_id % 4 <> 0)",
                (knock,),
            )
        found = changes(logbook, 1)
        told = answers(kit_table(logbook), (), found)
        flags = kit_flags(told)
    assert [answer.flags for answer in told] == [(KitFlag.FELL_DURING_TRIP,)]
    assert found[0].until_at is None
    assert abs(int(found[0].from_at[11:13]) - 10) <= 2
    assert "to the end of the trip, " in flags[0]["reason"]


def test_a_change_inside_a_trip_goes_by_one_angle_as_the_rate_of_its_kit_does(tmp_path: Path) -> None:
    """Behind a converter fewer frames pass as they were taken: their rate would stand beside another one."""
    path = tmp_path / "logbook.sqlite"
    write(path, Trip(encounters=120, kits=KITS[:1], confounded=0.0))
    with open_logbook(path) as logbook:
        (before,) = changes(logbook, 1)
        with logbook.writing():
            logbook.execute(
                "UPDATE verdicts SET verdict = 'miss' WHERE frame_id IN "
                "(SELECT frame_id FROM inferred WHERE taken_at > '2025-03-02T10:00')"
            )
        assert changes(logbook, 1) == [before]


def test_rates_say_their_bounds(book: Logbook) -> None:
    with book.writing():
        book.execute("UPDATE verdicts SET verdict_on_subject = 'unclear' WHERE frame_id % 10 = 0")
    for row in kit_table(book):
        assert row.hit_rate_if_unclear_missed is not None
        assert row.hit_rate_if_unclear_hit is not None
        assert row.hit_rate is not None
        assert row.hit_rate_if_unclear_missed < row.hit_rate < row.hit_rate_if_unclear_hit


def test_the_photographers_own_bar_counts(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=900))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        found = evidence(logbook)
    kit = "Saltmark F2 + Saltmark 400mm f/4 + 2x"
    assert by_kit(comparisons(found))[kit].hits.outcome == "fell"
    strict = by_kit(comparisons(found, Settings(least_fall=0.5, worth_gain=0.6)))
    assert strict[kit].hits.outcome != "fell"
    assert {row.detail.outcome for row in strict.values()} == {"no_detail_gain"}


def test_a_kit_without_a_rate_beside_one_with_a_rate_is_told_in_counts(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=60))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute(
                "UPDATE verdicts SET verdict = 'unclear', verdict_on_subject = 'unclear' WHERE frame_id IN "
                "(SELECT frame_id FROM inferred WHERE kit_id = 2)"
            )
            logbook.execute("UPDATE kits SET converter_factor = NULL WHERE kit_id = 5")
            logbook.execute(
                "UPDATE inferred SET converter_factor = NULL, forced_push_ev = NULL, "
                "iso_without_converter = NULL "
                "WHERE kit_id = 5"
            )
        told = [paragraph(answer) for answer in findings(logbook, None, Settings()).kits]
    assert not [text for text in told if "nan" in text]
    assert any("no rate: neither pixels nor the camera decide" in text for text in told)


def test_where_the_converter_is_not_known_the_missing_rate_says_so_and_not_that_nothing_was_decided(
    tmp_path: Path,
) -> None:
    """As framed these frames hit and missed: only the angle, and so the comparison, is missing."""
    write(tmp_path / "logbook.sqlite", Trip(encounters=60))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute("UPDATE kits SET converter_factor = NULL WHERE kit_id = 5")
            logbook.execute(
                "UPDATE verdicts SET verdict_on_subject = NULL, hit_probability = NULL WHERE frame_id IN "
                "(SELECT frame_id FROM inferred WHERE kit_id = 5)"
            )
        missing = {row.kit_id: row.hit_rate_missing for row in findings(logbook, None, Settings()).table}
        told = [paragraph(answer) for answer in findings(logbook, None, Settings()).kits]
    assert missing == {kit_id: None for kit_id in missing if kit_id != 5} | {5: NoRate.CONVERTER_UNKNOWN}
    assert not any("neither pixels nor the camera" in text for text in told)
    assert any("until it is known whether a converter was on" in text for text in told)


def test_frames_without_a_time_are_in_no_rate(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=80))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute("DELETE FROM membership WHERE frame_id % 2 = 0")
            logbook.execute(
                "DELETE FROM membership WHERE frame_id IN (SELECT frame_id FROM inferred WHERE kit_id = 3)"
            )
        rows = {row.kit_id: row for row in kit_table(logbook)}
    assert 0 < (rows[1].hit_rate_frames or 0) < rows[1].judged
    assert (rows[3].hit_rate, rows[3].hit_rate_missing) == (None, "no_time")


def test_many_deleted_frames_inside_an_encounter_are_still_counted(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=1, mean_frames=40, kits=KITS[:1]))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute("UPDATE frames SET file_number = file_number + 40 WHERE file_number > 3")
        (row,) = kit_table(logbook)
    assert row.frames >= 10
    assert row.deleted == 40


def test_two_bodies_of_one_model_without_serials_tell_no_deleted_frames(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=40, kits=KITS[:1]))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute(
                "UPDATE frames SET file_number = file_number + 4000 WHERE frame_id IN "
                "(SELECT frame_id FROM membership WHERE encounter_id % 2 = 0)"
            )
        assert sum(row.deleted for row in kit_table(logbook)) == 0


def test_auto_iso_of_one_dim_burst_is_no_limit(tmp_path: Path) -> None:
    write(tmp_path / "logbook.sqlite", Trip(encounters=60))
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        with logbook.writing():
            logbook.execute("UPDATE frames SET auto_iso = 1")
        assert sum(row.auto_iso_at_limit_frames for row in kit_table(logbook)) == 0
        with logbook.writing():
            logbook.execute("UPDATE frames SET iso = min(iso, 800)")
        capped = logbook.query("SELECT count(*) FROM frames WHERE iso = 800")[0][0]
        assert sum(row.auto_iso_at_limit_frames for row in kit_table(logbook)) == capped


@pytest.mark.parametrize(
    ("matched", "disagree"), [(-0.09, True), (-0.10, False), (-0.30, False), (-0.31, True)]
)
def test_the_check_disagrees_by_the_spread_of_the_difference(matched: float, disagree: bool) -> None:
    """J. A. Hausman, Econometrica 46 (1978) (R): variances of both estimates subtract, 5 and 3 points to 4.

    2.58 of those, one in a hundred, are 10.3 points to either side of 20.
    """
    told: Any = SimpleNamespace(difference=-0.20, answer=SimpleNamespace(error=0.03))
    check: Any = SimpleNamespace(difference=matched, low=matched - 1.96 * 0.05, high=matched + 1.96 * 0.05)
    assert _disagree(told, check) is disagree
