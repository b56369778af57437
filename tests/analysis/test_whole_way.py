"""A simulated record as frames: what is worked out of times and exposures is what was drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from auditor.analysis.comparisons import comparisons, evidence
from auditor.analysis.kit_table import kit_table
from auditor.store.logbook import open_logbook
from benchmarks import told
from benchmarks.record_logbook import write_logbook
from benchmarks.simulated_records import Photographer, record


@pytest.mark.parametrize("auto_iso_said", [True, False])
def test_encounters_distance_and_deleted_frames_come_out_as_drawn(
    auto_iso_said: bool, tmp_path: Path
) -> None:
    who = Photographer(loss=0.2, distance="partly", deletes=(0.3, 0.3))
    drawn = record(who, np.random.default_rng(4), trips=3)
    path = tmp_path / "logbook.sqlite"
    frames = write_logbook(path, drawn, np.random.default_rng(1), auto_iso_said=auto_iso_said)
    assert frames == drawn.frames.sum()
    with open_logbook(path) as logbook:
        (row,) = comparisons(evidence(logbook))
    answer = row.hits.answer
    assert answer is not None
    kept = drawn.only(drawn.frames > 0)
    assert answer.encounters == kept.treated.sum()
    assert answer.encounters_bare == (~kept.treated).sum()
    assert answer.distance_share == pytest.approx(np.isfinite(kept.distance_log2).mean())
    # Frames that were deleted at the end of a sitting leave no gap that is counted.
    gone = row.deleted.frames + row.deleted.frames_bare
    assert 0.5 * drawn.deleted.sum() < gone <= drawn.deleted.sum() + 2


def test_measured_frames_hit_as_drawn_though_some_lie_near_the_limit(tmp_path: Path) -> None:
    """The camera's word is wrong at times, and what was measured is not taken for it."""
    chance = np.random.default_rng(6)
    drawn = record(Photographer(loss=0.2), chance, trips=3)
    write_logbook(tmp_path / "logbook.sqlite", drawn, chance, auto_iso_said=True, measured=True)
    with open_logbook(tmp_path / "logbook.sqlite") as logbook:
        rows = {row.converter_factor: row for row in kit_table(logbook)}
    for factor, treated in ((1.0, False), (2.0, True)):
        own, row = drawn.only(drawn.treated == treated), rows[factor]
        assert row.hit_rate == pytest.approx(own.hits.sum() / own.frames.sum(), abs=0.06)
        assert 0.05 < row.unclear / row.frames < 0.25
        assert row.measured == row.frames


def test_what_the_program_says_of_a_record_can_be_read() -> None:
    sentences = told.told(1, 0.2, "first")
    assert sentences.outcome == "fewer in focus than bare"
    assert sentences.interval[0] < 20 < sentences.interval[1]
    assert sentences.rates is not None
    assert sentences.rates[1] > sentences.rates[0]
    assert ("almost surely", True, 10) in sentences.claims
    assert sentences.heading.startswith("Leave the")
    with pytest.raises(ValueError, match="no comparison"):
        told.read(0.2, "Nothing that is known.", "")
