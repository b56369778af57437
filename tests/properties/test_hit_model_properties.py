"""What holds of the model of hits whatever the record."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from auditor.statistics.answer import answers
from auditor.statistics.firm_words import interval, interval_at_every_look
from auditor.statistics.hit_model import Arms, fit
from auditor.statistics.likely_loss import Kit, likely


@st.composite
def records(draw: st.DrawFn) -> Arms:
    rows = draw(st.integers(2, 30))
    chance = np.random.default_rng(draw(st.integers(0, 10**6)))
    frames = chance.integers(1, draw(st.sampled_from([2, 10, 200])), rows).astype(float)
    ease = draw(st.sampled_from([-4.0, 0.0, 4.0]))
    rate = 1 / (1 + np.exp(-ease - chance.standard_cauchy(rows).clip(-20, 20)))
    encounter = chance.integers(0, rows, rows)
    light = np.full(rows, 11.0) if draw(st.booleans()) else chance.normal(11, 3, rows)
    distance = np.where(chance.random(rows) < 0.5, np.nan, chance.normal(5, 1, rows))
    return Arms(
        trip=encounter // 8,
        sitting=encounter // 3,
        encounter=encounter,
        treated=chance.random(rows) < 0.4,
        hits=np.minimum(
            frames, frames * rate if draw(st.booleans()) else chance.binomial(frames.astype(int), rate)
        ),
        frames=frames,
        light_ev=light,
        distance_log2=draw(st.sampled_from([distance, None])),
    )


@settings(max_examples=150, deadline=None)
@given(records())
def test_every_figure_is_finite_and_in_its_range(arms: Arms) -> None:
    fitted = fit(arms)
    if fitted is None:
        return
    low, high = interval(fitted)
    lowest, highest = interval_at_every_look(fitted)
    assert -1 <= lowest <= fitted.loss <= highest <= 1
    assert low <= fitted.loss <= high
    assert fitted.error > 0
    assert 0 < fitted.rate < 1
    assert 0 < fitted.rate_bare < 1
    drawn = likely(fitted)
    assert drawn.low <= drawn.loss <= drawn.high
    assert all(0 <= one <= 1 for one in drawn.more_than.values())


@settings(max_examples=60, deadline=None)
@given(records())
def test_an_answer_is_given_or_none(arms: Arms) -> None:
    (answer,) = answers([(Kit(factor=2.0, lens="a"), arms)])
    if answer is None:
        assert fit(arms) is None
        return
    assert answer.word in (
        "not enough evidence",
        "fell",
        "fewer hits",
        "no fall beyond 10 points",
        "inconclusive",
    )
    assert answer.word != "fell" or answer.loss >= 0.05
    assert (answer.hidden is None) == (answer.distance_share > 0)
    assert answer.encounters_to_settle is None or answer.encounters_to_settle >= 1


@settings(max_examples=30, deadline=None)
@given(records(), st.integers(1, 5))
def test_light_may_be_counted_from_anywhere(arms: Arms, by: int) -> None:
    one, other = fit(arms), fit(replace(arms, light_ev=arms.light_ev + by))
    assert (one is None) == (other is None)
    if one is not None and other is not None:
        assert_allclose(other.loss, one.loss, atol=2e-3)
