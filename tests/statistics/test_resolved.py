"""What a kit resolves must not sink with its misses."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.statistics.detail import Blurs, gain
from auditor.statistics.resolved import resolved_gain
from benchmarks.simulated_records import blurs

TRUE_GAIN = 0.106


@pytest.mark.parametrize("loss", [0.0, 0.1, 0.2])
@pytest.mark.parametrize("missed", ["by more", "by a jump", "by any amount"])
def test_the_gain_on_sharp_frames_is_told_whatever_the_misses(loss: float, missed: str) -> None:
    resolved, got = [], []
    for seed in range(25):
        chance = np.random.default_rng(seed)
        kit = blurs(chance, 60, size=1 - TRUE_GAIN, misses=0.3 + loss, missed=missed)
        bare = blurs(chance, 60, size=1.0, misses=0.3, missed=missed)
        over_all = gain(kit, bare)
        one, other = resolved_gain(kit, bare, over_all=over_all).gain, over_all.gain
        assert one is not None
        assert other is not None
        resolved.append(one)
        got.append(other)
    assert np.mean(resolved) == pytest.approx(TRUE_GAIN, abs=0.02)
    if loss == 0.2:
        assert np.mean(got) < TRUE_GAIN - 0.03, "over all frames a loss of hits is a loss of detail"


def test_the_interval_holds_the_gain() -> None:
    held = []
    for seed in range(60):
        chance = np.random.default_rng([4, seed])
        kit = blurs(chance, 25, size=1 - TRUE_GAIN, misses=0.4, missed="by a jump")
        bare = blurs(chance, 25, size=1.0, misses=0.3, missed="by a jump")
        found = resolved_gain(kit, bare)
        assert found.low is not None
        assert found.high is not None
        held.append(found.low <= TRUE_GAIN <= found.high)
    assert np.mean(held) >= 0.88


@pytest.mark.parametrize("size", [0.91, 1.0])
def test_where_misses_are_no_kind_of_their_own_a_kit_that_misses_far_more_is_told_carefully(
    size: float,
) -> None:
    """Neither a gain where there is none, nor none where there is one: a crop would be advised."""
    for seed in range(4):
        chance = np.random.default_rng(seed)
        kit = blurs(chance, 400, size=size, misses=0.6, missed="by any amount")
        bare = blurs(chance, 400, size=1.0, misses=0.25, missed="by any amount")
        found = resolved_gain(kit, bare)
        assert found.outcome != ("no_detail_gain" if size < 1 else "gain")


def test_a_coarser_kit_that_misses_more_is_open_where_misses_are_no_kind_of_their_own() -> None:
    """The interval alone would say that it gains nothing."""
    chance = np.random.default_rng(5)
    kit = blurs(chance, 400, size=1.05, misses=0.6, missed="by any amount")
    bare = blurs(chance, 400, size=1.0, misses=0.25, missed="by any amount")
    found = resolved_gain(kit, bare)
    assert found.high is not None
    assert found.high < 0.05
    assert found.outcome == "inconclusive"


def test_a_kit_against_itself_gains_nothing() -> None:
    one = blurs(np.random.default_rng(1), 30, size=1.0, misses=0.3, missed="by more")
    found = resolved_gain(one, one)
    assert found.gain == pytest.approx(0.0, abs=1e-6)


def test_a_unit_of_angle_does_not_matter() -> None:
    chance = np.random.default_rng(2)
    kit, bare = (blurs(chance, 30, size=size, misses=0.3, missed="by more") for size in (0.9, 1.0))
    larger = [Blurs(3 * one.blur_urad, one.scene, one.encounter) for one in (kit, bare)]
    assert resolved_gain(*larger).gain == pytest.approx(resolved_gain(kit, bare).gain, abs=1e-6)


def test_without_frames_there_is_no_gain() -> None:
    nothing = Blurs(np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
    one = blurs(np.random.default_rng(1), 30, size=1.0, misses=0.3, missed="by more")
    assert resolved_gain(one, nothing).outcome == "not enough evidence"


def test_a_handful_of_scenes_gives_an_interval_or_none_and_never_a_nan() -> None:
    """Kinds without any weight left a tiny negative sum of squares once, whose root was NaN."""
    for seed in range(40):
        random = np.random.default_rng(seed)
        kits = []
        for scenes, first in ((2, 0), (4, 1)):
            scene = np.repeat(np.arange(first, first + scenes), random.integers(1, 4))
            blurs = np.exp(random.normal(2, 0.3, len(scene)))
            kits.append(Blurs(blurs, scene, scene, np.full(len(scene), 10.0)))
        told = resolved_gain(*kits)
        for end in (told.low, told.high):
            assert end is None or np.isfinite(end)


@pytest.mark.parametrize("misses", [(0.5, 0.2), (0.2, 0.5)])
def test_the_two_blurs_that_are_shown_differ_by_the_gain_that_is_shown(misses: tuple[float, float]) -> None:
    """Whichever of the kits misses more: what small misses add is taken off that one alone."""
    chance = np.random.default_rng(3)
    kit = blurs(chance, 60, size=0.9, misses=misses[0], missed="by any amount")
    bare = blurs(chance, 60, size=1.0, misses=misses[1], missed="by any amount")
    found = resolved_gain(kit, bare)
    assert found.blur_urad is not None
    assert found.blur_bare_urad is not None
    assert found.gain == pytest.approx(1 - found.blur_urad / found.blur_bare_urad)
