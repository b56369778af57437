"""Converters that did not report themselves: one or two stops that the settings do not show."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence, Set
from itertools import pairwise

from auditor.analysis.hint_kinds import ConverterHint, Trip
from auditor.store.bursts import BurstLight

STOP_TOLERANCE_EV = 0.3
"""A step this close to one or two stops is what a converter takes."""
NEIGHBOUR_S = 180.0
"""Bursts this close in time are taken to be in one light."""
LONGEST_PAUSE_S = 2 * 3600.0
_FACTORS = {1: 1.4, 2: 2.0}
"""Stops of light that a converter takes -> its factor."""


def converter_hints(
    trip: Trip, bursts: Sequence[BurstLight], *, rejected: Set[tuple[str, float, str]] = frozenset()
) -> list[ConverterHint]:
    """Where a body that says nothing of a converter reads one or two stops darker than its neighbourhood.

    Compared with the burst before on the same body and kit, and with another body's burst of about the
    same moment: a converter that does not report itself takes light that the settings do not show.

    Parameters
    ----------
    trip
        That the bursts are of.
    bursts
        Of the trip.
    rejected
        Body, factor and first moment, by the camera's clock, of bursts that are not to be suspected.

    Returns
    -------
    list[ConverterHint]
        Neighbouring bursts of one body and factor as one hint.
    """
    bursts = sorted(bursts, key=lambda burst: burst.one_clock_s)
    suspects_of: dict[tuple[str, int], set[BurstLight]] = defaultdict(set)
    for before, after in _neighbours(bursts):
        stops = _stops_darker(before, after)
        alike = before.body != after.body or before.kit_id == after.kit_id
        if stops and after.bare and alike:
            suspects_of[after.body, stops].add(after)
    hints = []
    for (body, stops), suspects in sorted(suspects_of.items()):
        factor = _FACTORS[stops]
        kept = [
            burst
            for burst in _with_level_ones(
                suspects, [other_burst for other_burst in bursts if other_burst.body == body]
            )
            if (body, factor, burst.camera_first_at) not in rejected
        ]
        hints += [
            ConverterHint(trip=trip, body=body, factor=factor, bursts=tuple(run)) for run in _runs(kept)
        ]
    return hints


def _with_level_ones(suspects: Set[BurstLight], body_bursts: Sequence[BurstLight]) -> list[BurstLight]:
    """Suspected bursts of a body, with those next to them that read the same light: the converter was still
    on, or on already; in order of time."""
    reached = set(suspects)
    for ordered in (body_bursts, list(reversed(body_bursts))):
        for before, following in pairwise(ordered):
            if before in reached and following.bare and _level(before, following):
                reached.add(following)
    return [burst for burst in body_bursts if burst in reached]


def _level(burst: BurstLight, other_burst: BurstLight) -> bool:
    """Whether two bursts of a body read one light through what seems to be one kit."""
    if (
        burst.light_value_ev is None
        or other_burst.light_value_ev is None
        or burst.kit_id != other_burst.kit_id
    ):
        return False
    near = abs(burst.one_clock_s - other_burst.one_clock_s) <= NEIGHBOUR_S
    return near and abs(burst.light_value_ev - other_burst.light_value_ev) <= STOP_TOLERANCE_EV


def _neighbours(bursts: Sequence[BurstLight]) -> Iterable[tuple[BurstLight, BurstLight]]:
    """Pairs of bursts in one light: of one body in a row, and of two bodies in both orders."""
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    for body_bursts in by_body.values():
        yield from ((a, b) for a, b in pairwise(body_bursts) if b.one_clock_s - a.one_clock_s <= NEIGHBOUR_S)
    for place, burst in enumerate(bursts):
        for other_burst in bursts[place + 1 :]:
            if other_burst.one_clock_s - burst.one_clock_s > NEIGHBOUR_S:
                break
            if other_burst.body != burst.body:
                yield burst, other_burst
                yield other_burst, burst


def _stops_darker(before: BurstLight, after: BurstLight) -> int | None:
    """Whole stops, 1 or 2, by which the second seems darker; None for anything else."""
    if before.light_value_ev is None or after.light_value_ev is None:
        return None
    drop_ev = before.light_value_ev - after.light_value_ev
    return next((stops for stops in _FACTORS if abs(drop_ev - stops) <= STOP_TOLERANCE_EV), None)


def _runs(ordered: list[BurstLight]) -> list[list[BurstLight]]:
    """Suspect bursts in stretches: over a long pause a converter may have come off."""
    runs = [[ordered[0]]] if ordered else []
    for before, after in pairwise(ordered):
        if after.one_clock_s - before.one_clock_s > LONGEST_PAUSE_S:
            runs.append([])
        runs[-1].append(after)
    return runs
