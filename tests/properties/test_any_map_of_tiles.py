"""Any map of tiles: what the focus area is about always holds tiles that can be read."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays
from numpy.typing import NDArray

from auditor.focus.network import Tiles
from auditor.focus.subject import around, find

LIMIT_PX = 1.2
ROWS, COLUMNS = 9, 11


@settings(max_examples=600, deadline=None, derandomize=True)
@given(
    log2_sigma=arrays.arrays(np.float32, (ROWS, COLUMNS), elements=st.sampled_from([-1.5, 0.2, 1.0, 2.5])),
    log_spread=arrays.arrays(np.float32, (ROWS, COLUMNS), elements=st.sampled_from([-3.0, 0.5])),
    top=st.integers(0, ROWS - 1),
    left=st.integers(0, COLUMNS - 1),
    height=st.integers(1, ROWS),
    width=st.integers(1, COLUMNS),
)
def test_what_is_found_can_be_read(
    log2_sigma: NDArray[np.float32],
    log_spread: NDArray[np.float32],
    top: int,
    left: int,
    height: int,
    width: int,
) -> None:
    area = np.zeros((ROWS, COLUMNS), bool)
    area[top : top + height, left : left + width] = True
    found = find(Tiles(np.zeros((ROWS, COLUMNS, 1), np.float32), log2_sigma, log_spread), area, LIMIT_PX)
    assert around(found.tiles)[found.tiles].all()
    assert found.tiles.any()
    if found.how not in ("all", "touched"):
        assert found.rest.any()
