"""Clusters that two kits share: numbered a kit each, they are drawn as if numbered together."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from auditor.statistics.clustered_logistic import _determined
from auditor.statistics.resampling import SEED, Numbered, in_common_groups, in_groups

clusters = arrays(np.int64, st.integers(1, 60), elements=st.integers(0, 1000))


@given(clusters, clusters)
def test_common_groups_are_those_of_all_rows_together(one: np.ndarray, other: np.ndarray) -> None:
    parts, groups = in_common_groups([Numbered.of(one), Numbered.of(other)], np.random.default_rng(SEED))
    together, count = in_groups(np.concatenate([one, other]), np.random.default_rng(SEED))
    assert groups == count == len(np.unique(np.concatenate([one, other])))
    np.testing.assert_array_equal(np.concatenate(parts), together)


@given(clusters)
def test_clusters_held_are_counted_once(one: np.ndarray) -> None:
    chosen = np.random.default_rng(1).random(len(one)) < 0.4
    numbered = Numbered.of(one)
    assert numbered.held(chosen) == len(np.unique(one[chosen]))
    np.testing.assert_array_equal(numbered.names[numbered.number], one)
    assert numbered.rows.sum() == len(one)


@given(
    arrays(np.float64, st.tuples(st.integers(1, 30), st.integers(1, 5)), elements=st.floats(-9, 9, width=16)),
    st.booleans(),
)
def test_columns_are_determined_where_numpy_says_so(design: np.ndarray, doubled: bool) -> None:
    """numpy.linalg.matrix_rank, the reference, looks at all rows."""
    if doubled:
        design = np.column_stack([design, 2 * design[:, 0]])
    assert _determined(design) == (np.linalg.matrix_rank(design) == design.shape[1])


@given(st.integers(0, 400))
def test_so_they_are_where_one_is_nearly_another(halvings: int) -> None:
    """Down to where the second column differs from the first by less than rounding."""
    chance = np.random.default_rng(halvings)
    first, second = chance.normal(size=(2, 50))
    design = np.column_stack([first, first + second * 2.0 ** (-halvings / 6)])
    assert _determined(design) == (np.linalg.matrix_rank(design) == 2)
