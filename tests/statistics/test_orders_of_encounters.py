"""A fall inside a trip: what is told of whole arrays of orders against one order after the other."""

from __future__ import annotations

import numpy as np
import pytest

from auditor.statistics import change
from auditor.statistics.change import fall, lowest_stretch


def depth(series: np.ndarray, first: int, after: int) -> float:
    """By how much a stretch falls short of its share of the whole, over the spread of such a sum."""
    share = (after - first) / len(series)
    short = share * series.sum() - series[first:after].sum()
    return float(short / np.sqrt(len(series) * share * (1 - share)))


def deepest(series: np.ndarray, to_the_end: bool) -> tuple[int, int, float]:
    """Every stretch looked at by itself."""
    bursts = len(series)
    found = []
    for first in range(bursts):
        for after in [bursts] if to_the_end else range(first + 1, bursts + 1):
            if first >= change.EDGE * bursts and change.EDGE <= (after - first) / bursts <= 1 - change.EDGE:
                found.append((first, after, depth(series, first, after)))
    return max(found, key=lambda stretch: stretch[2])


@pytest.mark.parametrize("to_the_end", [True, False])
@pytest.mark.parametrize("seed", range(8))
def test_the_lowest_stretch_is_the_deepest_of_all(seed: int, to_the_end: bool) -> None:
    series = np.random.default_rng(seed).normal(size=12 + 6 * seed)
    first, after, found = lowest_stretch(series, to_the_end=to_the_end)
    assert (first, after) == deepest(series, to_the_end)[:2]
    assert found == pytest.approx(depth(series, first, after))


def test_the_probability_is_the_share_of_orders_that_show_as_low_a_stretch() -> None:
    """The same draws of orders, each put together and looked at by itself."""
    chance = np.random.default_rng(4)
    encounter = np.repeat(np.arange(15), chance.integers(1, 6, 15))
    residuals = chance.normal(size=len(encounter)) - 1.2 * (encounter > 10)
    _first, _after, p_value = change._told_apart(residuals, encounter)
    own = [residuals[encounter == one] for one in range(15)]
    drawn = np.random.default_rng(change.SEED)
    orders = [residuals]
    orders += [np.concatenate([own[one] for one in drawn.permutation(15)]) for _order in range(change.ORDERS)]
    depths = np.array(
        [[lowest_stretch(order, to_the_end=lasting)[2] for lasting in (True, False)] for order in orders]
    )
    rarity = np.array([[(column >= one - 1e-12).mean() for one in column] for column in depths.T]).min(axis=0)
    assert p_value == pytest.approx((rarity <= rarity[0] + 1e-12).mean())
    assert p_value < 0.2


def test_a_knock_in_the_middle_is_found_where_it_was() -> None:
    hits = [9] * 20 + [2] * 20
    found = fall(hits, [10] * 40, np.arange(40) // 2)
    assert found is not None
    assert (found.first, found.after) == (20, 40)
    assert found.p_value < 0.01
