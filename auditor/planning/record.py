"""The photographer's own hit rate with a kit in like light, and what to expect of one more outing."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING, TypeAlias

from auditor.store.kit_hits import KitHits, Met

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    from auditor.statistics.intervals import Interval

Columns: TypeAlias = "dict[str, NDArray[np.float64]]"
"""Encounters of a kit: by the names of `KitHits`, one entry each."""

LIKE_LIGHT_EV = 1.5
"""Encounters this close in light are like the outing's."""
FEWEST_ENCOUNTERS = 3
PRIOR_ENCOUNTERS = 4.0
"""Encounters at the rate of all kits together that are added to a kit's own, for what to expect of it."""
EXPECTED_SHARE = 0.90
"""Share of outings whose share of hits lies in the range that is given."""
PRIOR_SPREAD = 0.25
"""Variance of the share of hits from trip to trip, as a part of the largest that there can be (all or
nothing): assumed before there are trips, about that of invented photographers (benchmarks/plan.py)."""
PRIOR_TRIPS = 4.0
"""How many trips that assumption weighs as much as."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnRate:
    """Share of frames that hit on the subject, with its 95 % interval, and what to expect of one outing."""

    rate: float
    low: float
    high: float
    expected: float
    """Drawn towards the rate of all kits: what to expect on average."""
    expected_low: float
    expected_high: float
    """One outing's share lies between these in EXPECTED_SHARE of all cases: trips differ."""
    encounters: int
    frames: int
    trips: int
    like_light: bool
    """Whether only encounters in like light were counted; else all, since those were too few."""


class OwnRecord:
    """What a photographer hit so far, asked for one light after another."""

    def __init__(self, hits: Sequence[KitHits]) -> None:
        from auditor.statistics.intervals import pooled_icc

        self._by_kit = _by_kit(hits)
        counts = [(kit["hits"], kit["frames"]) for kit in self._by_kit.values()]
        self._icc = pooled_icc(counts) if hits else 0.0
        self._overall = _overall(self._by_kit.values())
        self._rates_by_light: dict[float, dict[int, OwnRate]] = {}

    def rates(self, light_ev: float) -> dict[int, OwnRate]:
        """Hit rates by kit id, from encounters in like light, or from all where those are too few.

        Parameters
        ----------
        light_ev
            EV at ISO 100.

        Returns
        -------
        dict[int, OwnRate]
            By kit id.
        """
        if light_ev not in self._rates_by_light:  # a map asks for one light at many distances
            self._rates_by_light[light_ev] = self._rates(light_ev)
        return self._rates_by_light[light_ev]

    def _rates(self, light_ev: float) -> dict[int, OwnRate]:
        import numpy as np

        counted = {}
        for kit_id, kit in self._by_kit.items():
            near = np.abs(kit["light_ev"] - light_ev) <= LIKE_LIGHT_EV
            like_light = int(near.sum()) >= FEWEST_ENCOUNTERS
            rows = {name: column[near] for name, column in kit.items()} if like_light else kit
            if len(rows["frames"]) >= FEWEST_ENCOUNTERS:
                counted[kit_id] = (rows, like_light)
        spread = _spread(rows for rows, _like_light in counted.values())
        intervals = {kit_id: self._interval(rows) for kit_id, (rows, _like_light) in counted.items()}
        encounters = {kit_id: len(rows["frames"]) for kit_id, (rows, _like_light) in counted.items()}
        expected = [self._expected(intervals[kit_id], encounters[kit_id]) for kit_id in counted]
        trips = [len(np.unique(rows["trip_id"])) for rows, _like_light in counted.values()]
        ranges = _ranges(expected, spread, trips)
        return {
            kit_id: OwnRate(
                rate=intervals[kit_id].estimate,
                low=intervals[kit_id].low,
                high=intervals[kit_id].high,
                expected=expected[place],
                expected_low=ranges[place][0],
                expected_high=ranges[place][1],
                encounters=encounters[kit_id],
                frames=int(rows["frames"].sum()),
                trips=trips[place],
                like_light=like_light,
            )
            for place, (kit_id, (rows, like_light)) in enumerate(counted.items())
        }

    def _interval(self, rows: Columns) -> Interval:
        from auditor.statistics.intervals import clustered_wilson
        from auditor.statistics.telling import told

        frames = float(rows["frames"].sum())
        of_probabilities = clustered_wilson(rows["hits"], rows["frames"], pooled_icc=self._icc)
        return told(of_probabilities, float(rows["base"].sum()) / frames, float(rows["told"].sum()) / frames)

    def _expected(self, interval: Interval, encounters: int) -> float:
        weight = encounters / (encounters + PRIOR_ENCOUNTERS)
        return weight * interval.estimate + (1 - weight) * self._overall


def _overall(kits: Iterable[Columns]) -> float:
    """The share of hits in the mean of all encounters; of plain probabilities where those say nothing."""
    encounters = shown = over_base = hits = 0.0
    for kit in kits:
        frames = kit["frames"]
        encounters += len(frames)
        shown += float((kit["told"] / frames).sum())
        over_base += float(((kit["hits"] - kit["base"]) / frames).sum())
        hits += float((kit["hits"] / frames).sum())
    if not shown:
        return hits / encounters if encounters else 0.0
    return min(1.0, max(0.0, over_base / shown))


def _by_kit(hits: Sequence[KitHits]) -> dict[int, Columns]:
    """The columns of each kit: a long record holds a hundred thousand rows, and each light asks for all."""
    import numpy as np

    if not hits:
        return {}
    columns = {
        name: np.array(values, dtype=np.int64 if name.endswith("_id") else np.float64)
        for name, values in zip(KitHits._fields, zip(*hits, strict=True), strict=True)
    }
    kit_ids = columns["kit_id"]
    return {
        int(kit_id): {name: column[kit_ids == kit_id] for name, column in columns.items()}
        for kit_id in dict.fromkeys(kit_ids.tolist())
    }


def _spread(kits: Iterable[Columns]) -> float:
    """Variance of a trip's share of hits about its kit's rate, over that of all or nothing, r (1 - r).

    Pooled over kits, since one kit has few trips; drawn towards PRIOR_SPREAD. What makes outings differ is
    all in it: animals, places, light within the like, how few encounters one outing has.
    """
    import numpy as np

    squares = largest = trips = 0.0
    for rows in kits:
        trip_ids, places = np.unique(rows["trip_id"], return_inverse=True)
        if len(trip_ids) < 2:
            continue
        shares = np.bincount(places, rows["hits"]) / np.bincount(places, rows["frames"])
        mean = float(shares.mean())
        squares += float(((shares - mean) ** 2).sum())
        largest += mean * (1 - mean) * (len(shares) - 1)
        trips += len(shares) - 1
    own_spread = squares / largest if largest > 0 else PRIOR_SPREAD
    return (trips * own_spread + PRIOR_TRIPS * PRIOR_SPREAD) / (trips + PRIOR_TRIPS)


def _ranges(expected: Sequence[float], spread: float, trips: Sequence[int]) -> list[tuple[float, float]]:
    """Quantiles of one outing's share, of each kit: a beta distribution with that mean and spread.

    The mean itself is known from so many trips only, which widens it as in any prediction.
    """
    import numpy as np
    from scipy.special import betaincinv

    shares = np.array(expected, dtype=float)
    size = 1 / np.minimum(spread * (1 + 1 / np.array(trips, dtype=float)), 0.9) - 1
    mean = np.clip(shares, 0.01, 0.99)
    tail = (1 - EXPECTED_SHARE) / 2
    low, high = (betaincinv(mean * size, (1 - mean) * size, end) for end in (tail, 1 - tail))
    return list(zip(np.minimum(low, shares).tolist(), np.maximum(high, shares).tolist(), strict=True))


@dataclass(frozen=True, slots=True, kw_only=True)
class Usual:
    """Light and distance of a trip: medians over its encounters."""

    light_ev: float
    distance_m: float | None
    """None where no camera recorded it."""

    def distance(self, given_m: float | None) -> float:
        """The distance that was given, else the usual one.

        Parameters
        ----------
        given_m
            In metres; None to go by the record.

        Returns
        -------
        float
            Metres.

        Raises
        ------
        ValueError
            where neither is known.
        """
        metres = self.distance_m if given_m is None else given_m
        if metres is None:
            raise ValueError("no distance was recorded on that trip: give --distance")
        return metres


def usual_of(met: Sequence[Met]) -> Usual:
    """The usual light and distance of the encounters of a trip.

    Parameters
    ----------
    met
        The encounters of a trip.

    Returns
    -------
    Usual
        Medians; no distance where none is known.

    Raises
    ------
    ValueError
        where the light of none is known.
    """
    lights = [encounter.light_ev for encounter in met if encounter.light_ev is not None]
    if not lights:
        raise ValueError("the light of that trip is not known: give --light")
    metres = [
        encounter.distance_m
        for encounter in met
        if encounter.distance_m is not None and math.isfinite(encounter.distance_m)
    ]
    return Usual(light_ev=round(median(lights), 1), distance_m=round(median(metres), 1) if metres else None)
