"""A simulated record as frames: what is worked out of times and exposures is what was drawn."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from auditor.analysis.comparisons import comparisons, evidence
from auditor.store.logbook import open_logbook
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
    told = drawn.only(drawn.frames > 0)
    assert answer.encounters == told.treated.sum()
    assert answer.encounters_bare == (~told.treated).sum()
    assert answer.distance_share == pytest.approx(np.isfinite(told.distance_log2).mean())
    # Frames that were deleted at the end of a sitting leave no gap that is counted.
    gone = row.deleted.frames + row.deleted.frames_bare
    assert 0.5 * drawn.deleted.sum() < gone <= drawn.deleted.sum() + 2
