"""The photographer's own hit rate with a kit in like light."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    import pandas as pd

LIKE_LIGHT_EV = 1.5
"""Encounters this close in light are like the outing's."""
FEWEST_ENCOUNTERS = 3
PRIOR_ENCOUNTERS = 4.0
"""So many encounters at the rate of all kits together are added to a kit's own, for expecting."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRate:
    """Share of frames that hit on the subject, with its 95 % interval."""

    rate: float
    low: float
    high: float
    shrunk: float
    """Drawn towards the rate of all kits: what to expect."""
    encounters: int
    frames: float
    like_light: bool
    """Whether only encounters in like light were counted; else all, since those were too few."""


def own_rates(kit_encounters: pd.DataFrame, light_ev: float) -> dict[int, OwnRate]:
    """Hit rates by kit id, from encounters in like light, or from all where those are too few.

    Parameters
    ----------
    kit_encounters
        As `analysis.kit_encounters` gathers them: kit_id, compared, compared_hits, light_ev.
    """
    from auditor.statistics.intervals import clustered_wilson, pooled_icc

    known = kit_encounters[kit_encounters["compared"] > 0]
    if not len(known):
        return {}
    groups = [
        (group["compared_hits"].to_numpy(dtype=float), group["compared"].to_numpy(dtype=float))
        for _kit, group in known.groupby("kit_id")
    ]
    icc = pooled_icc(groups)
    overall = float((known["compared_hits"] / known["compared"]).mean())
    rates = {}
    for kit_id, group in known.groupby("kit_id"):
        near = group[(group["light_ev"] - light_ev).abs() <= LIKE_LIGHT_EV]
        like_light = len(near) >= FEWEST_ENCOUNTERS
        counted = near if like_light else group
        if len(counted) < FEWEST_ENCOUNTERS:
            continue
        hits, frames = (
            counted["compared_hits"].to_numpy(dtype=float),
            counted["compared"].to_numpy(dtype=float),
        )
        interval = clustered_wilson(hits, frames, pooled_icc=icc)
        weight = len(counted) / (len(counted) + PRIOR_ENCOUNTERS)
        rates[int(str(kit_id))] = OwnRate(
            rate=interval.estimate,
            low=interval.low,
            high=interval.high,
            shrunk=weight * interval.estimate + (1 - weight) * overall,
            encounters=len(counted),
            frames=float(frames.sum()),
            like_light=like_light,
        )
    return rates


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """Light and distance of a trip: medians over its encounters."""

    light_ev: float
    distance_m: float | None
    """None where no camera recorded it."""

    def distance(self, given_m: float | None) -> float:
        """The distance that was given, else the usual one.

        Raises
        ------
        ValueError
            where neither is known.
        """
        metres = self.distance_m if given_m is None else given_m
        if metres is None:
            raise ValueError("no distance was recorded on that trip: give --distance")
        return metres


def usual_of(kit_encounters: pd.DataFrame) -> Usual:
    """The usual light and distance of encounters.

    Raises
    ------
    ValueError
        where the light of none is known.
    """
    lights = kit_encounters["light_ev"].dropna()
    if not len(lights):
        raise ValueError("the light of that trip is not known: give --light")
    metres = 1000 / kit_encounters["metre_mrad"].dropna()
    return Usual(
        light_ev=round(float(lights.median()), 1),
        distance_m=round(float(metres.median()), 1) if len(metres) else None,
    )
