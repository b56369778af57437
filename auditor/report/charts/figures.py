"""The pictures of a report, in the order of the page."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from itertools import takewhile

from auditor.analysis.findings import Findings
from auditor.records import KnownKit
from auditor.report.charts.blur import blur_of_frames
from auditor.report.charts.by_light import hits_by_light
from auditor.report.charts.by_trip import kits_by_trip
from auditor.report.charts.clock import light_and_kits
from auditor.report.charts.detail import detail_on_animal, iso_and_noise
from auditor.report.charts.figure import Kit, Picture
from auditor.report.charts.lost import what_was_lost
from auditor.report.charts.places import focus_places
from auditor.report.charts.shutter import shutter
from auditor.report.svg import Look
from auditor.report.text import values
from auditor.settings import Settings
from auditor.store import chart_rows
from auditor.store.logbook import Logbook
from auditor.words import NoRate

MOST_KITS = 8
"""Of more kits the most used are drawn; the kit table has them all."""
LONGEST_NAME = 60
LONGEST_OUTFIT = 24
"""In letters: more would not fit a drawing beside its numbers."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Drawn:
    """The pictures, and the kits that they draw."""

    kits: list[Kit]
    pictures: list[Picture]


def pictures(
    logbook: Logbook,
    trip_id: int | None,
    findings: Findings,
    all_kits: Sequence[KnownKit],
    looks: Mapping[int, Look],
    settings: Settings,
) -> Drawn:
    """Every picture that there are numbers for.

    Parameters
    ----------
    findings
        With the short names of kits.
    all_kits
        The kits of the logbook.
    looks
        How each is drawn, by kit_id.
    """
    kits = kits_drawn(findings, all_kits, looks)
    refused = {row.kit_id for row in findings.table if row.hit_rate_missing == NoRate.CRITERION_TOO_FINE}
    judged = [kit for kit in kits if kit.kit_id not in refused]
    if not kits:
        return Drawn(kits=[], pictures=[])
    measured = {kit.kit_id: chart_rows.detail_and_noise(logbook, trip_id, kit.kit_id) for kit in kits}
    made = (
        kits_by_trip(chart_rows.by_trip(logbook), kits)
        if trip_id is None
        else light_and_kits(chart_rows.stretches(logbook, trip_id), kits, findings.changes),
        hits_by_light(chart_rows.hits_by_light(logbook, None), judged, whole_record=trip_id is not None),
        blur_of_frames(
            chart_rows.blurs(logbook, trip_id),
            chart_rows.sensor_over_reach(logbook, trip_id),
            judged,
            settings.crop,
        ),
        what_was_lost(
            chart_rows.lost_bursts(logbook, trip_id),
            chart_rows.why_missed(logbook, trip_id),
            findings.table,
            judged,
        ),
        detail_on_animal(measured, kits, findings.kits),
        iso_and_noise(measured, findings.table, kits),
        shutter(chart_rows.shutter_by_focal_length(logbook, trip_id), kits),
        focus_places(chart_rows.focus_places(logbook, trip_id), chart_rows.focus_in_middle(logbook, trip_id)),
    )
    return Drawn(kits=kits, pictures=[picture for picture in made if picture is not None])


def kits_drawn(findings: Findings, all_kits: Sequence[KnownKit], looks: Mapping[int, Look]) -> list[Kit]:
    """The most used kits, in the order of the kit table."""
    identities = {kit.kit_id: kit for kit in all_kits}
    most_used = sorted(findings.table, key=lambda row: -row.frames)[:MOST_KITS]
    shown = {row.kit_id for row in most_used}
    rows = [row for row in findings.table if row.kit_id in shown]
    outfits = [_outfit(row.kit_name, identities[row.kit_id]) for row in rows]
    bodies = [_body(identities[row.kit_id]) for row in rows]
    known_by = len(_common_words(set(outfits)))
    kits = []
    for row, outfit, body in zip(rows, outfits, bodies, strict=True):
        of_body = {other for other, its_body in zip(outfits, bodies, strict=True) if its_body == body}
        body_name = " ".join(_common_words(of_body)) or outfit
        short = outfit if len(set(outfits)) == 1 else " ".join(outfit.split()[known_by:])
        kits.append(
            Kit(
                kit_id=row.kit_id,
                name=values.shortened(row.kit_name, LONGEST_NAME),
                look=looks[row.kit_id],
                outfit=values.shortened(short or outfit, LONGEST_OUTFIT),
                body=body,
                body_name=values.shortened(body_name, LONGEST_NAME),
            )
        )
    return kits


def _body(identity: KnownKit) -> str:
    return "|".join(part or "" for part in (identity.body_make, identity.body_model, identity.body_serial))


def _outfit(name: str, identity: KnownKit) -> str:
    """A kit's short name without its converter."""
    factor = identity.converter_factor
    return name.removesuffix(" x ?" if factor is None else f" x {factor:g}")


def _common_words(names: Iterable[str]) -> list[str]:
    """The words that all names begin with: of one body alone that is the body."""
    first, *others = sorted(names)
    alike = first.split()
    for name in others:
        pairs = zip(alike, name.split(), strict=False)
        alike = [word for word, _same in takewhile(lambda pair: pair[0] == pair[1], pairs)]
    return alike
