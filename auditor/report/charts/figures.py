"""The pictures of a report: each with a line that says what it shows, and a sentence of what is seen."""

from __future__ import annotations

from collections.abc import Sequence

from auditor.analysis.changes import Change
from auditor.analysis.kit_table import KitRow
from auditor.report.charts import kits as of_kits
from auditor.report.charts import light as of_light
from auditor.report.charts import trip as of_trips
from auditor.report.charts.figure import LONGEST_NAME, Picture
from auditor.report.charts.specs import Kit
from auditor.report.text import values
from auditor.store import queries as numbers
from auditor.store.logbook import Logbook
from auditor.words import NoRate

MOST_KITS = 8
"""Of more kits the most used are drawn; the kit table has them all."""


def pictures(
    logbook: Logbook, trip_id: int | None, kit_rows: Sequence[KitRow], changed: Sequence[Change] = ()
) -> list[Picture]:
    """Every picture that there are numbers for.

    Parameters
    ----------
    kit_rows
        Rows of the kit table, in its order.
    changed
        Rows of `analysis.changes`: those that fell are drawn on the timeline.
    """
    kits = kits_drawn(kit_rows)
    refused = {row.kit_id for row in kit_rows if row.hit_rate_missing == NoRate.CRITERION_TOO_FINE}

    def decided(rows: list[numbers.Row]) -> list[numbers.Row]:
        return [row for row in rows if row["kit_id"] not in refused]

    if not kits:
        return []
    slot, columns = numbers.timeline(logbook, trip_id)
    made = (
        of_kits.hit_rates(kit_rows, kits),
        of_light.iso_by_light(numbers.iso_by_light(logbook, trip_id), kit_rows, kits),
        of_light.hits_by_light(decided(numbers.hits_by_light(logbook, trip_id)), kits),
        of_kits.detail_against_noise(lambda kit_id: numbers.detail_and_noise(logbook, trip_id, kit_id), kits),
        of_trips.timeline(slot, decided(columns), kits, changed),
        of_trips.shutter(numbers.shutter_by_focal_length(logbook, trip_id), kits),
        of_trips.places(decided(numbers.focus_places(logbook, trip_id)), kits),
    )
    return [picture for picture in made if picture is not None]


def kits_drawn(kit_rows: Sequence[KitRow]) -> list[Kit]:
    """The most used kits, in the order of the kit table; a kit's number is its place there."""
    numbered = [
        (row.frames, Kit(row.kit_id, values.shortened(row.kit_name, LONGEST_NAME), number))
        for number, row in enumerate(kit_rows)
    ]
    most_used = sorted(numbered, key=lambda pair: (-pair[0], pair[1].number))[:MOST_KITS]
    return sorted((kit for _frames, kit in most_used), key=lambda kit: kit.number)
