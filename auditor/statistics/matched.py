"""Did fewer frames hit with the converter, under like conditions?

Frames are gathered to clusters (encounters). Clusters are compared within strata of light and of whatever
else is known; a cluster counts for fewer frames the more its frames go together. A fall must be seen twice:
by the stratified difference and by a regression on the same clusters.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from auditor.statistics import clustered_logistic
from auditor.statistics.firm_words import LEAST_FALL, TOLERATED_FALL
from auditor.statistics.intervals import PRIOR_ICC, pooled_icc
from auditor.statistics.multiple import benjamini_hochberg
from auditor.statistics.stratified import Difference, mantel_haenszel
from auditor.statistics.student_t import share_below

Outcome = Literal["not enough evidence", "fell", "no fall beyond 10 points", "inconclusive"]

FEWEST_CLUSTERS = 8
"""Of each kit, in strata that hold both: with fewer there is not enough evidence."""
LEAST_MATCHED_SHARE = 0.5
"""Of the frames with the converter; where fewer were taken in like conditions, nothing is compared."""
ALPHA = 0.05
"""How likely a fall may be told where there is none, for one kit."""
LIGHT_BIN_EV, WIDE_LIGHT_BIN_EV = 1.0, 2.0
THIN_CLUSTERS = 30
"""With fewer clusters than this in an arm the strata of light are 2 EV wide."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A kit with a converter against the bare kit."""

    difference: float | None
    """Share of hits, treated minus bare; None where no stratum holds both."""
    low: float | None
    high: float | None
    p_value: float | None
    """One-sided, against a fall; the larger one of both opinions."""
    outcome: Outcome
    clusters_bare: int
    """Inside strata that hold both."""
    clusters_treated: int
    matched_share: float
    """Share of the treated frames that lie in strata that hold both."""
    adjusted_for: tuple[str, ...]
    confidence: float


@dataclass(frozen=True, slots=True)
class Clusters:
    """Frames gathered: one row an arm of a cluster."""

    cluster: NDArray[np.int64]
    treated: NDArray[np.bool_]
    hits: NDArray[np.float64]
    frames: NDArray[np.float64]
    light_ev: NDArray[np.float64]
    covariates: dict[str, NDArray[np.float64]]
    """Logarithms (base 2) of seconds and of milliradians; numbers for activities."""
    told: float = 1.0
    """How much of a difference in hits shows in these: less than all where frames count by how likely they
    are hits (`telling`)."""


def compare(
    clusters: Clusters,
    *,
    strata: Collection[str] | None = None,
    confidence: float = 0.95,
    least_fall: float = LEAST_FALL,
) -> Comparison:
    """Compare treated with bare clusters.

    Parameters
    ----------
    clusters
        One row an arm of a cluster.
    strata
        Names of the covariates that rows are matched by; None for all. The others enter the second opinion
        alone, which needs no row of one kind on both sides.
    confidence
        Of the interval, as a share.
    least_fall
        A fall under this share is of no account.

    Returns
    -------
    Comparison
        Treated minus bare within strata, with an interval and a word.

    Raises
    ------
    ValueError
        for a confidence outside (0, 1).
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must be between 0 and 1, not {confidence!r}")
    matched_by = {
        name: values for name, values in clusters.covariates.items() if strata is None or name in strata
    }
    stratum = _strata(clusters, matched_by)
    matched = _in_both(stratum, clusters.treated)
    adjusted_for = ("light", *(_WORDS[name] for name in matched_by))
    treated_frames = clusters.frames[clusters.treated].sum()
    counts = {
        "clusters_bare": int((matched & ~clusters.treated).sum()),
        "clusters_treated": int((matched & clusters.treated).sum()),
    }
    matched_share = (
        float(clusters.frames[matched & clusters.treated].sum() / treated_frames) if treated_frames else 0.0
    )
    weights = _weights(clusters)
    difference = _stratified(clusters, weights, stratum) if matched.any() else None
    if difference is None:
        return Comparison(
            difference=None, low=None, high=None, p_value=None, outcome="not enough evidence",
            matched_share=matched_share, adjusted_for=adjusted_for, confidence=confidence, **counts,
        )  # fmt: skip
    difference = difference.of_hits(clusters.told)
    low, high = difference.interval(confidence)
    p_value = max(_p_of_fall(difference), _second_opinion(clusters, weights, matched, matched_by))
    enough = min(counts.values()) >= FEWEST_CLUSTERS and matched_share >= LEAST_MATCHED_SHARE
    return Comparison(
        difference=difference.estimate,
        low=low,
        high=high,
        p_value=p_value,
        outcome=_outcome(difference, p_value, least_fall) if enough else "not enough evidence",
        matched_share=matched_share,
        adjusted_for=adjusted_for,
        confidence=confidence,
        **counts,
    )


def correct(comparisons: Sequence[Comparison], q: float = 0.05) -> list[Comparison]:
    """The same comparisons, `fell` left only where it stands among all of them.

    Benjamini-Hochberg over those with enough evidence.

    Parameters
    ----------
    comparisons
        All that were made of one record.
    q
        False discovery rate.

    Returns
    -------
    list[Comparison]
        In the same order.
    """
    tested = [
        number for number, comparison in enumerate(comparisons) if comparison.outcome != "not enough evidence"
    ]
    p_values = [comparisons[number].p_value or 0.0 for number in tested]
    stands: list[bool] = benjamini_hochberg(p_values, q).tolist()
    corrected = list(comparisons)
    for number, stays in zip(tested, stands, strict=True):
        comparison = comparisons[number]
        if comparison.outcome == "fell" and not stays:
            corrected[number] = replace(comparison, outcome="inconclusive")
    return corrected


def with_missed(clusters: Clusters, deleted: NDArray[np.float64]) -> Clusters:
    """The same clusters as they would be if so many frames of each had been deleted, all of them misses.

    Photographers delete misses: what was deleted lies between no worse than what was kept and this.

    Parameters
    ----------
    clusters
        As compared.
    deleted
        Frames deleted of each row, shape (rows,).

    Returns
    -------
    Clusters
        More frames, and no more hits.
    """
    return replace(clusters, frames=clusters.frames + deleted)


_WORDS = {"exposure_time_s": "shutter", "subject_mrad": "subject size", "activity": "activity"}


def _outcome(difference: Difference, p_value: float, least_fall: float) -> Outcome:
    if p_value <= ALPHA and difference.estimate <= -least_fall:
        return "fell"
    lowest, _highest = difference.interval(1 - 2 * ALPHA)
    return "no fall beyond 10 points" if lowest > -TOLERATED_FALL else "inconclusive"


def _p_of_fall(difference: Difference) -> float:
    """One-sided, from the interval, which has a width even where all hit or all miss."""
    low, high = difference.interval(0.95)
    error = (high - low) / (2 * NormalDist().inv_cdf(0.975))
    return NormalDist().cdf(difference.estimate / max(error, difference.standard_error))


def _second_opinion(
    clusters: Clusters,
    weights: NDArray[np.float64],
    matched: NDArray[np.bool_],
    matched_by: dict[str, NDArray[np.float64]],
) -> float:
    """One-sided p of a fall by regression; 1 where none can be fitted, since both tests must agree."""
    columns = [np.ones(matched.sum()), clusters.treated[matched].astype(float), clusters.light_ev[matched]]
    columns[2] = columns[2] - columns[2].mean()
    activities: list[NDArray[np.float64]] = []
    for name, values in clusters.covariates.items():
        chosen = values[matched]
        if name == "activity" and name in matched_by:
            activities = [(chosen == code).astype(float) for code in np.unique(chosen)[1:]]
        elif name != "activity" and np.ptp(chosen) > 0:
            columns.append(chosen - chosen.mean())
    columns = [column for column in columns if column.any()]
    cluster = np.unique(clusters.cluster[matched], return_inverse=True)[1].astype(np.int64)
    hits, frames = clusters.hits[matched], clusters.frames[matched]
    for kinds, pulled in ((activities, 0.0), ([], 0.0), (activities, 0.5), ([], 0.5)):
        design = np.column_stack([*columns, *kinds])
        # Where an arm is all hit or all miss no finite answer fits: half a hit and half a miss for each
        # coefficient, spread over the rows, pull it back (after D. Firth, Biometrika 80, 1993, R).
        each = pulled * design.shape[1] / len(design) / weights[matched]
        fitted = clustered_logistic.fit(design, hits + each, frames + 2 * each, weights[matched], cluster)
        if fitted is not None:
            error = (
                fitted.standard_errors[1]
                if not pulled
                else max(fitted.standard_errors[1], fitted.model_errors[1])
            )
            if error > 0:
                return share_below(float(fitted.coefficients[1] / error), fitted.degrees_of_freedom)
    return 1.0


def _weights(clusters: Clusters) -> NDArray[np.float64]:
    """What a frame weighs: 1 / (1 + (m - 1) rho), m frames of its arm in its cluster."""
    arms = [
        (clusters.hits[chosen], clusters.frames[chosen])
        for chosen in (clusters.treated, ~clusters.treated)
        if chosen.any()
    ]
    rho = pooled_icc(arms) if arms else PRIOR_ICC
    return np.asarray(1 / (1 + (clusters.frames - 1) * rho))


def _stratified(
    clusters: Clusters, weights: NDArray[np.float64], stratum: NDArray[np.int64]
) -> Difference | None:
    counts = []
    strata = int(stratum.max()) + 1
    for chosen in (clusters.treated, ~clusters.treated):
        for values in (clusters.hits, clusters.frames):
            counts.append(np.bincount(stratum[chosen], (values * weights)[chosen], minlength=strata))
    return mantel_haenszel(*counts)


def _strata(clusters: Clusters, matched_by: dict[str, NDArray[np.float64]]) -> NDArray[np.int64]:
    """A number a row: rows of one number are alike in light, and in what else is known."""
    fewest = min(int(clusters.treated.sum()), int((~clusters.treated).sum()))
    light_bin = LIGHT_BIN_EV if fewest >= THIN_CLUSTERS else WIDE_LIGHT_BIN_EV
    keys = [np.floor(clusters.light_ev / light_bin)]
    keys += [values if name == "activity" else np.floor(values) for name, values in matched_by.items()]
    number = np.zeros(len(clusters.hits), dtype=np.int64)
    for key in keys if len(number) else ():
        steps = (key - key.min()).astype(np.int64)
        number = number * (int(steps.max()) + 1) + steps
        if number.max() > len(number):  # many kinds, most of them empty: number those that there are
            number = np.unique(number, return_inverse=True)[1].astype(np.int64)
    return number


def _in_both(stratum: NDArray[np.int64], treated: NDArray[np.bool_]) -> NDArray[np.bool_]:
    strata = int(stratum.max()) + 1 if len(stratum) else 0
    with_treated = np.bincount(stratum[treated], minlength=strata) > 0
    with_bare = np.bincount(stratum[~treated], minlength=strata) > 0
    return np.asarray((with_treated & with_bare)[stratum])
