"""Each kit with a converter against the same body and lens bare: hits, and detail on the animal.

Also a kit with a converter against a smaller sensor that frames alike without one: what a photographer with
two bodies really chooses between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

from auditor.analysis.detail import Measured, measured_by_kit
from auditor.analysis.kit_encounters import kit_encounters
from auditor.analysis.kits import KitFacts, bare_of, frame_alike, known_kits
from auditor.analysis.optics import ExpectedGain, expected
from auditor.settings import Settings
from auditor.store.logbook import Logbook
from auditor.words import DetailOutcome, FocusOutcome

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

    from auditor.statistics.matched import Clusters
    from auditor.statistics.matched import Comparison as Matched

WELL_KEYWORDED = 0.95
"""Keywords tell what animals did only where nearly all frames have them: given to keepers alone, they would
tell hits from misses instead."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HitsCompared:
    """Shares of hits of two kits in like conditions, this one minus the other (0.1 is ten points more)."""

    difference: float | None
    """None where no encounters of the two are alike."""
    low: float | None
    high: float | None
    p_value: float | None
    """One-sided, against a fall; the larger one of two opinions."""
    outcome: FocusOutcome
    clusters_bare: int
    """Encounters of the other kit that are like some of this one's."""
    clusters_treated: int
    matched_share: float
    """Share of this kit's frames in encounters that are like some of the other's, 0 to 1."""
    adjusted_for: tuple[str, ...]
    confidence: float
    not_adjusted_for: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Deleted:
    """Frames that may have been deleted in camera, and what they could turn."""

    frames: int
    frames_bare: int
    difference_if_missed: float | None = None
    """The difference in shares of hits had all of them been misses; None where none were deleted."""
    difference_if_missed_bare_only: float | None = None
    difference_if_missed_with_it_only: float | None = None
    turned: bool = False
    """Whether the outcome would be another had they been misses: it is then inconclusive."""


@dataclass(frozen=True, slots=True, kw_only=True)
class DetailCompared:
    """How much finer the blur of this kit is: 0.1 is a tenth finer, negative coarser."""

    gain: float | None
    low: float | None
    high: float | None
    blur_urad: float | None
    """Lower quartile over all measured frames, scenes weighted equally, in microradians."""
    blur_bare_urad: float | None
    """The same of the other kit, weighted to the light of this one's where `alike_in_light`."""
    outcome: DetailOutcome
    scenes: int
    scenes_bare: int
    encounters: int
    encounters_bare: int
    alike_in_light: bool
    noise_on_subject: float | None
    """Of a patch of 100 microradians a side, in levels of luma (0 to 255)."""
    noise_on_subject_bare: float | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """A kit with a converter against the same body and lens bare."""

    kit_id: int
    kit_name: str
    bare_kit_id: int
    bare_kit_name: str
    hits: HitsCompared
    """The total cost of the converter."""
    at_equal_shutter: HitsCompared
    """Its cost without what a faster shutter did."""
    deleted: Deleted
    detail: DetailCompared
    optics: ExpectedGain | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Alternative:
    """A kit with a converter against a bare lens on a smaller sensor that frames alike; never a flag."""

    kit_id: int
    kit_name: str
    other_kit_id: int
    other_kit_name: str
    hits: HitsCompared
    """As framed: fields of view are alike, so this is one angle too."""
    detail: DetailCompared


class Evidence(NamedTuple):
    """What the frames of a trip, or of all, say: gathered once, compared in several ways."""

    kits: list[KitFacts]
    kit_encounters: pd.DataFrame
    measured: dict[int, Measured]


def evidence(logbook: Logbook, trip_id: int | None = None) -> Evidence:
    """Gather a trip's frames, or all."""
    table = kit_encounters(logbook, trip_id)
    used = set(table["kit_id"])
    kits = [kit for kit in known_kits(logbook) if kit.kit_id in used]
    return Evidence(kits, table, measured_by_kit(logbook, trip_id))


def comparisons(found: Evidence, settings: Settings | None = None) -> list[Comparison]:
    """One row a kit that has a converter and a bare kit to be compared with, in order of kits."""
    from auditor.statistics.matched import correct

    settings = settings or Settings()
    kits = [(kit, bare) for kit in found.kits if (bare := bare_of(kit, found.kits)) is not None]
    pairs = [_pair(found.kit_encounters, kit.kit_id, bare.kit_id, settings.least_fall) for kit, bare in kits]
    total = correct([pair.total for pair in pairs])
    equal_shutter = correct([pair.at_equal_shutter for pair in pairs])
    rows = []
    for (kit, bare), pair, hits, at_shutter in zip(kits, pairs, total, equal_shutter, strict=True):
        hits, deleted = _weakened(hits, pair, settings.least_fall)
        rows.append(
            Comparison(
                kit_id=kit.kit_id,
                kit_name=kit.kit_name,
                bare_kit_id=bare.kit_id,
                bare_kit_name=bare.kit_name,
                hits=_hits(hits, _not_adjusted_for(pair)),
                at_equal_shutter=_hits(at_shutter, _not_adjusted_for(pair)),
                deleted=deleted,
                detail=_detail(found.measured, kit.kit_id, bare.kit_id, settings.worth_gain),
                optics=expected(bare, kit.converter_factor or 1.0),
            )
        )
    return rows


def alternatives(found: Evidence) -> list[Alternative]:
    """Kits with a converter against bare kits on a smaller sensor that frame alike."""
    from auditor.statistics.matched import compare

    rows = []
    for kit in found.kits:
        for other in found.kits:
            if frame_alike(kit, other):
                clusters = _clusters(
                    found.kit_encounters, kit.kit_id, other.kit_id, hits="hits", frames="judged"
                )
                rows.append(
                    Alternative(
                        kit_id=kit.kit_id,
                        kit_name=kit.kit_name,
                        other_kit_id=other.kit_id,
                        other_kit_name=other.kit_name,
                        hits=_hits(compare(clusters)),
                        detail=_detail(found.measured, kit.kit_id, other.kit_id),
                    )
                )
    return rows


def by_optics_alone(found: Evidence) -> dict[int, ExpectedGain]:
    """What optics expect of kits with a converter that were never used bare, by kit_id."""
    return {
        kit.kit_id: gain
        for kit in found.kits
        if kit.converted
        and bare_of(kit, found.kits) is None
        and (gain := expected(kit, kit.converter_factor or 1.0)) is not None
    }


def _hits(matched: Matched, not_adjusted_for: tuple[str, ...] = ()) -> HitsCompared:
    fields = asdict(matched) | {"outcome": FocusOutcome(matched.outcome)}
    return HitsCompared(**fields, not_adjusted_for=not_adjusted_for)


class _Pair(NamedTuple):
    """Hits of a kit and of its bare kit, compared."""

    total: Matched
    at_equal_shutter: Matched
    clusters: Clusters
    """As `total` was made of."""
    strata: tuple[str, ...]
    """What rows were matched by, besides light."""
    deleted: NDArray[np.float64]
    """Frames that may have been deleted, one entry a row of `clusters`."""


def _pair(table: pd.DataFrame, kit_id: int, bare_id: int, least_fall: float) -> _Pair:
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
        strata=tuple(name for name in strata if name in whole.covariates),
        deleted=_rows(table, kit_id, bare_id, "compared")["deleted"].to_numpy(dtype=float),
    )


def _only(clusters: Clusters, names: set[str]) -> Clusters:
    kept = {name: values for name, values in clusters.covariates.items() if name in names}
    return replace(clusters, covariates=kept)


def _not_adjusted_for(pair: _Pair) -> tuple[str, ...]:
    words = {"subject_mrad": "distance to the subject", "activity": "what the animal did"}
    return ("the animal's own size", *(word for name, word in words.items() if name not in pair.strata))


def _weakened(told: Matched, pair: _Pair, least_fall: float) -> tuple[Matched, Deleted]:
    """The comparison, inconclusive where deleted frames could turn it; and what was deleted."""
    import numpy as np

    from auditor.statistics.matched import compare, with_missed

    treated = pair.clusters.treated
    deleted = Deleted(
        frames=round(pair.deleted[treated].sum()), frames_bare=round(pair.deleted[~treated].sum())
    )
    if not pair.deleted.any():
        return told, deleted
    # Gaps of one kit alone may be misses, and those of the other another card: so each by itself too.
    cases = [
        compare(with_missed(pair.clusters, missed), strata=pair.strata, least_fall=least_fall)
        for missed in (
            pair.deleted,
            np.where(treated, 0.0, pair.deleted),
            np.where(treated, pair.deleted, 0.0),
        )
    ]
    settled = told.outcome in (FocusOutcome.FELL, FocusOutcome.NO_FALL)
    turned = settled and any(case.outcome != told.outcome for case in cases)
    both, bare_only, with_it_only = (case.difference for case in cases)
    deleted = replace(
        deleted,
        difference_if_missed=both,
        difference_if_missed_bare_only=bare_only,
        difference_if_missed_with_it_only=with_it_only,
        turned=turned,
    )
    return (replace(told, outcome="inconclusive") if turned else told), deleted


def _rows(table: pd.DataFrame, kit_id: int, bare_id: int, frames: str) -> pd.DataFrame:
    own = table["kit_id"].isin((kit_id, bare_id))
    return table[own & (table[frames] > 0) & table["encounter_id"].notna() & table["light_ev"].notna()]


def _clusters(table: pd.DataFrame, kit_id: int, bare_id: int, *, hits: str, frames: str) -> Clusters:
    import numpy as np

    from auditor.statistics.matched import Clusters

    rows = _rows(table, kit_id, bare_id, frames)
    covariates = {"exposure_time_s": np.log2(rows["exposure_time_s"].to_numpy(dtype=float))}
    if len(rows) and rows["metre_mrad"].notna().all():
        covariates["subject_mrad"] = np.log2(rows["metre_mrad"].to_numpy(dtype=float))
    activity = _activity(rows)
    if activity is not None:
        covariates["activity"] = np.unique(activity, return_inverse=True)[1].astype(float)
    return Clusters(
        cluster=np.unique(rows["encounter_id"].to_numpy(dtype=np.int64), return_inverse=True)[1].astype(
            np.int64
        ),
        treated=(rows["kit_id"] == kit_id).to_numpy(dtype=np.bool_),
        hits=rows[hits].to_numpy(dtype=float),
        frames=rows[frames].to_numpy(dtype=float),
        light_ev=rows["light_ev"].to_numpy(dtype=float),
        covariates=covariates,
    )


def _activity(rows: pd.DataFrame) -> Sequence[str] | None:
    """What animals did, a word an arm: by keywords, else by focus area and drive mode; None where not
    known."""
    if len(rows) and rows["keyworded"].sum() >= WELL_KEYWORDED * rows["compared"].sum():
        return [str(value) for value in rows["activity_by_keywords"]]
    if len(rows) and rows["activity_by_mode"].notna().all():
        return [str(value) for value in rows["activity_by_mode"]]
    return None


def _detail(
    measured: dict[int, Measured], kit_id: int, bare_id: int, worth_gain: float | None = None
) -> DetailCompared:
    from auditor.statistics.detail import WORTH_GAIN, gain

    kit, bare = (measured.get(number, Measured.nothing()) for number in (kit_id, bare_id))
    found = gain(kit.blurs, bare.blurs, worth_gain=worth_gain or WORTH_GAIN)
    fields = asdict(found) | {"outcome": DetailOutcome(found.outcome)}
    return DetailCompared(
        **fields, noise_on_subject=kit.noise_on_subject, noise_on_subject_bare=bare.noise_on_subject
    )
