"""Focal lengths read from lens names, against those that the lensfun database holds beside its names."""

from __future__ import annotations

import lensfunpy
import pytest

from auditor.frames.lens import from_name

LEAST_NAMES = 850
"""Of the database that lensfunpy 1.18 carries, 897 names of lenses alone say one (counted)."""
MOST_APART = 5
"""One was counted: a zoom of 12 to 13 mm that is sold as 12 mm."""


def test_a_name_says_the_focal_lengths_that_the_database_has() -> None:
    """Names with a converter behind a plus sign are left out: the database multiplies, names do not."""
    told = {
        lens.model: (named, lens.min_focal, lens.max_focal)
        for lens in lensfunpy.Database().lenses
        if "+" not in lens.model and (named := from_name(lens.model)).short_mm is not None
    }
    wrong = [
        name
        for name, (named, short_mm, long_mm) in told.items()
        if named.short_mm != pytest.approx(short_mm, rel=0.03)
        or named.long_mm != pytest.approx(long_mm, rel=0.03)
    ]
    assert len(told) >= LEAST_NAMES
    assert len(wrong) <= MOST_APART, wrong


def test_a_name_without_a_unit_says_them_in_front_of_an_f() -> None:
    told = [
        (lens.model, lens.min_focal, lens.max_focal)
        for lens in lensfunpy.Database().lenses
        if "mm" not in lens.model and from_name(lens.model).short_mm is not None
    ]
    assert len(told) >= 10
    for name, short_mm, long_mm in told:
        named = from_name(name)
        assert (named.short_mm, named.long_mm) == pytest.approx((short_mm, long_mm), abs=0.5), name
