"""E-values as printed: T. J. VanderWeele, P. Ding, Annals of Internal Medicine 167 (2017), 268-274."""

from __future__ import annotations

import pytest

from auditor.statistics.hidden_distance import e_value


@pytest.mark.parametrize(
    ("ratio", "printed"),
    [
        (3.9, 7.26),  # feeding of infants and respiratory infection, the estimate (R)
        (1.8, 3.0),  # the end of its interval (R)
        (10.73, 20.95),  # smoking and lung cancer, Hammond and Horn (R)
    ],
)
def test_printed_values(ratio: float, printed: float) -> None:
    assert e_value(ratio) == pytest.approx(printed, abs=0.01)


def test_a_protective_ratio_counts_the_other_way_round() -> None:
    assert e_value(0.5) == pytest.approx(e_value(2.0))


def test_no_ratio_is_refused() -> None:
    with pytest.raises(ValueError, match="risk_ratio"):
        e_value(0.0)
