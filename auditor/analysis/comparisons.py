"""Each kit with a converter against the same body and lens bare: hits, and detail on the animal.

Also a kit with a converter against a smaller sensor that frames alike without one: what a photographer with
two bodies really chooses between."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import TYPE_CHECKING, NamedTuple

from auditor.analysis.compared import Alternative, Comparison, DetailCompared, HitsCompared
from auditor.analysis.detail import Measured, measured_by_kit
from auditor.analysis.kit_encounters import KitEncounters, kit_encounters, of_trip
from auditor.analysis.kits import bare_of, frame_alike
from auditor.analysis.matched_pair import Pair, clusters_of, matched_pair, weakened
from auditor.analysis.optics import ExpectedGain, expected
from auditor.settings import Settings
from auditor.store.encounter_sums import KitFacts, known_kits
from auditor.store.logbook import Logbook
from auditor.words import DetailOutcome, FocusOutcome

if TYPE_CHECKING:
    from auditor.statistics.answer import Answer
    from auditor.statistics.detail import Gain
    from auditor.statistics.matched import Comparison as Matched


class Evidence(NamedTuple):
    """What the frames of a trip, or of all, say: gathered once, compared in several ways."""

    kits: list[KitFacts]
    kit_encounters: KitEncounters
    measured: dict[int, Measured]
    trip_id: int | None = None
    """The trip that is looked at, where the record is larger."""
    others: tuple[KitFacts, ...] = ()
    """Kits of the record that are not looked at: they move what is most likely of those that are."""


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
    ever_used = _used(known, record)
    used = {kit.kit_id for kit in kits}
    bare = {lens.kit_id for kit in kits if (lens := bare_of(kit, ever_used)) is not None}
    with_bare = [kit for kit in known if kit.kit_id in used | bare]
    others = tuple(kit for kit in ever_used if kit.kit_id not in used | bare)
    return (
        Evidence(kits, table, measured_by_kit(logbook, trip_id)),
        Evidence(with_bare, record, measured_by_kit(logbook), trip_id, others),
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
    from auditor.analysis.losses import arms_of, compared_rows, losses, trip_part
    from auditor.statistics.matched import correct

    settings = settings or Settings()
    every = sorted([*gathered.kits, *gathered.others], key=lambda kit: kit.kit_name)
    kits = [(kit, bare) for kit in every if (bare := bare_of(kit, every)) is not None]
    own = {kit.kit_id for kit in gathered.kits}
    with_it = [kit for kit, _bare in kits]
    pairs, arms = [], []
    for kit, bare in kits:
        own_rows = compared_rows(gathered.kit_encounters, kit.kit_id, bare.kit_id)
        pairs.append(matched_pair(own_rows, kit.kit_id, bare.kit_id, settings.least_fall))
        arms.append(arms_of(own_rows, kit.kit_id, bare.kit_id, with_shutter=True))
    total = correct([pair.total for pair in pairs])
    equal_shutter = correct([pair.at_equal_shutter for pair in pairs])
    told_at_shutter = losses(with_it, arms, settings.least_fall)
    arms = [replace(kit_arms, shutter_log2=None) for kit_arms in arms]
    answers = losses(with_it, arms, settings.least_fall)
    rows = []
    for number, ((kit, bare), pair) in enumerate(zip(kits, pairs, strict=True)):
        if kit.kit_id not in own:
            continue
        matched, deleted = weakened(total[number], pair, settings.least_fall)
        check = _hits(matched, pair.not_adjusted_for)
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
                    _hits(equal_shutter[number], pair.not_adjusted_for),
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
                else trip_part(kit, arms[number], gathered.trip_id, settings.least_fall),
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
                clusters = clusters_of(
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
    answer: Answer | None, check: HitsCompared, pair: Pair, *, with_shutter: bool = False
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


def _details(
    measured: dict[int, Measured], kit_id: int, bare_id: int, worth_gain: float | None = None
) -> tuple[DetailCompared, DetailCompared]:
    """What a kit resolves, and what was got over all its frames."""
    from auditor.statistics.detail import WORTH_GAIN, TwoKits, gain
    from auditor.statistics.resolved import resolved_gain

    kit, bare = (measured.get(number, Measured.nothing()) for number in (kit_id, bare_id))
    worth_gain = worth_gain or WORTH_GAIN
    both = TwoKits(kit.blurs, bare.blurs)
    got = gain(kit.blurs, bare.blurs, worth_gain=worth_gain, both=both)
    resolved = resolved_gain(kit.blurs, bare.blurs, worth_gain=worth_gain, over_all=got, both=both)

    def compared(gained: Gain) -> DetailCompared:
        fields = asdict(gained) | {"outcome": DetailOutcome(gained.outcome)}
        return DetailCompared(
            **fields, noise_on_subject=kit.noise_on_subject, noise_on_subject_bare=bare.noise_on_subject
        )

    return compared(resolved), compared(got)
