"""Each kit with a converter against the same body and lens bare: hits, and detail on the animal.

Also a kit with a converter against a smaller sensor that frames alike without one: what a photographer with
two bodies really chooses between."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, replace
from typing import TYPE_CHECKING, Any, NamedTuple

from auditor.analysis.detail import Measured, measured_by_kit
from auditor.analysis.kit_encounters import kit_encounters
from auditor.settings import Settings
from auditor.store.logbook import Logbook

if TYPE_CHECKING:
    import numpy as np
    import pandas as pd
    from numpy.typing import NDArray

    from auditor.statistics.matched import Clusters, Comparison

WELL_KEYWORDED = 0.95
"""Keywords tell what animals did only where nearly all frames have them: given to keepers alone, they would
tell hits from misses instead."""
ALIKE_VIEW = 0.12
"""Fields of view this close, as a share, frame alike."""
SMALLER_SENSOR = 1.15

_KITS = """
SELECT k.*, i.crop_factor, i.focal_length_mm, i.pixel_pitch_um, i.widest FROM kits AS k JOIN (
    SELECT kit_id, avg(crop_factor) AS crop_factor, avg(focal_length_mm) AS focal_length_mm,
           avg(pixel_pitch_um) AS pixel_pitch_um, min(lens_widest_f_number) AS widest
    FROM inferred WHERE NOT excluded GROUP BY kit_id) AS i USING (kit_id) ORDER BY k.kit_name
"""


class Evidence(NamedTuple):
    """What the frames of a trip, or of all, say: gathered once, compared in several ways."""

    kits: list[dict[str, Any]]
    kit_encounters: pd.DataFrame
    measured: dict[int, Measured]


def evidence(logbook: Logbook, trip_id: int | None = None) -> Evidence:
    """Gather a trip's frames, or all."""
    kits = [dict(row) for row in logbook.query(_KITS)]
    table = kit_encounters(logbook, trip_id)
    used = set(table["kit_id"])
    return Evidence([kit for kit in kits if kit["kit_id"] in used], table, measured_by_kit(logbook, trip_id))


def comparisons(found: Evidence, settings: Settings | None = None) -> list[dict[str, Any]]:
    """One row a kit that has a converter and a bare kit to be compared with.

    Keys: kit_id, kit_name, bare_kit_name; hits and at_equal_shutter, each with outcome, difference, low,
    high, p_value, clusters_bare, clusters_treated, matched_share, adjusted_for, not_adjusted_for; deleted
    (frames that may have been deleted in camera, and what they could turn); detail with gain, low, high,
    blur_urad, blur_bare_urad, outcome, scenes, scenes_bare, noise_on_subject, noise_on_subject_bare; optics
    (what a perfect converter would gain, by the optics alone). `hits` is the total cost of the converter;
    `at_equal_shutter` takes out what a faster shutter did."""
    from auditor.statistics.matched import correct

    settings = settings or Settings()
    kits = [(kit, bare) for kit in found.kits for bare in found.kits if _is_bare_of(bare, kit)]
    pairs = [
        _pair(found.kit_encounters, kit["kit_id"], bare["kit_id"], settings.least_fall) for kit, bare in kits
    ]
    total = correct([pair.total for pair in pairs])
    equal_shutter = correct([pair.at_equal_shutter for pair in pairs])
    rows = []
    for (kit, bare), pair, hits, at_shutter in zip(kits, pairs, total, equal_shutter, strict=True):
        hits, deleted = _weakened(hits, pair, settings.least_fall)
        rows.append(
            {
                "kit_id": kit["kit_id"],
                "kit_name": kit["kit_name"],
                "bare_kit_name": bare["kit_name"],
                "hits": asdict(hits) | {"not_adjusted_for": _not_adjusted_for(pair)},
                "at_equal_shutter": asdict(at_shutter) | {"not_adjusted_for": _not_adjusted_for(pair)},
                "deleted": deleted,
                "detail": _detail(found.measured, kit["kit_id"], bare["kit_id"], settings.worth_gain),
                "optics": optics(bare, kit["converter_factor"]),
            }
        )
    return rows


def alternatives(found: Evidence) -> list[dict[str, Any]]:
    """Kits with a converter against bare kits on a smaller sensor that frame alike.

    Keys: kit_name, other_kit_name, hits (as framed: fields of view are alike, so this is one angle too),
    detail. None of these carries a flag.
    """
    from auditor.statistics.matched import compare

    rows = []
    for kit in found.kits:
        for other in found.kits:
            if _frames_alike(kit, other):
                clusters = _clusters(
                    found.kit_encounters, kit["kit_id"], other["kit_id"], hits="hits", frames="judged"
                )
                rows.append(
                    {
                        "kit_name": kit["kit_name"],
                        "other_kit_name": other["kit_name"],
                        "hits": asdict(compare(clusters)),
                        "detail": _detail(found.measured, kit["kit_id"], other["kit_id"]),
                    }
                )
    return rows


def by_optics_alone(found: Evidence) -> dict[int, dict[str, float]]:
    """What optics expect of kits with a converter that were never used bare, by kit_id."""
    told = {}
    for kit in found.kits:
        if (kit["converter_factor"] or 1.0) > 1.0 and not any(_is_bare_of(bare, kit) for bare in found.kits):
            expected = optics(kit, kit["converter_factor"])
            if expected is not None:
                told[kit["kit_id"]] = expected
    return told


def optics(kit: dict[str, Any], converter_factor: float) -> dict[str, float] | None:
    """What a perfect converter would gain on this body: at most, with a very good lens, and with a soft one.

    The widest f-number is that of the bare lens, whichever of its kits is asked. Not from the photographer's
    record. None where pixel or f-number is not known.
    """
    from auditor.optics.resolution import EXCELLENT_LENS_UM, SOFT_LENS_UM, expected_gain

    if not kit["pixel_pitch_um"] or not kit["widest"]:
        return None
    return {
        "excellent_lens_um": EXCELLENT_LENS_UM,
        "soft_lens_um": SOFT_LENS_UM,
        "gain_excellent_lens": expected_gain(
            kit["widest"], kit["pixel_pitch_um"], converter_factor, EXCELLENT_LENS_UM
        ),
        "gain_soft_lens": expected_gain(kit["widest"], kit["pixel_pitch_um"], converter_factor, SOFT_LENS_UM),
    }


def _is_bare_of(bare: dict[str, Any], kit: dict[str, Any]) -> bool:
    same = ("body_make", "body_model", "body_serial", "lens_name")
    return (
        bare["converter_factor"] == 1.0
        and (kit["converter_factor"] or 1.0) > 1.0
        and kit["lens_name"] is not None
        and all(bare[name] == kit[name] for name in same)
    )


def _frames_alike(kit: dict[str, Any], other: dict[str, Any]) -> bool:
    if (kit["converter_factor"] or 1.0) <= 1.0 or other["converter_factor"] != 1.0:
        return False
    if not all(one[name] for one in (kit, other) for name in ("crop_factor", "focal_length_mm")):
        return False
    views = [one["crop_factor"] * one["focal_length_mm"] for one in (kit, other)]
    smaller = other["crop_factor"] >= SMALLER_SENSOR * kit["crop_factor"]
    return bool(smaller and abs(views[0] / views[1] - 1) <= ALIKE_VIEW)


class _Pair(NamedTuple):
    """Hits of a kit and of its bare kit, compared."""

    total: Comparison
    at_equal_shutter: Comparison
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


def _weakened(told: Comparison, pair: _Pair, least_fall: float) -> tuple[Comparison, dict[str, Any]]:
    """The comparison, inconclusive where deleted frames could turn it; and what was deleted."""
    import numpy as np

    from auditor.statistics.matched import compare, with_missed

    treated = pair.clusters.treated
    deleted: dict[str, Any] = {
        "frames": round(pair.deleted[treated].sum()),
        "frames_bare": round(pair.deleted[~treated].sum()),
        "difference_if_missed": None,
        "difference_if_missed_bare_only": None,
        "difference_if_missed_with_it_only": None,
        "turned": False,
    }
    if not pair.deleted.any():
        return told, deleted
    # Gaps of one kit alone may be misses, and those of the other another card: so each by itself too.
    cases = {
        "difference_if_missed": pair.deleted,
        "difference_if_missed_bare_only": np.where(treated, 0.0, pair.deleted),
        "difference_if_missed_with_it_only": np.where(treated, pair.deleted, 0.0),
    }
    for name, missed in cases.items():
        case = compare(with_missed(pair.clusters, missed), strata=pair.strata, least_fall=least_fall)
        deleted[name] = case.difference
        deleted["turned"] |= (
            told.outcome in ("fell", "no fall beyond 10 points") and case.outcome != told.outcome
        )
    return (replace(told, outcome="inconclusive") if deleted["turned"] else told), deleted


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
) -> dict[str, Any]:
    from auditor.statistics.detail import WORTH_GAIN, gain

    kit, bare = (measured.get(one, Measured.nothing()) for one in (kit_id, bare_id))
    return asdict(gain(kit.blurs, bare.blurs, worth_gain=worth_gain or WORTH_GAIN)) | {
        "noise_on_subject": kit.noise_on_subject,
        "noise_on_subject_bare": bare.noise_on_subject,
    }
