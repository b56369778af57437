"""Hits that a converter costs, from the whole record: the rows for the model, and what a trip added."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from auditor.statistics.answer import Answer, answers, likely_losses
from auditor.statistics.hit_model import Arms
from auditor.statistics.likely_loss import Kit, Likely
from auditor.store.encounter_sums import KitFacts

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from auditor.analysis.kit_encounters import KitEncounters

WELL_KEYWORDED = 0.95
"""Keywords tell what animals did only where nearly all frames have them: given to keepers alone, they would
tell hits from misses instead."""
DIFFERS = 2.58
"""Standard errors from which a trip differs from the rest of the record: one in a hundred."""


@dataclass(frozen=True, slots=True, kw_only=True)
class TripPart:
    """What one trip added to the answer of the whole record."""

    encounters: int
    encounters_bare: int
    encounters_both: int
    loss: float | None
    """What this trip alone shows, as a share; None where it can show nothing."""
    most_likely_before: float | None
    """The most likely loss without this trip; None where there was nothing else."""
    differs: bool
    """Whether this trip differs from the rest of the record beyond chance."""


def compared_rows(table: KitEncounters, kit_id: int, bare_id: int) -> KitEncounters:
    """The rows of a kit and its bare kit that can be compared: encounters whose light is known.

    Parameters
    ----------
    table
        As `kit_encounters` gathered it.
    kit_id, bare_id
        The kit and its bare kit.

    Returns
    -------
    KitEncounters
        In the order of `table`.
    """
    in_light = (table.compared > 0) & (table.encounter_id > 0) & ~np.isnan(table.light_ev)
    return table.only(table.of_kits((kit_id, bare_id)) & in_light)


def arms_of(table: KitEncounters, kit_id: int, bare_id: int, *, with_shutter: bool = False) -> Arms:
    """The rows of a kit and its bare kit that can be compared, as the model wants them.

    Parameters
    ----------
    table
        As `kit_encounters` gathered it, or `compared_rows` of it.
    kit_id, bare_id
        The kit and its bare kit.
    with_shutter
        Whether the exposure time is held alike, too: it is partly a consequence of the converter.

    Returns
    -------
    Arms
        One row a kit in an encounter whose light is known.
    """
    rows = compared_rows(table, kit_id, bare_id)
    return Arms(
        trip=rows.trip_id,
        sitting=rows.sitting,
        encounter=rows.encounter_id,
        treated=rows.kit_id == kit_id,
        # A frame is worth as much as its probability tells: see `statistics.telling`.
        hits=rows.compared_hits - rows.compared_base,
        frames=rows.compared_told,
        light_ev=rows.light_ev,
        distance_log2=-np.log2(rows.metre_mrad / 1000),
        shutter_log2=np.log2(rows.exposure_time_s) if with_shutter else None,
        activity=activity_of(rows),
        deleted=rows.deleted * rows.compared_told / rows.compared,
    )


def activity_of(rows: KitEncounters) -> NDArray[np.int64] | None:
    """What animals did, by number: told by keywords, else by focus area and drive mode; None if not known.

    Parameters
    ----------
    rows
        Of the kits that are compared.

    Returns
    -------
    NDArray[np.int64] or None
        Shape (rows,): from 0, in the order of the alphabet.
    """
    if not len(rows):
        return None
    if rows.keyworded.sum() >= WELL_KEYWORDED * rows.compared.sum():
        return rows.activity_by_keywords.numbered
    by_mode = rows.activity_by_mode
    return None if by_mode.are([name is None for name in by_mode.names]).any() else by_mode.numbered


def losses(kits: Sequence[KitFacts], arms: Sequence[Arms], least_fall: float) -> list[Answer | None]:
    """The answer on the hits of each kit against its bare kit.

    Parameters
    ----------
    kits, arms
        Each kit, and what `arms_of` told of it and its bare kit.
    least_fall
        A loss under this share is of no account.

    Returns
    -------
    list[Answer or None]
        In the order of `kits`; None where nothing can be fitted.
    """
    return answers(_paired(kits, arms), least_fall=least_fall)


def most_likely_losses(kits: Sequence[KitFacts], arms: Sequence[Arms]) -> list[Likely | None]:
    """What the loss of each kit most likely is, as `losses` tells it, without all else that it tells.

    Parameters
    ----------
    kits, arms
        Each kit, and what `arms_of` told of it and its bare kit.

    Returns
    -------
    list[Likely or None]
        In the order of `kits`; None where nothing can be fitted.
    """
    return likely_losses(_paired(kits, arms))


def _paired(kits: Sequence[KitFacts], arms: Sequence[Arms]) -> list[tuple[Kit, Arms]]:
    return [(_kit(kit), kit_arms) for kit, kit_arms in zip(kits, arms, strict=True)]


def trip_part(kit: KitFacts, arms: Arms, trip_id: int, least_fall: float) -> TripPart | None:
    """What a trip added on a kit; None where the trip has no frames of it that can be compared.

    Parameters
    ----------
    kit, arms
        The kit, and what `arms_of` told of it and its bare kit, of all trips.
    trip_id
        Of the trip.
    least_fall
        A loss under this share is of no account.

    Returns
    -------
    TripPart or None
        Its encounters, and the answer with and without them.
    """
    inside = arms.trip == trip_id
    trip_arms = arms.only(inside)
    if not trip_arms.treated.any():
        return None
    with_it, bare_ones = (
        np.unique(trip_arms.encounter[chosen]) for chosen in (trip_arms.treated, ~trip_arms.treated)
    )
    (alone,) = answers([(_kit(kit), trip_arms)], least_fall=least_fall)
    (before,) = answers([(_kit(kit), arms.only(~inside))], least_fall=least_fall)
    differs = (
        alone is not None
        and before is not None
        and abs(alone.loss - before.loss) > DIFFERS * float(np.hypot(alone.error, before.error))
    )
    return TripPart(
        encounters=len(with_it),
        encounters_bare=len(bare_ones),
        encounters_both=len(np.intersect1d(with_it, bare_ones)),
        loss=None if alone is None else alone.loss,
        most_likely_before=None if before is None else before.likely.loss,
        differs=differs,
    )


def sittings(
    first_at: NDArray[np.datetime64], last_at: NDArray[np.datetime64], gap_h: float
) -> NDArray[np.int64]:
    """A number for the sitting that each encounter lies in, from 1; 0 for frames without a time.

    Parameters
    ----------
    first_at, last_at
        When each began and ended, NaT without a time, shape (encounters,).
    gap_h
        A longer pause starts a new sitting, as a new day does.

    Returns
    -------
    NDArray[np.int64]
        Shape (encounters,).
    """
    order = np.argsort(first_at, kind="stable")
    first, last = first_at[order], np.maximum.accumulate(last_at[order])
    new = np.ones(len(order), dtype=bool)
    apart = first[1:] - last[:-1] > np.timedelta64(round(3600 * gap_h), "s")
    new[1:] = apart | (first[1:].astype("datetime64[D]") != first[:-1].astype("datetime64[D]"))
    sitting = np.zeros(len(order), dtype=np.int64)
    sitting[order] = np.cumsum(new)
    return np.where(np.isnat(first_at), 0, sitting)


def of_encounters(sitting: NDArray[np.int64], encounter_id: NDArray[np.int64]) -> NDArray[np.int64]:
    """Sittings of rows with all kits of an encounter in one, the first that any of them is in.

    Midnight may lie between them, and two bodies may tell the time of one moment in two zones.

    Parameters
    ----------
    sitting
        As `sittings` numbers rows.
    encounter_id
        Of each row; 0 for rows that are in none.

    Returns
    -------
    NDArray[np.int64]
        Shape (rows,).
    """
    encounters, row = np.unique(encounter_id, return_inverse=True)
    first = np.full(len(encounters), np.iinfo(np.int64).max)
    np.minimum.at(first, row, sitting)
    return np.where(encounter_id > 0, first[row], sitting)


def _kit(kit: KitFacts) -> Kit:
    return Kit(factor=kit.converter_factor or 1.0, lens=kit.lens_name or "")
