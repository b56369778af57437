"""Hit rates broken down by one thing at a time: descriptive, since nothing else is held alike."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from itertools import groupby
from typing import Any

from auditor.analysis.kit_encounters import kit_encounters
from auditor.analysis.rates import hit_rate, icc_of_encounters
from auditor.settings import Settings
from auditor.store import kit_queries
from auditor.store.hit_probability import telling
from auditor.store.logbook import Logbook

BANDS = {
    "light": "EV at ISO 100",
    "shutter": "the nearest whole stop, s",
    "keyword": "keyword",
    "area": "focus area mode",
    "drive": "drive mode",
    "hour": "hour of day, by each body's own clock",
    "body": "body",
    "lens": "lens",
    "converter": "converter factor",
    "trip": "trip",
}
"""What frames are sorted by -> the unit of its bands."""
LIGHT_BAND_EV = 2
"""A band of light is named by its lower end."""
ACROSS_KITS = ("body", "lens", "converter")
_MARKED = {
    stops: f"1/{mark}"
    for stops, mark in zip(
        range(-13, 0), (8000, 4000, 2000, 1000, 500, 250, 125, 60, 30, 15, 8, 4, 2), strict=True
    )
}
"""Shutter speeds as cameras mark them, by whole stops."""
NOT_KNOWN = "not known"


@dataclass(frozen=True, slots=True, kw_only=True)
class BandRate:
    """Frames of one band: of a kit, or of all kits together."""

    kit_name: str | None
    """None over all kits."""
    band: Any
    """A number or a word; `not known` for frames that do not tell."""
    frames: int
    encounters: int
    """Those that hold judged frames."""
    judged: int
    hits: int
    unclear: int
    hit_rate: float | None
    """Share of frames, each by how likely it is a hit, 0 to 1; None with fewer than three encounters."""
    hit_rate_low: float | None
    """95 % interval, clustered by encounter."""
    hit_rate_high: float | None


def breakdown(
    logbook: Logbook,
    by: str,
    trip_id: int | None = None,
    *,
    without: Collection[int] = (),
    settings: Settings | None = None,
) -> list[BandRate]:
    """Hit rates by one of BANDS: a row a kit and band; for body, lens and converter a row a band over all
    kits.

    Parameters
    ----------
    by
        A key of BANDS.
    trip_id
        None for all trips.
    without
        Kits to leave out: those for which the crop is too close.
    settings
        For `sitting_gap_h`; None for the default.

    Returns
    -------
    list[BandRate]
        In order of kits, then of bands.

    Raises
    ------
    ValueError
        for another word.
    """
    if by not in BANDS:
        raise ValueError(f"by must be one of {', '.join(BANDS)}, not {by!r}")
    icc = icc_of_encounters(logbook)
    gathered = kit_encounters(logbook, trip_id, settings=settings)
    sitting_of = dict(zip(gathered.encounter_id.tolist(), gathered.sitting.tolist(), strict=True))
    counted = kit_queries.rates_by(
        logbook, by, trip_id, across_kits=by in ACROSS_KITS, told=telling(logbook), without=without
    )
    rows = []
    for (kit_name, band), group in groupby(counted, key=lambda row: (row.kit_name, row.band)):
        encounters = list(group)
        judging = [row for row in encounters if row.weighed > 0]
        rate = hit_rate(
            [row.likely_hits for row in judging],
            [row.weighed for row in judging],
            [sitting_of[row.encounter_id] for row in judging],
            [row.base for row in judging],
            [row.told for row in judging],
            icc=icc,
        )
        rows.append(
            BandRate(
                kit_name=kit_name,
                band=_named(by, band),
                frames=sum(row.frames for row in encounters),
                encounters=len(judging),
                judged=sum(row.judged for row in encounters),
                hits=sum(row.hits for row in encounters),
                unclear=sum(row.unclear for row in encounters),
                hit_rate=None if rate is None else rate.estimate,
                hit_rate_low=None if rate is None else rate.low,
                hit_rate_high=None if rate is None else rate.high,
            )
        )
    return rows


def _named(by: str, band: Any) -> Any:
    """A band as it is read."""
    if band is None:
        return NOT_KNOWN
    return _MARKED.get(int(band), f"{2.0**band:g}") if by == "shutter" else band
