"""A kit and its bare kit where encounters are alike: the check beside the model, and what was deleted."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from auditor.analysis.compared import Deleted
from auditor.analysis.kit_encounters import KitEncounters
from auditor.analysis.losses import activity_of
from auditor.statistics.telling import LEAST_SHARE
from auditor.words import FocusOutcome

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from auditor.statistics.matched import Clusters
    from auditor.statistics.matched import Comparison as Matched


class Pair(NamedTuple):
    """Hits of a kit and of its bare kit, compared."""

    total: Matched
    at_equal_shutter: Matched
    clusters: Clusters
    """As `total` was made of."""
    clusters_all: Clusters
    """With all that is known of them."""
    strata: tuple[str, ...]
    """What rows were matched by, besides light."""
    deleted: NDArray[np.float64]
    """Frames that may have been deleted, one entry a row of `clusters`."""

    @property
    def not_adjusted_for(self) -> tuple[str, ...]:
        """What the animals of both may still have differed in, in words."""
        words = {"subject_mrad": "distance to the subject", "activity": "what the animal did"}
        return ("the animal's own size", *(word for name, word in words.items() if name not in self.strata))


def matched_pair(table: KitEncounters, kit_id: int, bare_id: int, least_fall: float) -> Pair:
    """Hits of a kit and of its bare kit in encounters alike in as much as the frames allow.

    Parameters
    ----------
    table
        As `kit_encounters` gathered it.
    kit_id, bare_id
        The kit and its bare kit.
    least_fall
        A fall under this share is of no account.

    Returns
    -------
    Pair
        Compared twice: in all, and at equal shutter.
    """
    from auditor.statistics.matched import FEWEST_CLUSTERS, LEAST_MATCHED_SHARE, compare

    whole = clusters_of(table, kit_id, bare_id, hits="compared_hits", frames="compared")
    # Alike in as much as the frames allow; distance stays in the second opinion whatever they allow.
    for strata in (("subject_mrad", "activity"), ("subject_mrad",), ()):
        clusters = _only(whole, {*strata, "subject_mrad"})
        total = compare(clusters, strata=strata, least_fall=least_fall)
        enough = min(total.clusters_bare, total.clusters_treated) >= FEWEST_CLUSTERS
        if enough and total.matched_share >= LEAST_MATCHED_SHARE:
            break
    with_shutter = _only(whole, {*clusters.covariates, "exposure_time_s"})
    return Pair(
        total=total,
        at_equal_shutter=compare(with_shutter, strata=(*strata, "exposure_time_s"), least_fall=least_fall),
        clusters=clusters,
        clusters_all=whole,
        strata=tuple(name for name in strata if name in whole.covariates),
        deleted=_rows(table, kit_id, bare_id, "compared").deleted,
    )


def _only(clusters: Clusters, names: set[str]) -> Clusters:
    kept = {name: values for name, values in clusters.covariates.items() if name in names}
    return replace(clusters, covariates=kept)


def weakened(matched: Matched, pair: Pair, least_fall: float) -> tuple[Matched, Deleted]:
    """The comparison, inconclusive where deleted frames could turn it; and what was deleted.

    Parameters
    ----------
    matched
        The pair compared, corrected for all that were.
    pair
        The same pair.
    least_fall
        A fall under this share is of no account.

    Returns
    -------
    tuple[Comparison, Deleted]
        With what the difference would be had those frames been misses.
    """
    from auditor.statistics.matched import compare, with_missed

    treated = pair.clusters.treated
    deleted = Deleted(
        frames=round(pair.deleted[treated].sum()), frames_bare=round(pair.deleted[~treated].sum())
    )
    if not pair.deleted.any():
        return matched, deleted
    # Gaps of one kit alone may be misses, and those of the other another card: so each by itself too.
    cases = [
        compare(with_missed(pair.clusters, missed), strata=pair.strata, least_fall=least_fall)
        for missed in (
            pair.deleted,
            np.where(treated, 0.0, pair.deleted),
            np.where(treated, pair.deleted, 0.0),
        )
    ]
    settled = matched.outcome in (FocusOutcome.FELL, FocusOutcome.NO_FALL)
    turned = settled and any(case.outcome != matched.outcome for case in cases)
    both, bare_only, with_it_only = (case.difference for case in cases)
    deleted = replace(
        deleted,
        difference_if_missed=both,
        difference_if_missed_bare_only=bare_only,
        difference_if_missed_with_it_only=with_it_only,
        turned=turned,
    )
    return (replace(matched, outcome="inconclusive") if turned else matched), deleted


def _rows(table: KitEncounters, kit_id: int, bare_id: int, frames: str) -> KitEncounters:
    usable = (getattr(table, frames) > 0) & (table.encounter_id > 0) & ~np.isnan(table.light_ev)
    return table.only(table.of_kits((kit_id, bare_id)) & usable)


def clusters_of(table: KitEncounters, kit_id: int, bare_id: int, *, hits: str, frames: str) -> Clusters:
    """Rows of both kits as they are matched.

    Parameters
    ----------
    table
        As `kit_encounters` gathered it.
    kit_id, bare_id
        The kit, and the one that it is compared with.
    hits, frames
        Which columns to count.

    Returns
    -------
    Clusters
        Those in known light, a row a kit in an encounter.
    """
    from auditor.statistics.matched import Clusters

    rows = _rows(table, kit_id, bare_id, frames)
    covariates = {"exposure_time_s": np.log2(rows.exposure_time_s)}
    if len(rows) and not np.isnan(rows.metre_mrad).any():
        covariates["subject_mrad"] = np.log2(rows.metre_mrad)
    activity = activity_of(rows)
    if activity is not None:
        covariates["activity"] = activity.astype(float)
    return Clusters(
        cluster=np.unique(rows.encounter_id, return_inverse=True)[1].astype(np.int64),
        treated=rows.kit_id == kit_id,
        hits=getattr(rows, hits).astype(float),
        frames=getattr(rows, frames).astype(float),
        light_ev=rows.light_ev,
        covariates=covariates,
        told=_told(rows) if hits == "compared_hits" else 1.0,
    )


def _told(rows: KitEncounters) -> float:
    """How much of a difference in hits shows in the likely hits of these rows."""
    frames = rows.compared.sum()
    return max(LEAST_SHARE, float(rows.compared_told.sum() / frames)) if frames else 1.0
