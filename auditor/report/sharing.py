"""What a page for sharing leaves out: serial numbers, folders, and names that may be places."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace

from auditor.frames.kit_names import names_of
from auditor.records import KnownKit
from auditor.report.text import values
from auditor.store.trips import Trip

LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZ"


def without_serials(kits: Iterable[KnownKit]) -> list[KnownKit]:
    """The kits with a letter in place of each serial number, so that two bodies of a model stay apart."""
    all_kits = list(kits)
    bodies: dict[tuple[str | None, str | None], list[str | None]] = defaultdict(list)
    for kit in all_kits:
        serials = bodies[kit.body_make, kit.body_model]
        if kit.body_serial not in serials:
            serials.append(kit.body_serial)

    def letter(kit: KnownKit) -> str | None:
        serials = bodies[kit.body_make, kit.body_model]
        place = serials.index(kit.body_serial)
        return LETTERS[place % len(LETTERS)] if len(serials) > 1 else None

    lettered = [replace(kit, body_serial=letter(kit)) for kit in all_kits]
    names = names_of(lettered)
    return [replace(kit, kit_name=names[kit.kit_id]) for kit in lettered]


def named_by_dates(trip: Trip) -> Trip:
    """The trip under its dates: a name that was given may be a place."""
    return replace(trip, name=values.days(trip.first_at, trip.last_at))
