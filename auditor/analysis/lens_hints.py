"""A lens that files call otherwise from some day on: two kits in every table, and perhaps one lens."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from itertools import combinations, pairwise

from auditor.analysis.hint_kinds import LensHint, Trip
from auditor.frames.kit_names import is_named_by_files
from auditor.frames.lens import from_name
from auditor.frames.spellings import plain
from auditor.serials import NO_SERIAL
from auditor.store.encounter_sums import KitFacts
from auditor.store.kit_queries import KitSpan
from auditor.store.trips import Trip as StoredTrip

Optics = tuple[float, float, float, float | None]
"""Shortest and longest focal length, widest f-number at either."""


def lens_hints(
    kits: Iterable[KitFacts],
    trips: Sequence[StoredTrip],
    spans_of: Callable[[list[int]], dict[int, KitSpan]],
) -> list[LensHint]:
    """Lenses of one body that are alike in all but name, the one never used again once the other is.

    Two such lenses that somebody owns at once are used in turn, or on one day: those are not asked about.

    Parameters
    ----------
    kits
        All of the logbook.
    trips
        All of the logbook.
    spans_of
        First and last frame of kits by id; only asked for where names are alike.

    Returns
    -------
    list[LensHint]
        In order of bodies, then of time.
    """
    by_body: dict[tuple[str | None, str | None], dict[Optics, dict[str, list[int]]]] = {}
    models: dict[str | None, set[str | None]] = defaultdict(set)
    for kit in kits:
        models[kit.body_model].add(kit.body_serial)
        optics = _optics(kit.lens_name)
        if optics is not None and kit.lens_name is not None and not is_named_by_files(kit.body_serial):
            alike = by_body.setdefault((kit.body_model, kit.body_serial), {}).setdefault(optics, {})
            alike.setdefault(kit.lens_name, []).append(kit.kit_id)
    found = []
    for (model, serial), lenses in sorted(by_body.items(), key=str):
        body = serial or (model and model + (NO_SERIAL if len(models[model]) > 1 else ""))
        for by_name in lenses.values():
            if body and len(by_name) > 1:
                spans = spans_of([kit_id for kit_ids in by_name.values() for kit_id in kit_ids])
                found += _of_one_lens(body, by_name, spans, trips)
    return found


def _of_one_lens(
    body: str, by_name: dict[str, list[int]], spans: dict[int, KitSpan], trips: Sequence[StoredTrip]
) -> list[LensHint]:
    """Names that follow upon each other, each asked about with the one before it."""
    used = {
        name: KitSpan(
            min(span.first_at for span in own), max(span.last_at for span in own), sum(s.frames for s in own)
        )
        for name, kit_ids in by_name.items()
        if (own := [spans[kit_id] for kit_id in kit_ids if kit_id in spans])
    }
    if any(_meet(span, other) for span, other in combinations(used.values(), 2)):
        return []
    hints = []
    for earlier, later in pairwise(sorted(used, key=lambda name: used[name].first_at)):
        span = used[later]
        trip = next((trip for trip in trips if trip.first_at <= span.first_at <= trip.last_at), None)
        if trip is not None and plain(earlier) != plain(later):
            hints.append(
                LensHint(
                    trip=Trip(trip_id=trip.trip_id, name=trip.name),
                    body=body,
                    lens=later,
                    earlier=earlier,
                    frames=span.frames,
                    first_at=span.first_at,
                    last_at=span.last_at,
                )
            )
    return hints


def _meet(span: KitSpan, other: KitSpan) -> bool:
    """Whether both were used on one day, or one between two uses of the other."""
    return span.first_at[:10] <= other.last_at[:10] and other.first_at[:10] <= span.last_at[:10]


def _optics(lens_name: str | None) -> Optics | None:
    """What a name tells of its lens; None where it does not tell enough to call two alike."""
    lens = from_name(lens_name)
    if lens.short_mm is None or lens.long_mm is None or lens.widest_at_short is None:
        return None
    return lens.short_mm, lens.long_mm, lens.widest_at_short, lens.widest_at_long
