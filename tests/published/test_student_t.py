"""Student's t and the normal distribution against printed tables.

NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.6.7.1 and 1.3.6.7.2 (values from memory).
"""

from __future__ import annotations

import math

import pytest

from auditor.statistics.student_t import normal_share, quantile, share_below

TABLE = [
    (1, 0.975, 12.706), (2, 0.975, 4.303), (5, 0.95, 2.015), (7, 0.99, 2.998), (10, 0.975, 2.228),
    (20, 0.90, 1.325), (30, 0.975, 2.042), (100, 0.95, 1.660),
]  # fmt: skip


@pytest.mark.parametrize(("freedom", "share", "place"), TABLE)
def test_students_t(freedom: int, share: float, place: float) -> None:
    assert quantile(share, freedom) == pytest.approx(place, abs=0.0006)
    assert quantile(1 - share, freedom) == pytest.approx(-place, abs=0.0006)
    assert share_below(place, freedom) == pytest.approx(share, abs=0.0002)


def test_normal_shares() -> None:
    for place, share in ((0.0, 0.5), (1.0, 0.84134), (1.96, 0.97500), (-2.5, 0.00621)):
        assert normal_share(place) == pytest.approx(share, abs=0.000006)


def test_ends() -> None:
    assert quantile(1.0, 7) == math.inf
    assert quantile(0.0, 7) == -math.inf
