"""The answer on one kit's hits: its loss, how likely, in which words, and what would settle it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from auditor.statistics.deleted import Deleted, deleted_frames, with_excess_missed
from auditor.statistics.firm_words import (
    FEWEST_BOTH,
    LEAST_FALL,
    FirmWord,
    firm_word,
    firm_words,
    interval,
    interval_at_every_look,
    p_of_no_loss,
)
from auditor.statistics.hidden_distance import Hidden, hidden_distance
from auditor.statistics.hit_model import Arms, Fit, fit
from auditor.statistics.likely_loss import (
    DOUBTING_SPREAD,
    Claim,
    Kit,
    Likely,
    Prior,
    claims,
    likely,
    pooled,
)
from auditor.statistics.more_encounters import encounters_to_settle, useful_light
from auditor.statistics.shrinkage import USUAL_SPREAD

AnswerWord = FirmWord | Literal["fewer hits"]
"""`fewer hits`: as sure as `fell`, but farther animals could explain it."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """Losses are shares of the frames, positive where the converter costs hits."""

    word: AnswerWord
    loss: float
    """The record's own estimate."""
    error: float
    """Its standard error."""
    p_value: float
    """How likely an estimate so high is where nothing is lost, at one look."""
    low: float
    """Ends of its 95 % interval at one look, and of the one that holds at every look."""
    high: float
    low_at_every_look: float
    high_at_every_look: float
    likely: Likely
    """Drawn towards what is usual, and towards kits of one factor or lens."""
    claims: tuple[Claim, ...]
    lent: float
    """How far other kits move the most likely loss."""
    rate: float
    """Hits with the converter, and bare, over the light and the animals that were met: side by side."""
    rate_bare: float
    encounters: int
    encounters_bare: int
    encounters_both: int
    distance_share: float
    hidden: Hidden | None
    """What farther animals would have to have done; None where distance is adjusted for."""
    encounters_to_settle: int | None
    """None where the word is firm, or no honest number can be given."""
    useful_light_ev: tuple[float, float] | None
    shared: dict[str, float]
    """How much of a frame's luck is shared in its scene, encounter, sitting and trip."""
    deleted: Deleted | None


def answers(kits: Sequence[tuple[Kit, Arms]], *, least_fall: float = LEAST_FALL) -> list[Answer | None]:
    """The answer on each kit of a record; None where nothing can be fitted.

    Parameters
    ----------
    kits
        What each kit is, and its arms together with those of its bare kit.
    least_fall
        A loss under this share is of no account.

    Returns
    -------
    list[Answer or None]
        In the order of `kits`.
    """
    fits = _fitted(kits)
    priors, doubts = _priors(kits, fits), _priors(kits, fits, DOUBTING_SPREAD)
    words = firm_words(list(fits.values()), least_fall=least_fall)
    results: list[Answer | None] = [None] * len(kits)
    for (number, fitted), word, prior, doubt in zip(fits.items(), words, priors, doubts, strict=True):
        drawn = likely(fitted, prior)
        answer = _answer(fitted, word, drawn, claims(drawn, likely(fitted, doubt)), least_fall)
        arms = kits[number][1]
        if word == "fell" and not fitted.distance_share and not _paired_fell(arms, least_fall):
            answer = replace(answer, word="fewer hits")
        results[number] = _weakened(answer, word, arms, least_fall)
    return results


def likely_losses(kits: Sequence[tuple[Kit, Arms]]) -> list[Likely | None]:
    """What the loss of each kit of a record most likely is, as `answers` tells it, sooner.

    Parameters
    ----------
    kits
        As for `answers`.

    Returns
    -------
    list[Likely or None]
        In the order of `kits`; None where nothing can be fitted.
    """
    fits = _fitted(kits)
    priors = _priors(kits, fits)
    results: list[Likely | None] = [None] * len(kits)
    for (number, fitted), prior in zip(fits.items(), priors, strict=True):
        results[number] = likely(fitted, prior)
    return results


def _fitted(kits: Sequence[tuple[Kit, Arms]]) -> dict[int, Fit]:
    """The fits that could be made, by place."""
    return {number: fitted for number, (_kit, arms) in enumerate(kits) if (fitted := fit(arms)) is not None}


def _priors(
    kits: Sequence[tuple[Kit, Arms]], fits: dict[int, Fit], spread: float = USUAL_SPREAD
) -> list[Prior]:
    """What the other kits let expect of each that could be fitted."""
    return pooled(
        [kits[number][0] for number in fits],
        [fitted.loss for fitted in fits.values()],
        [fitted.error for fitted in fits.values()],
        spread=spread,
    )


def _answer(
    fitted: Fit, word: FirmWord, drawn: Likely, supported: tuple[Claim, ...], least_fall: float
) -> Answer:
    low, high = interval(fitted)
    lowest, highest = interval_at_every_look(fitted)
    open_ = word in ("inconclusive", "not enough evidence")
    return Answer(
        word=word,
        loss=fitted.loss,
        error=fitted.error,
        p_value=p_of_no_loss(fitted),
        low=low,
        high=high,
        low_at_every_look=lowest,
        high_at_every_look=highest,
        likely=drawn,
        claims=supported,
        lent=drawn.loss - likely(fitted).loss,
        rate=fitted.rate,
        rate_bare=fitted.rate_bare,
        encounters=fitted.encounters,
        encounters_bare=fitted.encounters_bare,
        encounters_both=fitted.encounters_both,
        distance_share=fitted.distance_share,
        hidden=None if fitted.distance_share else hidden_distance(fitted),
        encounters_to_settle=encounters_to_settle(fitted, drawn, least_fall=least_fall) if open_ else None,
        useful_light_ev=useful_light(fitted) if open_ else None,
        shared=fitted.parts,
        deleted=None,
    )


def _weakened(answer: Answer, word: FirmWord, arms: Arms, least_fall: float) -> Answer:
    """The answer, inconclusive where deleted frames could turn it."""
    gone = deleted_frames(arms)
    if gone is None:
        return answer
    if gone.differ and word in ("fell", "no fall beyond 10 points"):
        refit = fit(with_excess_missed(arms, gone))
        if refit is None or firm_word(refit, least_fall=least_fall) != word:
            return replace(answer, word="inconclusive", deleted=replace(gone, turned=True))
    return replace(answer, deleted=gone)


def _paired_fell(arms: Arms, least_fall: float) -> bool:
    """Whether the encounters with both kits show a fall by themselves: in those distance is the same."""
    arms = arms.only(arms.frames > 0)
    both = np.intersect1d(arms.encounter[arms.treated], arms.encounter[~arms.treated])
    if len(both) < FEWEST_BOTH:
        return False
    paired = fit(arms.only(np.isin(arms.encounter, both)))
    return paired is not None and firm_word(paired, least_fall=least_fall) == "fell"
