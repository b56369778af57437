"""Each kit with a converter against the same body and lens bare: hits, and detail on the animal.

Also a kit with a converter against a smaller sensor that frames alike without one: what a photographer with
two bodies really chooses between."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from auditor.analysis.compared import Alternative, Comparison, Deleted, DetailCompared, HitsCompared
from auditor.analysis.detail import Measured, measured_by_kit
from auditor.analysis.kit_encounters import KitEncounters, kit_encounters, of_trip
from auditor.analysis.kits import bare_of, frame_alike
from auditor.analysis.losses import activity_of
from auditor.analysis.optics import ExpectedGain, expected
from auditor.settings import Settings
from auditor.statistics.telling import LEAST_SHARE
from auditor.store.encounter_sums import KitFacts, known_kits
from auditor.store.logbook import Logbook
from auditor.words import DetailOutcome, FocusOutcome

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from auditor.statistics.answer import Answer
    from auditor.statistics.detail import Gain
    from auditor.statistics.matched import Clusters
    from auditor.statistics.matched import Comparison as Matched


class Evidence(NamedTuple):
    """What the frames of a trip, or of all, say: gathered once, compared in several ways."""

    kits: list[KitFacts]
    kit_encounters: KitEncounters
    measured: dict[int, Measured]
    trip_id: int | None = None
    """The trip that is looked at, where the record is larger."""


def evidence(logbook: Logbook, trip_id: int | None = None, settings: Settings | None = None) -> Evidence:
    """Gather a trip's frames, or all.

    Parameters
    ----------
    trip_id
        None for all trips.
    settings
        For `sitting_gap_h`; None for the default.

    Returns
    -------
    Evidence
        Gathered once, to be compared in several ways.
    """
    table = kit_encounters(logbook, trip_id, settings=settings)
    return Evidence(_used(known_kits(logbook), table), table, measured_by_kit(logbook, trip_id))


def with_record(
    logbook: Logbook, trip_id: int, settings: Settings | None = None
) -> tuple[Evidence, Evidence]:
    """A trip's frames, and the whole record of its kits and of the bare kits that they are compared with.

    Parameters
    ----------
    trip_id
        Of the trip.
    settings
        For `sitting_gap_h`; None for the default.

    Returns
    -------
    tuple[Evidence, Evidence]
        The trip, then the record.
    """
    known = known_kits(logbook)
    record = kit_encounters(logbook, settings=settings)
    table = of_trip(record, trip_id, settings)
    kits = _used(known, table)
    used = {kit.kit_id for kit in kits}
    bare = {lens.kit_id for kit in kits if (lens := bare_of(kit, _used(known, record))) is not None}
    with_bare = [kit for kit in known if kit.kit_id in used | bare]
    return (
        Evidence(kits, table, measured_by_kit(logbook, trip_id)),
        Evidence(with_bare, record, measured_by_kit(logbook), trip_id),
    )


def _used(kits: list[KitFacts], table: KitEncounters) -> list[KitFacts]:
    used = set(table.kit_id.tolist())
    return [kit for kit in kits if kit.kit_id in used]


def comparisons(gathered: Evidence, settings: Settings | None = None) -> list[Comparison]:
    """One row a kit that has a converter and a bare kit to be compared with, in order of kits.

    Parameters
    ----------
    gathered
        Of a trip, or of the whole record.

    Returns
    -------
    list[Comparison]
        With what optics expect of each.
    """
    from auditor.analysis.losses import losses, trip_part
    from auditor.statistics.matched import correct

    settings = settings or Settings()
    kits = [(kit, bare) for kit in gathered.kits if (bare := bare_of(kit, gathered.kits)) is not None]
    pairs = [
        _pair(gathered.kit_encounters, kit.kit_id, bare.kit_id, settings.least_fall) for kit, bare in kits
    ]
    total = correct([pair.total for pair in pairs])
    equal_shutter = correct([pair.at_equal_shutter for pair in pairs])
    answers = losses(gathered.kit_encounters, kits, settings.least_fall)
    told_at_shutter = losses(gathered.kit_encounters, kits, settings.least_fall, with_shutter=True)
    rows = []
    for number, ((kit, bare), pair) in enumerate(zip(kits, pairs, strict=True)):
        matched, deleted = _weakened(total[number], pair, settings.least_fall)
        check = _hits(matched, _not_adjusted_for(pair))
        hits = _from_record(answers[number], check, pair)
        answer = answers[number]
        resolved, got = _details(gathered.measured, kit.kit_id, bare.kit_id, settings.worth_gain)
        if answer is not None:
            gone = answer.deleted
            deleted = replace(deleted, turned=gone is not None and gone.turned)
        rows.append(
            Comparison(
                kit_id=kit.kit_id,
                kit_name=kit.kit_name,
                bare_kit_id=bare.kit_id,
                bare_kit_name=bare.kit_name,
                hits=hits,
                at_equal_shutter=_from_record(
                    told_at_shutter[number],
                    _hits(equal_shutter[number], _not_adjusted_for(pair)),
                    pair,
                    with_shutter=True,
                ),
                deleted=deleted,
                detail=resolved,
                detail_got=got,
                optics=expected(bare, kit.converter_factor or 1.0),
                matched=check,
                disagree=_disagree(hits, check),
                trip=None
                if gathered.trip_id is None
                else trip_part(gathered.kit_encounters, kit, bare, gathered.trip_id, settings.least_fall),
            )
        )
    return rows


def alternatives(gathered: Evidence) -> list[Alternative]:
    """Kits with a converter against bare kits on a smaller sensor that frame alike.

    Parameters
    ----------
    gathered
        Of a trip, or of the whole record.

    Returns
    -------
    list[Alternative]
        In order of kits; empty where no two frame alike.
    """
    from auditor.statistics.matched import compare

    rows = []
    for kit in gathered.kits:
        for other_kit in gathered.kits:
            if frame_alike(kit, other_kit):
                clusters = _clusters(
                    gathered.kit_encounters,
                    kit.kit_id,
                    other_kit.kit_id,
                    hits="framed_hits",
                    frames="framed_judged",
                )
                rows.append(
                    Alternative(
                        kit_id=kit.kit_id,
                        kit_name=kit.kit_name,
                        other_kit_id=other_kit.kit_id,
                        other_kit_name=other_kit.kit_name,
                        hits=_hits(compare(clusters)),
                        detail=_details(gathered.measured, kit.kit_id, other_kit.kit_id)[0],
                    )
                )
    return rows


def by_optics_alone(gathered: Evidence) -> dict[int, ExpectedGain]:
    """What optics expect of kits with a converter that were never used bare, by kit_id.

    Parameters
    ----------
    gathered
        Of a trip, or of the whole record.

    Returns
    -------
    dict[int, ExpectedGain]
        Kits of which the pixel or the f-number is not known are left out.
    """
    return {
        kit.kit_id: gain
        for kit in gathered.kits
        if kit.converted
        and bare_of(kit, gathered.kits) is None
        and (gain := expected(kit, kit.converter_factor or 1.0)) is not None
    }


def _hits(matched: Matched, not_adjusted_for: tuple[str, ...] = ()) -> HitsCompared:
    fields = asdict(matched) | {"outcome": FocusOutcome(matched.outcome)}
    return HitsCompared(**fields, not_adjusted_for=not_adjusted_for)


def _from_record(
    answer: Answer | None, check: HitsCompared, pair: _Pair, *, with_shutter: bool = False
) -> HitsCompared:
    """What the model tells, in the form of a comparison; the check alone where it cannot be fitted."""
    if answer is None:
        return check
    known = {
        "subject size": answer.distance_share > 0,
        "shutter": with_shutter,
        "activity": "activity" in pair.clusters_all.covariates,
    }
    left = {"subject size": "distance to the subject", "activity": "what the animal did"}
    return HitsCompared(
        difference=-answer.loss,
        low=-answer.high,
        high=-answer.low,
        p_value=answer.p_value,
        outcome=FocusOutcome(answer.word),
        clusters_bare=answer.encounters_bare,
        clusters_treated=answer.encounters,
        matched_share=check.matched_share,
        adjusted_for=("light", *(word for word, is_known in known.items() if is_known)),
        confidence=check.confidence,
        not_adjusted_for=(
            "the animal's own size",
            *(left[word] for word, is_known in known.items() if word in left and not is_known),
        ),
        answer=answer,
    )


def _disagree(hits: HitsCompared, check: HitsCompared) -> bool:
    """Whether two estimates of one record differ by more than their spreads allow.

    J. A. Hausman, Specification tests in econometrics, Econometrica 46 (1978): the variance of the
    difference is that of the less sure estimate less that of the surer (R); a quarter of its error is the
    least taken.
    """
    import math

    if hits.answer is None or hits.difference is None:
        return False
    if check.difference is None or check.low is None or check.high is None:
        return False
    error = (check.high - check.low) / (2 * 1.96)
    spread = math.sqrt(max(error**2 - hits.answer.error**2, (error / 4) ** 2))
    return bool(abs(hits.difference - check.difference) > 2.58 * spread)


class _Pair(NamedTuple):
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


def _pair(table: KitEncounters, kit_id: int, bare_id: int, least_fall: float) -> _Pair:
    from auditor.statistics.matched import FEWEST_CLUSTERS, LEAST_MATCHED_SHARE, compare

    whole = _clusters(table, kit_id, bare_id, hits="compared_hits", frames="compared")
    # Alike in as much as the frames allow; distance stays in the second opinion whatever they allow.
    for strata in (("subject_mrad", "activity"), ("subject_mrad",), ()):
        clusters = _only(whole, {*strata, "subject_mrad"})
        total = compare(clusters, strata=strata, least_fall=least_fall)
        enough = min(total.clusters_bare, total.clusters_treated) >= FEWEST_CLUSTERS
        if enough and total.matched_share >= LEAST_MATCHED_SHARE:
            break
    with_shutter = _only(whole, {*clusters.covariates, "exposure_time_s"})
    return _Pair(
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


def _not_adjusted_for(pair: _Pair) -> tuple[str, ...]:
    words = {"subject_mrad": "distance to the subject", "activity": "what the animal did"}
    return ("the animal's own size", *(word for name, word in words.items() if name not in pair.strata))


def _weakened(matched: Matched, pair: _Pair, least_fall: float) -> tuple[Matched, Deleted]:
    """The comparison, inconclusive where deleted frames could turn it; and what was deleted."""
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


def _clusters(table: KitEncounters, kit_id: int, bare_id: int, *, hits: str, frames: str) -> Clusters:
    from auditor.statistics.matched import Clusters

    rows = _rows(table, kit_id, bare_id, frames)
    covariates = {"exposure_time_s": np.log2(rows.exposure_time_s)}
    if len(rows) and not np.isnan(rows.metre_mrad).any():
        covariates["subject_mrad"] = np.log2(rows.metre_mrad)
    activity = activity_of(rows)
    if activity is not None:
        covariates["activity"] = np.unique(activity, return_inverse=True)[1].astype(float)
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


def _details(
    measured: dict[int, Measured], kit_id: int, bare_id: int, worth_gain: float | None = None
) -> tuple[DetailCompared, DetailCompared]:
    """What a kit resolves, and what was got over all its frames."""
    from auditor.statistics.detail import WORTH_GAIN, gain
    from auditor.statistics.resolved import resolved_gain

    kit, bare = (measured.get(number, Measured.nothing()) for number in (kit_id, bare_id))
    worth_gain = worth_gain or WORTH_GAIN
    got = gain(kit.blurs, bare.blurs, worth_gain=worth_gain)
    resolved = resolved_gain(kit.blurs, bare.blurs, worth_gain=worth_gain, over_all=got)

    def compared(gained: Gain) -> DetailCompared:
        fields = asdict(gained) | {"outcome": DetailOutcome(gained.outcome)}
        return DetailCompared(
            **fields, noise_on_subject=kit.noise_on_subject, noise_on_subject_bare=bare.noise_on_subject
        )

    return compared(resolved), compared(got)
