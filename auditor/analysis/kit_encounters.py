"""Frames gathered by kit and encounter: what every rate and comparison is made of.

The logbook does the gathering, so that a million frames come out as some thousands of rows.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from auditor.analysis.losses import of_encounters, sittings
from auditor.frames.declared import Declared
from auditor.settings import Settings
from auditor.statistics.number_gaps import gaps_of_scenes
from auditor.store import declarations, encounter_sums, kit_queries
from auditor.store.encounter_columns import Words
from auditor.store.hit_probability import telling
from auditor.store.logbook import Logbook

MIXED = "mixed"
"""What animals did where the frames of an encounter differ in it."""
NO_MODE = " / "
"""Neither the mode of the focus area nor that of the drive is known."""

Counts = NDArray[np.int64]
Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class KitEncounters:
    """One row a kit in an encounter; every column of shape (rows,)."""

    kit_id: Counts
    encounter_id: Counts
    """0 for frames without a time, which are in no encounter and no trip."""
    trip_id: Counts
    frames: Counts
    judged: Counts
    """Frames that hit or missed by one angle for all kits."""
    hits: Counts
    unclear: Counts
    weighed: Counts
    """Frames that count by how likely each is a hit, and the sum of that."""
    likely_hits: Floats
    base: Floats
    """That sum as it would be if all had missed, and how much more it would be if all had hit."""
    told: Floats
    framed_judged: Counts
    """As framed: magnification counts against the hits."""
    framed_hits: Counts
    measured: Counts
    silent: Counts
    manual: Counts
    unmetered: Counts
    iso_pushed: Counts
    near_reciprocal: Counts
    compared: Counts
    """Weighed frames in known light."""
    compared_hits: Floats
    compared_base: Floats
    compared_told: Floats
    light_ev: Floats
    """Means over the compared frames; NaN where none tells."""
    exposure_time_s: Floats
    metre_mrad: Floats
    """What a metre measures at the distance of focus, in milliradians."""
    keyworded: Counts
    activity_by_keywords: Words
    """None where not recorded."""
    activity_by_mode: Words
    """By focus area and drive mode."""
    first_at: NDArray[np.datetime64]
    """Camera time of the first and the last frame; NaT without a time."""
    last_at: NDArray[np.datetime64]
    body: Words
    numbered: Counts
    """Frames with a file number, the lowest and the highest of those; NaN without."""
    lowest: Floats
    highest: Floats
    lowest_of_high: Floats
    """The lowest number from 5000 on, the highest below: where the counter began again in between."""
    highest_of_low: Floats
    sitting: Counts
    """A number for the encounters of a day with no longer pause between them than the settings say."""
    kept_elsewhere: NDArray[np.bool_]
    """Where the photographer said that frames beside these are on other media."""
    deleted: Floats
    """Frames that gaps in the file numbers leave room for; 0 where frames were kept elsewhere."""
    back_and_forth: NDArray[np.bool_]
    """Where the body's file numbers run back and forth: what was deleted cannot be told."""

    def __len__(self) -> int:
        return len(self.kit_id)

    def only(self, chosen: NDArray[Any]) -> KitEncounters:
        """The chosen rows, by a mask of shape (rows,).

        Parameters
        ----------
        chosen
            True for rows that stay.

        Returns
        -------
        KitEncounters
            Every column cut alike; the table itself where all rows stay.
        """
        if chosen.all():
            return self
        rows = np.flatnonzero(chosen)
        return KitEncounters(**{each.name: getattr(self, each.name)[rows] for each in fields(self)})

    def of_kits(self, kit_ids: Iterable[int]) -> NDArray[np.bool_]:
        """Which rows are of these kits, shape (rows,).

        Parameters
        ----------
        kit_ids
            Of any number of kits.

        Returns
        -------
        NDArray[np.bool_]
            A mask for `only`.
        """
        return np.isin(self.kit_id, list(kit_ids))


def kit_encounters(
    logbook: Logbook, trip_id: int | None = None, *, settings: Settings | None = None
) -> KitEncounters:
    """The frames of one trip or of all, excluded ones left out; in order of kits, then of encounters.

    Parameters
    ----------
    trip_id
        None for all trips.
    settings
        For `sitting_gap_h`; None for the default.

    Returns
    -------
    KitEncounters
        Gathered by the logbook: some thousands of rows for a million frames.
    """
    gathered = encounter_sums.encounters(logbook, trip_id, telling(logbook))
    for kind in ("keywords", "mode"):
        first, last = gathered.pop(f"first_{kind}"), gathered.pop(f"last_{kind}")
        gathered[f"activity_by_{kind}"] = _activity(first, last)
    kits, kit_number = np.unique(gathered["kit_id"], return_inverse=True)
    bodies = kit_queries.bodies(logbook)
    gathered["body"] = Words.of([bodies.get(kit_id) for kit_id in kits.tolist()], kit_number)
    gathered["kept_elsewhere"] = _kept_elsewhere(
        logbook, gathered["body"], gathered["first_at"], gathered["last_at"]
    )
    rows = len(kit_number)
    not_placed: dict[str, Any] = {
        "sitting": np.zeros(rows, dtype=np.int64),
        "deleted": np.zeros(rows),
        "back_and_forth": np.zeros(rows, dtype=np.bool_),
    }
    return _placed(KitEncounters(**gathered, **not_placed), settings)


def _activity(first: Words, last: Words) -> Words:
    """What the animals of each row did, from the first and the last word of its frames."""
    names = [None if name == NO_MODE else name for name in first.names]
    return Words.of([*names, MIXED], np.where(first.number == last.number, first.number, len(names)))


def of_trip(table: KitEncounters, trip_id: int, settings: Settings | None = None) -> KitEncounters:
    """The rows of one trip, as `kit_encounters` of that trip alone gathers them.

    Parameters
    ----------
    table
        Of all trips.
    trip_id
        Of the trip.
    settings
        For `sitting_gap_h`; None for the default.

    Returns
    -------
    KitEncounters
        With what was deleted counted within the trip alone.
    """
    return _placed(table.only(table.trip_id == trip_id), settings)


def _placed(table: KitEncounters, settings: Settings | None) -> KitEncounters:
    """The table with what follows from rows beside each other: sittings, and gaps in the file numbers."""
    gaps = gaps_of_scenes(
        body=table.body.number,
        first_at=table.first_at,
        last_at=table.last_at,
        numbered=np.where(table.encounter_id > 0, table.numbered, 0),
        lowest=table.lowest,
        highest=table.highest,
        lowest_of_high=table.lowest_of_high,
        highest_of_low=table.highest_of_low,
    )
    gap_h = (settings or Settings()).sitting_gap_h
    return replace(
        table,
        sitting=of_encounters(sittings(table.first_at, table.last_at, gap_h), table.encounter_id),
        deleted=np.where(table.kept_elsewhere, 0.0, gaps.deleted),
        back_and_forth=gaps.back_and_forth,
    )


def _kept_elsewhere(
    logbook: Logbook, body: Words, first_at: NDArray[np.datetime64], last_at: NDArray[np.datetime64]
) -> NDArray[np.bool_]:
    kept = np.zeros(len(body), dtype=np.bool_)
    for declaration in Declared(declarations.history(logbook)).elsewhere():
        wanted = (declaration.body or "").lower()
        of_body = body.are([wanted in str(key).lower().split("|")[1:] for key in body.names])
        if declaration.from_at is not None:
            of_body &= last_at >= np.datetime64(declaration.from_at)
        if declaration.to_at is not None:
            of_body &= first_at <= np.datetime64(declaration.to_at)
        kept |= of_body
    return kept
