"""A crop whose criterion of sharpness is finer than pixels can tell: rates are then refused.

Of such frames only those that are surely missed are decided, and those that may be sharp are unclear: a
rate of the decided ones would be 0 % whatever the frames are like.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np

from auditor.analysis.comparisons import Evidence
from auditor.analysis.kit_table import KitRow
from auditor.frames.verdicts import FINEST_TOLD_PX
from auditor.optics.sensor import criterion_sigma_px
from auditor.store.encounter_sums import KitFacts
from auditor.words import NoRate

_DECIDED = (
    "judged", "hits", "weighed", "likely_hits", "base", "told", "framed_judged", "framed_hits", "compared",
    "compared_hits", "compared_base", "compared_told",
)  # fmt: skip


def finest_crop(kit: KitFacts) -> float | None:
    """The closest crop at which this body's pixels tell sharp from unsharp, to a tenth; None if not known.

    Parameters
    ----------
    kit
        With its sensor.

    Returns
    -------
    float or None
        A factor, 1 for the whole frame.
    """
    if kit.sensor_diagonal_mm is None or kit.pixel_pitch_um is None:
        return None
    uncropped_px = criterion_sigma_px(kit.sensor_diagonal_mm, kit.pixel_pitch_um)
    return math.floor(10 * uncropped_px / FINEST_TOLD_PX) / 10


def too_fine(kits: Iterable[KitFacts], crop: float) -> dict[int, float]:
    """The finest crop of each kit for which `crop` is too close, by kit_id.

    Parameters
    ----------
    kits
        With their sensors.
    crop
        The crop that the photographer means to make.

    Returns
    -------
    dict[int, float]
        Empty where every kit can be judged.
    """
    finest = {kit.kit_id: finest_crop(kit) for kit in kits}
    return {kit_id: closest for kit_id, closest in finest.items() if closest is not None and crop > closest}


def answerable(gathered: Evidence, crop: float) -> Evidence:
    """The evidence in which frames that the crop is too close for are unclear, whether decided or not.

    Parameters
    ----------
    gathered
        Of a trip, or of the whole record.
    crop
        The crop that the photographer means to make.

    Returns
    -------
    Evidence
        `gathered` itself where every kit can be judged.
    """
    table = gathered.kit_encounters
    refused = table.of_kits(too_fine([*gathered.kits, *gathered.others], crop))
    if not refused.any():
        return gathered
    changed: dict[str, Any] = {name: np.where(refused, 0, getattr(table, name)) for name in _DECIDED}
    changed["unclear"] = table.unclear + np.where(refused, table.judged, 0)
    return gathered._replace(kit_encounters=replace(table, **changed))


def with_reasons(rows: Sequence[KitRow], finest: dict[int, float]) -> list[KitRow]:
    """The rows of the kit table, those that were refused with their reason and the finest crop.

    Parameters
    ----------
    rows
        Of the kit table.
    finest
        As `too_fine` gives it.

    Returns
    -------
    list[KitRow]
        In the same order.
    """
    return [
        replace(row, hit_rate_missing=NoRate.CRITERION_TOO_FINE, finest_crop=finest[row.kit_id])
        if row.kit_id in finest
        else row
        for row in rows
    ]
