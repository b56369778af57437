"""Deleted frames: an answer is weakened only where one kit lost more of them."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.stats import fisher_exact

from auditor.statistics.answer import Answer, answers
from auditor.statistics.deleted import deleted_frames
from auditor.statistics.hit_model import Arms
from auditor.statistics.likely_loss import Kit
from benchmarks.simulated_records import Photographer, record
from tests.statistics.test_hit_model import arms_of


def told(seed: int, loss: float, deletes: tuple[float, float], trips: int = 24) -> Answer:
    who = Photographer(loss=loss, deletes=deletes)
    (found,) = answers(
        [(Kit(factor=2.0, lens="a"), arms_of(record(who, np.random.default_rng(seed), trips=trips)))]
    )
    assert found is not None
    return found


def test_the_same_share_of_both_kits_changes_no_answer() -> None:
    """Where the converter costs nothing, the same share of misses is the same share of frames."""
    found = [told(seed, 0.0, (0.4, 0.4)) for seed in range(12)]
    assert all(one.deleted is not None and one.deleted.frames_bare > 100 for one in found)
    assert sum(one.deleted is not None and one.deleted.turned for one in found) <= 2
    assert sum(one.word == "no fall beyond 10 points" for one in found) >= 7


def test_a_converter_is_not_blamed_for_bare_misses_that_were_deleted() -> None:
    found = [told(seed, 0.0, (0.1, 0.6)) for seed in range(12)]
    assert np.mean([one.loss for one in found]) > 0.03, "what is left looks like a loss"
    assert not any(one.word == "fell" for one in found)


def test_nor_cleared_where_its_own_misses_were_deleted() -> None:
    found = [told(seed, 0.2, (0.6, 0.0)) for seed in range(12)]
    assert not any(one.word == "no fall beyond 10 points" for one in found)


def test_nothing_deleted_turns_nothing() -> None:
    found = told(1, 0.3, (0.0, 0.0))
    assert found.word == "fell"
    assert found.deleted is not None
    assert (found.deleted.frames, found.deleted.differ, found.deleted.turned) == (0, False, False)


def test_a_loss_stands_where_both_kits_lost_the_same_share_of_their_misses() -> None:
    found = [told(seed, 0.2, (0.4, 0.4)) for seed in range(12)]
    assert sum(one.word == "fell" for one in found) >= 10
    gaps = [one.deleted for one in found if one.deleted is not None]
    assert len(gaps) == len(found)
    assert not any(one.turned for one in gaps)


@pytest.mark.parametrize("encounters", [1, 50])
@pytest.mark.parametrize(("gone", "gone_bare"), [(1, 0), (2, 0), (3, 1), (20, 2), (30, 5)])
def test_a_few_gone_frames_are_no_difference(gone: int, gone_bare: int, encounters: int) -> None:
    """Of 50 frames a kit, in one encounter or in one each: as R. A. Fisher's exact test has it (SciPy)."""
    kit, number = np.arange(100) % 2 == 0, np.arange(100) // 2 % encounters
    lost = np.zeros(100)
    lost[np.flatnonzero(kit)[:gone]] = 1.0
    lost[np.flatnonzero(~kit)[:gone_bare]] = 1.0
    ones = np.ones(100)
    found = deleted_frames(
        Arms(
            trip=number, sitting=number, encounter=number, treated=kit, hits=ones, frames=ones,
            light_ev=ones, deleted=lost,
        )
    )  # fmt: skip
    assert found is not None
    chance = fisher_exact(np.array([[gone, 50], [gone_bare, 50]])).pvalue
    assert found.differ is bool(chance < 0.1)
