"""The kit table: what each kit got in focus, and what it cost in light."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from auditor.analysis.kit_encounters import KitEncounters, kit_encounters
from auditor.analysis.rates import hit_rate, icc_of_encounters
from auditor.settings import Settings
from auditor.store import encounter_sums, trip_numbers
from auditor.store.encounter_sums import KitFacts, known_kits
from auditor.store.logbook import Logbook
from auditor.words import NoRate


@dataclass(frozen=True, slots=True, kw_only=True)
class KitRow:
    """A row of the kit table. Counts are frames; shares run from 0 to 1; None where nothing tells."""

    kit_id: int
    kit_name: str
    converter_factor: float | None
    frames: int
    scenes: int
    encounters: int
    """Those that hold judged frames."""
    judged: int
    """Frames that hit or missed by one angle for all kits; as framed, magnification would count against
    them."""
    hits: int
    unclear: int
    measured: int
    """Frames that their pixels decided."""
    silent: int
    manual: int
    hit_rate: float | None
    hit_rate_low: float | None
    """95 % interval, clustered by encounter."""
    hit_rate_high: float | None
    hit_rate_frames: int | None
    """Those that the rate is of: they have a time, and each counts by how likely it is a hit."""
    hit_rate_missing: NoRate | None
    hit_rate_if_unclear_missed: float | None
    """Bounds: all unclear frames misses, or all hits."""
    hit_rate_if_unclear_hit: float | None
    deleted: int
    """Frames that gaps in the file numbers leave room for."""
    hit_rate_if_deleted_missed: float | None
    median_iso: float | None
    lower_iso: float | None
    """Quartiles."""
    upper_iso: float | None
    median_iso_without_converter: float | None
    """What the bare lens would have needed at the same shutter speed, at most."""
    median_forced_push_ev: float | None
    median_light_value_ev: float | None
    auto_iso_at_limit_frames: int
    """Frames in which ISO would have gone higher: their cost is "at least"."""
    iso_pushed_frames: int
    """Frames over the ISO ceiling that the bare lens would have kept under it."""
    iso_pushed_share: float | None
    near_reciprocal_frames: int
    """Frames whose shutter was near 1 / focal length."""
    shutter_for_reach_ev: float | None
    """Stops of shutter speed that the longer reach then asked for."""
    median_exposure_time_s: float | None = None
    shutter_gave_way: bool = False
    """Whether ISO was set by hand in most frames: what a converter takes, the shutter then pays."""
    numbers_of_several: bool = False
    """Whether file numbers run back and forth, as of several bodies: `deleted` is 0, and tells nothing."""
    unmetered_frames: int = 0
    """Frames exposed by hand, whose light nothing tells: they enter no comparison."""
    finest_crop: float | None = None
    """The closest crop that could be asked for, where the one that was is too close for a rate."""

    @property
    def converted(self) -> bool:
        """Whether a converter was on."""
        return (self.converter_factor or 1.0) > 1.0


def kit_table(
    logbook: Logbook,
    trip_id: int | None = None,
    *,
    gathered: KitEncounters | None = None,
    kits: Sequence[KitFacts] | None = None,
    settings: Settings | None = None,
) -> list[KitRow]:
    """One row a kit, of one trip or of all, in order of names.

    Parameters
    ----------
    trip_id
        None for all trips.
    gathered
        The rows of `kit_encounters` where they were made already.
    kits
        What is known of the kits, where that was asked already.
    settings
        For `sitting_gap_h` where they were not; None for the default.

    Returns
    -------
    list[KitRow]
        Without figures, but with a reason, where a kit has too few encounters.
    """
    table = kit_encounters(logbook, trip_id, settings=settings) if gathered is None else gathered
    if not len(table):
        return []
    light = _light_of_kits(logbook, trip_id)
    at_limit = encounter_sums.frames_at_iso_limit(logbook, trip_id)
    rated = (table.weighed > 0) & (table.encounter_id > 0)
    icc = icc_of_encounters(logbook) if rated.any() else None
    rows = []
    for kit in known_kits(logbook) if kits is None else kits:
        group = table.only(table.kit_id == kit.kit_id)
        if not len(group):
            continue
        clusters = group.only((group.weighed > 0) & (group.encounter_id > 0))
        total = {name: round(getattr(group, name).sum()) for name in _SUMMED}
        decided, hits = total["judged"] + total["unclear"], total["hits"]
        rows.append(
            KitRow(
                kit_id=kit.kit_id,
                kit_name=kit.kit_name,
                converter_factor=kit.converter_factor,
                frames=total["frames"],
                scenes=int((group.encounter_id > 0).sum()),
                encounters=len(clusters),
                judged=total["judged"],
                hits=hits,
                unclear=total["unclear"],
                measured=total["measured"],
                silent=total["silent"],
                manual=total["manual"],
                deleted=total["deleted"],
                numbers_of_several=bool((group.back_and_forth & ~group.kept_elsewhere).any()),
                **_hit_rate(clusters, icc, total["judged"], converter_known=kit.converter_factor is not None),
                hit_rate_if_unclear_missed=_share(hits, decided),
                hit_rate_if_unclear_hit=_share(hits + total["unclear"], decided),
                hit_rate_if_deleted_missed=_with_deleted(group, total["deleted"]),
                **light[kit.kit_id],
                auto_iso_at_limit_frames=at_limit.get(kit.kit_id, 0),
                iso_pushed_frames=total["iso_pushed"],
                iso_pushed_share=_share(total["iso_pushed"], total["frames"]),
                near_reciprocal_frames=total["near_reciprocal"],
                unmetered_frames=total["unmetered"],
                shutter_for_reach_ev=math.log2(kit.converter_factor)
                if total["near_reciprocal"] and kit.converter_factor
                else None,
            )
        )
    return rows


_SUMMED = (
    "frames", "judged", "hits", "unclear", "measured", "silent", "manual", "iso_pushed",
    "near_reciprocal", "deleted", "unmetered",
)  # fmt: skip


def _light_of_kits(logbook: Logbook, trip_id: int | None) -> dict[int, dict[str, Any]]:
    """Medians and quartiles a kit; None where no frame tells."""
    import numpy as np

    columns = trip_numbers.light(logbook, trip_id).T
    kits = columns[0].astype(np.int64)
    light = {}
    for kit_id in np.flatnonzero(np.bincount(kits)).tolist():
        _kit, iso, without_converter, push_ev, light_value_ev, auto_iso, exposure_time_s = columns[
            :, np.flatnonzero(kits == kit_id)
        ]
        lower_iso, median_iso, upper_iso = _quantiles(iso, (0.25, 0.5, 0.75))
        light[kit_id] = {
            "median_iso": median_iso,
            "lower_iso": lower_iso,
            "upper_iso": upper_iso,
            "median_iso_without_converter": _median(without_converter),
            "median_forced_push_ev": _median(push_ev),
            "median_light_value_ev": _median(light_value_ev),
            "median_exposure_time_s": _median(exposure_time_s),
            "shutter_gave_way": bool((_median(auto_iso) or 0.0) < 0.5 and (auto_iso == 0).any()),
        }
    return light


def _quantiles(values: Any, shares: tuple[float, ...]) -> list[float | None]:
    import numpy as np

    known = values[~np.isnan(values)]
    return [float(each) for each in np.quantile(known, shares)] if len(known) else [None] * len(shares)


def _median(values: Any) -> float | None:
    return _quantiles(values, (0.5,))[0]


def _share(part: float, whole: float) -> float | None:
    return part / whole if whole else None


def _with_deleted(group: KitEncounters, deleted: int) -> float | None:
    """The rate if the frames that were deleted had missed; each frame by what its probability tells."""
    told, weighed = float(group.told.sum()), float(group.weighed.sum())
    if not told:
        return None
    hits = min(told, max(0.0, float((group.likely_hits - group.base).sum())))
    return hits / (told * (1 + deleted / weighed))


def _hit_rate(
    clusters: KitEncounters, icc: float | None, judged: int, *, converter_known: bool
) -> dict[str, Any]:
    rate = hit_rate(
        clusters.likely_hits, clusters.weighed, clusters.sitting, clusters.base, clusters.told, icc=icc
    )
    if rate is None:
        undecided = NoRate.NOTHING_DECIDED if converter_known else NoRate.CONVERTER_UNKNOWN
        missing = NoRate.NO_TIME if judged else undecided
        return {
            "hit_rate": None,
            "hit_rate_low": None,
            "hit_rate_high": None,
            "hit_rate_frames": None,
            "hit_rate_missing": NoRate.TOO_FEW_ENCOUNTERS if len(clusters) else missing,
        }
    return {
        "hit_rate": rate.estimate,
        "hit_rate_low": rate.low,
        "hit_rate_high": rate.high,
        "hit_rate_frames": rate.frames,
        "hit_rate_missing": None,
    }
