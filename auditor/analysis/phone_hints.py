"""Pictures of a phone among those of cameras: they are in every table until they are left out."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence

from auditor.analysis.hint_kinds import PhoneHint, Trip
from auditor.frames.declared import is_of
from auditor.records import Recorded
from auditor.store.bursts import BurstLight
from auditor.store.declared_facts import RejectedFacts, Said
from auditor.store.encounter_sums import KitFacts

BodyKey = tuple[str, str, str]
"""Make, model, serial number."""
SMALL_SENSOR = 3.0
"""Crop factor from which a sensor is as small as a phone's (common practice: phones 3.5 to 8, cameras with
lenses that come off 2 at most)."""
LONGEST_VIEW_MM = 130.0
"""Times the crop factor, the longest lens of most phones; a bridge camera on an animal goes far beyond."""


def phone_hints(trip: Trip, bursts: Sequence[BurstLight], kits: Iterable[KitFacts]) -> list[PhoneHint]:
    """Bodies of a trip that are phones by sensor and lens, of a photographer who has a larger sensor.

    Parameters
    ----------
    trip
        That the bursts are of.
    bursts
        In order of time.
    kits
        All of the logbook.

    Returns
    -------
    list[PhoneHint]
        In order of bodies.
    """
    facts = {kit.kit_id: kit for kit in kits}
    if not _any_larger(facts.values()):
        return []
    by_body: dict[str, list[BurstLight]] = defaultdict(list)
    for burst in bursts:
        by_body[burst.body].append(burst)
    used = {body: [facts[burst.kit_id] for burst in own] for body, own in by_body.items()}
    return [
        PhoneHint(
            trip=trip,
            body=body,
            frames=sum(burst.frames for burst in by_body[body]),
            first_at=min(burst.first_at for burst in by_body[body]),
            last_at=max(burst.last_at for burst in by_body[body]),
        )
        for body, own in sorted(used.items())
        if all(map(_is_of_phone, own))
    ]


def phones(kits: Iterable[KitFacts], kept: Iterable[Said] = ()) -> set[BodyKey]:
    """Bodies that are phones by sensor and lens: nobody mounts one.

    Parameters
    ----------
    kits
        All of the logbook.
    kept
        Declarations; among them, which bodies are not to be left out although they seem to be phones.

    Returns
    -------
    set[BodyKey]
        Empty where the logbook has no larger sensor.
    """
    used: dict[BodyKey, list[KitFacts]] = defaultdict(list)
    for kit in kits:
        if kit.crop_factor is not None or kit.focal_length_mm is not None:  # else no frame of it counts
            used[kit.body_make or "", kit.body_model or "", kit.body_serial or ""].append(kit)
    if not _any_larger(kit for own in used.values() for kit in own):
        return set()
    answered = [said for said in kept if said.facts == RejectedFacts(about="phone")]
    return {
        body
        for body, own in used.items()
        if all(map(_is_of_phone, own)) and not any(is_of(said, _recorded(body)) for said in answered)
    }


def _recorded(body: BodyKey) -> Recorded:
    make, model, serial = (part or None for part in body)
    return Recorded(body_make=make, body_model=model, body_serial=serial)


def _any_larger(kits: Iterable[KitFacts]) -> bool:
    return any(kit.crop_factor is not None and not _is_small(kit) for kit in kits)


def _is_of_phone(kit: KitFacts) -> bool:
    return _is_small(kit) and _is_wide(kit)


def _is_small(kit: KitFacts) -> bool:
    return kit.crop_factor is not None and kit.crop_factor >= SMALL_SENSOR


def _is_wide(kit: KitFacts) -> bool:
    return (
        kit.crop_factor is not None
        and kit.focal_length_mm is not None
        and kit.crop_factor * kit.focal_length_mm <= LONGEST_VIEW_MM
    )
