"""Gain in detail: what it finds, what it does not depend on, and its interval."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.statistics.detail import Blurs, gain, lower_quartile


def blurs(seed: int, encounters: int, size: float, *, frames: int = 9, first_encounter: int = 0) -> Blurs:
    chance = np.random.default_rng(seed)
    scene = np.repeat(np.arange(encounters) + first_encounter, frames)
    luck = 0.15 * chance.normal(size=encounters)[np.repeat(np.arange(encounters), frames)]
    return Blurs(12 * size * np.exp(luck + 0.1 * chance.normal(size=len(scene))), scene, scene)


def test_a_gain_of_a_fifth_is_told() -> None:
    found = gain(blurs(1, 40, 0.8), blurs(2, 40, 1.0))
    assert found.outcome == "gain"
    assert found.low is not None
    assert found.high is not None
    assert found.low < 0.2 < found.high


def test_the_same_detail_is_no_gain() -> None:
    found = gain(blurs(3, 150, 1.0), blurs(4, 150, 1.0))
    assert found.outcome == "no_detail_gain"


def test_few_scenes_are_not_enough_however_many_frames() -> None:
    found = gain(blurs(1, 7, 0.5, frames=300), blurs(2, 40, 1.0))
    assert (found.outcome, found.scenes) == ("not enough evidence", 7)


def test_one_encounter_has_no_interval_and_no_frames_no_gain() -> None:
    one = gain(blurs(1, 1, 0.5), blurs(2, 40, 1.0))
    assert (one.low, one.high) == (None, None)
    assert one.gain is not None
    nothing = Blurs(np.zeros(0), np.zeros(0, dtype=np.int64), np.zeros(0, dtype=np.int64))
    assert gain(nothing, blurs(2, 40, 1.0)).gain is None


def test_bodies_on_the_same_animals_are_compared_more_closely() -> None:
    """The luck of an encounter is in both arms: resampled together it falls out of the ratio."""
    luck = 0.4 * np.random.default_rng(7).normal(size=30)
    scene = np.repeat(np.arange(30), 9)
    noise = [0.1 * np.random.default_rng(seed).normal(size=len(scene)) for seed in (8, 9)]
    kit, bare = (Blurs(12 * np.exp(luck[scene] + one), scene, scene) for one in noise)
    apart = Blurs(bare.blur_urad, scene, scene + 1000)
    widths = []
    for found in (gain(kit, bare), gain(kit, apart)):
        assert found.low is not None
        assert found.high is not None
        widths.append(found.high - found.low)
    assert widths[0] < 0.5 * widths[1]


def test_a_scene_of_many_frames_counts_as_one() -> None:
    blur = np.concatenate([np.full(1000, 5.0), np.full(3, 20.0), np.full(3, 30.0)])
    scene = np.concatenate([np.zeros(1000), np.ones(3), np.full(3, 2.0)])
    assert lower_quartile(blur, scene) < 12
    assert lower_quartile(blur[1000:], scene[1000:]) == pytest.approx(20, abs=0.1)


def test_another_unit_changes_no_gain() -> None:
    kit, bare = blurs(1, 30, 0.9), blurs(2, 30, 1.0)
    once = gain(kit, bare)
    scaled = gain(
        Blurs(1000 * kit.blur_urad, kit.scene, kit.encounter),
        Blurs(1000 * bare.blur_urad, bare.scene, bare.encounter),
    )
    for ours, theirs in ((scaled.gain, once.gain), (scaled.low, once.low)):
        assert ours is not None
        assert theirs == pytest.approx(ours, abs=2e-3)


def test_blur_that_cannot_be_is_refused() -> None:
    scene = np.zeros(1, dtype=np.int64)
    for value in (0.0, -1.0, np.nan):
        with pytest.raises(ValueError, match="above 0"):
            gain(Blurs(np.array([value]), scene, scene), blurs(1, 10, 1.0))


def test_a_kit_that_is_used_in_the_dark_is_not_blamed_for_the_dark() -> None:
    """Blur doubles from bright light to dusk; the kit is used at dusk four times as often, and is no
    coarser."""
    chance = np.random.default_rng(4)

    def used(dusks: int, brights: int, first: int) -> Blurs:
        light = np.repeat(np.concatenate([np.full(dusks, 8.5), np.full(brights, 12.5)]), 9)
        scene = np.repeat(np.arange(dusks + brights) + first, 9)
        blur = np.where(light < 10, 20.0, 10.0) * np.exp(0.1 * chance.normal(size=len(scene)))
        return Blurs(blur, scene, scene, light)

    kit, bare = used(80, 20, 0), used(20, 80, 1000)
    found = gain(kit, bare)
    assert found.alike_in_light
    assert found.gain == pytest.approx(0, abs=0.05)
    blamed = gain(
        Blurs(kit.blur_urad, kit.scene, kit.encounter), Blurs(bare.blur_urad, bare.scene, bare.encounter)
    )
    assert not blamed.alike_in_light
    assert blamed.gain is not None
    assert blamed.gain < -0.2


def test_light_that_is_hardly_shared_is_not_matched() -> None:
    kit, bare = blurs(1, 20, 0.8), blurs(2, 20, 1.0)
    found = gain(
        Blurs(kit.blur_urad, kit.scene, kit.encounter, np.full(len(kit.scene), 6.0)),
        Blurs(bare.blur_urad, bare.scene, bare.encounter, np.full(len(bare.scene), 14.0)),
    )
    assert not found.alike_in_light
    assert found.scenes == 20
