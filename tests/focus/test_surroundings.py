"""What is looked at around a small region."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from auditor.focus.network import TILE_PX, Tiles
from auditor.focus.surroundings import LEAST_SEEN_PX, own_tiles, surroundings


@st.composite
def lines(draw: st.DrawFn) -> tuple[int, int, int]:
    length = draw(st.integers(64, 900))
    size = draw(st.integers(64, length))
    first = draw(st.integers(0, length - size))
    return first, first + size, length


@given(lines(), lines())
def test_it_holds_the_region_lies_in_the_picture_and_keeps_the_tiles(
    down: tuple[int, int, int], across: tuple[int, int, int]
) -> None:
    region = (down[0], down[1], across[0], across[1])
    around = surroundings((down[2], across[2]), region) or region
    for first, (region_first, region_last, length) in ((0, down), (2, across)):
        assert 0 <= around[first] <= region_first
        assert region_last <= around[first + 1] <= length
        assert (region_first - around[first]) % TILE_PX == 0
        assert around[first + 1] - around[first] >= min(LEAST_SEEN_PX, length) - TILE_PX


def test_only_the_tiles_of_the_region_are_kept() -> None:
    region = (100, 212, 300, 364)
    around = surroundings((600, 400), region)
    assert around is not None
    rows, columns = (-(-(around[k + 1] - around[k]) // TILE_PX) for k in (0, 2))
    down, across = np.mgrid[0:rows, 0:columns].astype(np.float32)
    seen = Tiles(np.dstack([down, across]), around[0] + TILE_PX * down, around[2] + TILE_PX * across)
    own = own_tiles(seen, around, region)
    assert own.features.shape == (7, 4, 2)
    assert (own.log2_sigma.min(), own.log2_sigma.max() + TILE_PX) == (100, 212)
    assert (own.log_spread.min(), own.log_spread.max() + TILE_PX) == (300, 364)


def test_a_region_amid_its_picture_is_looked_at_with_as_much_on_each_side() -> None:
    region = (400, 512, 700, 764)
    around = surroundings((900, 1400), region)
    assert around is not None
    for first in (0, 2):
        before, behind = region[first] - around[first], around[first + 1] - region[first + 1]
        assert abs(before - behind) <= TILE_PX


def test_a_tile_that_reaches_beyond_the_region_is_none_of_its_own() -> None:
    """Its 110 px hold six tiles; a seventh would show what is not the region's."""
    region = (100, 210, 300, 364)
    around = surroundings((600, 400), region)
    assert around is not None
    rows, columns = ((around[k + 1] - around[k]) // TILE_PX for k in (0, 2))
    seen = Tiles(np.zeros((rows, columns, 1), np.float32), *np.zeros((2, rows, columns), np.float32))
    assert own_tiles(seen, around, region).log2_sigma.shape == (6, 4)
