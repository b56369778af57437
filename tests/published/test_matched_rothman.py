"""Stratified comparison and multiplicity against printed examples.

Rothman, Modern Epidemiology (2008), table 15-1 (R): tolbutamide trial, deaths and survivors by age.
Benjamini and Hochberg (1995), section 3.2 (R): fifteen p-values of a thrombolysis trial.
"""

from __future__ import annotations

from statistics import NormalDist

from numpy.testing import assert_allclose

from auditor.statistics.multiple import benjamini_hochberg
from auditor.statistics.stratified import mantel_haenszel

DEATHS_TREATED, TREATED = [8, 22], [8 + 98, 22 + 76]
DEATHS_BARE, BARE = [5, 16], [5 + 115, 16 + 69]
P_VALUES = (
    0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344,
    0.0459, 0.3240, 0.4262, 0.5719, 0.6528, 0.7590, 1.0,
)  # fmt: skip


def test_risk_difference_over_two_strata() -> None:
    """Printed: 0.0349, 90 % interval -0.0176 to 0.0874."""
    found = mantel_haenszel(DEATHS_TREATED, TREATED, DEATHS_BARE, BARE)
    assert found is not None
    reach = NormalDist().inv_cdf(0.95) * found.standard_error
    assert_allclose(found.estimate, 0.0349, atol=5e-5)
    assert_allclose([found.estimate - reach, found.estimate + reach], [-0.0176, 0.0874], atol=2e-4)


def test_crude_difference_is_that_of_one_stratum() -> None:
    """Printed: 0.0446."""
    found = mantel_haenszel([30], [204], [21], [205])
    assert found is not None
    assert_allclose(found.estimate, 0.0446, atol=5e-5)


def test_strata_without_one_arm_say_nothing() -> None:
    both = mantel_haenszel(DEATHS_TREATED, TREATED, DEATHS_BARE, BARE)
    more = mantel_haenszel([*DEATHS_TREATED, 5], [*TREATED, 9], [*DEATHS_BARE, 0], [*BARE, 0])
    assert both == more
    assert mantel_haenszel([1], [2], [0], [0]) is None


def test_four_of_fifteen_are_rejected() -> None:
    """Printed: four with the procedure; Bonferroni's 0.05 / 15 would reject three."""
    assert benjamini_hochberg(P_VALUES, 0.05).tolist() == [True] * 4 + [False] * 11


def test_the_order_of_the_tests_does_not_matter() -> None:
    order = [7, 3, 11, 0, 14, 5, 2, 9, 1, 13, 4, 12, 6, 10, 8]
    found = benjamini_hochberg([P_VALUES[place] for place in order], 0.05).tolist()
    assert found == [place < 4 for place in order]
