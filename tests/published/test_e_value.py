"""E-values as printed: T. J. VanderWeele, P. Ding, Annals of Internal Medicine 167 (2017), 268-274."""

from __future__ import annotations

from dataclasses import replace

import pytest

from auditor.statistics.hidden_distance import e_value, hidden_distance
from auditor.statistics.student_t import quantile
from tests.statistics.test_firm_words import a_fit


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


@pytest.mark.parametrize(("lowest", "printed"), [(-0.1, 1.0), (0.2, 2.0 + 2.0**0.5)])
def test_an_interval_that_reaches_no_loss_needs_no_explaining(lowest: float, printed: float) -> None:
    """The same paper: "if the confidence interval includes 1, the E-value is 1" (from memory, not in its
    words). 20 points of 40 % are a ratio of 2, whose E-value is 2 + sqrt(2)."""
    one = a_fit(0.2)
    half = one.losses.size // 2
    reach = quantile(0.975, one.degrees_of_freedom)
    loss = 0.3
    losses = loss + (loss - lowest) / reach * one.deviations
    told = replace(one, loss=loss, losses=losses, rate_bare=0.4, rate=0.1, odds_ratio=6.0)
    assert losses[half] == loss
    hidden = hidden_distance(told)
    assert hidden.e_value_at_least == pytest.approx(printed, rel=1e-3)
    assert (hidden.times_as_far_at_least == 1.0) is (lowest < 0)
    # Twice as far halves the odds of a hit: 6 times the odds are log2(6) doublings.
    assert hidden.times_as_far == pytest.approx(6.0)
