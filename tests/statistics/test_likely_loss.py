"""What is likely, and in which words."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import norm

from auditor.statistics.firm_words import FELL_ERROR, NO_FALL_ERROR, bars_ahead
from auditor.statistics.hit_model import Fit
from auditor.statistics.likely_loss import (
    DOUBTING_SPREAD,
    LOSSES,
    Claim,
    Kit,
    Likely,
    Prior,
    claims,
    likely,
    pooled,
    word_for,
)
from auditor.statistics.more_encounters import encounters_to_settle, useful_light
from auditor.statistics.shrinkage import USUAL_SPREAD
from tests.statistics.test_firm_words import a_fit, moved
from tests.statistics.test_hit_model import a_year, fitted


def test_where_errors_are_normal_it_is_the_textbook_posterior() -> None:
    """A. Gelman and others, Bayesian Data Analysis, 3rd ed. (2013), section 2.5."""
    found = likely(normal(0.2, 0.06))
    precision = 1 / 0.06**2 + 1 / USUAL_SPREAD**2
    mean, spread = 0.2 / 0.06**2 / precision, precision**-0.5
    assert_allclose([found.loss, found.mean, found.spread], [mean, mean, spread], rtol=2e-3)
    assert_allclose([found.low, found.high], norm.ppf([0.1, 0.9], mean, spread), rtol=3e-3)
    assert_allclose([found.more_than[one] for one in LOSSES], norm.sf(LOSSES, mean, spread), atol=2e-3)


def normal(loss: float, error: float) -> Fit:
    """A fit whose losses go straight with the errors, from a record so long that t is normal."""
    one = a_fit(0.1)
    return type(one)(
        **{name: getattr(one, name) for name in one.__slots__}
        | {
            "loss": loss,
            "error": error,
            "losses": loss + error * one.deviations,
            "degrees_of_freedom": 10**7,
        }
    )


def test_a_larger_loss_is_never_more_likely_than_a_smaller() -> None:
    found = likely(a_fit(0.1, trips=6))
    chances = [found.more_than[one] for one in LOSSES]
    assert chances == sorted(chances, reverse=True)
    assert found.low < found.loss < found.high


def test_a_short_record_is_drawn_further() -> None:
    short, long = normal(0.3, 0.2), normal(0.3, 0.02)
    assert likely(short).loss < 0.5 * short.loss
    assert likely(long).loss > 0.95 * long.loss


@pytest.mark.parametrize(
    ("probability", "word"),
    [(0.5, "not settled"), (0.8, "probably"), (0.949, "probably"), (0.95, "almost surely")],
)
def test_words_have_fixed_ranges(probability: float, word: str) -> None:
    assert word_for(probability) == word


def test_the_strongest_claim_on_either_side_is_told() -> None:
    told = claims(told_by(0.97, 0.85, 0.02), told_by(0.97, 0.85, 0.02))
    assert [(one.more, one.loss, one.word) for one in told] == [
        (True, 0.10, "probably"),
        (False, 0.20, "almost surely"),
    ]
    assert told[1].probability == pytest.approx(0.98)
    assert claims(told_by(0.6, 0.5, 0.4), told_by(0.6, 0.5, 0.4)) == ()


def test_that_little_is_lost_is_told_where_the_record_says_so_and_not_what_is_usual_alone() -> None:
    """With hardly any record the usual prior by itself has under 20 of 100 lost nine times in ten."""

    def told(loss: float, error: float) -> tuple[Claim, ...]:
        one = normal(loss, error)
        return claims(likely(one), likely(one, Prior(spread=DOUBTING_SPREAD)))

    assert 1 - likely(normal(0.0, 0.5)).more_than[0.20] > 0.9
    assert told(0.0, 0.5) == ()
    assert [(one.more, one.loss, one.word) for one in told(0.02, 0.05)] == [(False, 0.10, "probably")]


def test_that_it_costs_is_told_against_what_is_usual() -> None:
    doubting, drawn = told_by(0.99, 0.97, 0.9), told_by(0.9, 0.7, 0.3)
    assert [(one.more, one.loss) for one in claims(drawn, doubting)] == [(True, 0.05)]


def told_by(*chances: float) -> Likely:
    more_than = dict(zip(LOSSES, chances, strict=True))
    return Likely(loss=0.1, low=0.05, high=0.15, mean=0.1, spread=0.04, more_than=more_than)


def test_a_kit_alone_gets_the_usual_prior() -> None:
    (alone,) = pooled([Kit(factor=2.0, lens="a")], [0.3], [0.1])
    assert_allclose([alone.mean, alone.spread], [0.0, USUAL_SPREAD])


def test_kits_of_one_factor_lend_more_than_others() -> None:
    kits = [Kit(factor=2.0, lens="a"), Kit(factor=2.0, lens="b"), Kit(factor=1.4, lens="b")]
    same, other = (pooled([kits[0], kit], [0.0, 0.3], [0.1, 0.05])[0] for kit in (kits[1], kits[2]))
    assert same.mean > other.mean > 0
    assert same.spread < other.spread < USUAL_SPREAD


def test_pooling_agrees_with_a_joint_posterior() -> None:
    """The prior from the others and the kit's own record are the posterior of all kits at once."""
    kits = [Kit(factor=2.0, lens="a"), Kit(factor=2.0, lens="b"), Kit(factor=1.4, lens="a")]
    losses, errors = np.array([0.25, 0.1, 0.02]), np.array([0.1, 0.05, 0.08])
    usual = USUAL_SPREAD**2 * np.array([[1, 0.5, 0.3], [0.5, 1, 0.2], [0.3, 0.2, 1]])
    joint = usual @ np.linalg.solve(usual + np.diag(errors**2), losses)
    for number, prior in enumerate(pooled(kits, losses.tolist(), errors.tolist())):
        own = 1 / errors[number] ** 2
        mean = (own * losses[number] + prior.mean / prior.spread**2) / (own + 1 / prior.spread**2)
        assert mean == pytest.approx(joint[number])


def test_the_nearer_a_loss_lies_to_where_words_part_the_more_encounters_it_takes() -> None:
    clear, near = normal(0.22, 0.1), normal(0.09, 0.05)
    soon, late = (encounters_to_settle(one, likely(one)) for one in (clear, near))
    assert soon is not None
    assert late is None or late > soon


def test_more_encounters_are_wanted_in_light_that_the_converter_was_not_used_in() -> None:
    arms = a_year(3, bright=0.0, far=0.0)
    dim = arms.light_ev < 11
    kept = fitted(arms.only(~(arms.treated & dim)))
    useful = useful_light(kept)
    assert useful is not None
    assert useful[0] < 11


def test_no_light_is_named_where_nearly_all_was_one_light() -> None:
    """No whole EV lies between the 5th and the 95th of 100, and yet the ends are far apart."""
    kept = fitted(a_year(3))
    light = np.linspace(11.2, 11.8, len(kept.light_ev))
    light[0], light[-1] = 10.0, 13.0
    assert useful_light(replace(kept, light_ev=light)) is None


def test_an_estimate_that_is_moved_moves_what_is_likely() -> None:
    one = a_fit(0.1)
    assert likely(moved(one, 0.1)).loss > likely(one).loss + 0.05


def test_few_sittings_take_more_encounters_to_settle() -> None:
    """The same estimate and error, of three sittings or of thirty."""
    found = fitted(a_year(3, 0.15))
    few, many = (
        encounters_to_settle(one, likely(one))
        for one in (replace(found, degrees_of_freedom=2), replace(found, degrees_of_freedom=60))
    )
    assert few is not None
    assert many is not None
    assert few > 1.5 * many


def test_half_of_the_ways_on_have_been_told_by_then() -> None:
    """Each way drawn look by look, whichever look tells first; the bars are those of `firm_words`."""
    one = normal(0.14, 0.075)
    expected = likely(one)
    told = encounters_to_settle(one, expected)
    assert told is not None
    trips = len(one.looks)
    looks = int(np.ceil(trips * told / one.encounters))
    times = 1 + np.arange(1, looks + 1) / trips
    fell, none = (np.array(bars_ahead(one, total, times.tolist())) for total in (FELL_ERROR, NO_FALL_ERROR))
    chance, settled = np.random.default_rng(2), 0
    for _way in range(2000):
        loss, total, before = chance.normal(expected.mean, expected.spread), one.loss, 1.0
        for look, length in enumerate(times.tolist()):
            new = length - before
            total += new * chance.normal(loss, one.error / np.sqrt(new))
            before, error = length, one.error / np.sqrt(length)
            estimate = total / length
            if estimate >= max(0.05, fell[look] * error) or estimate <= 0.10 - none[look] * error:
                settled += 1
                break
    assert settled / 2000 == pytest.approx(0.53, abs=0.07)


def test_no_word_is_promised_before_there_are_encounters_enough() -> None:
    """Eight of each kit, or six with both: with four bare ones a clear loss takes as many again."""
    clear = replace(normal(0.4, 0.05), encounters=10, encounters_bare=4, encounters_both=0)
    told = encounters_to_settle(clear, likely(clear))
    assert told is not None
    assert told >= 10
