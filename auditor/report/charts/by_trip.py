"""What was mounted on each body, trip by trip: a column a trip, a ribbon a body."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence

from auditor.report.charts.canvas import LEAST_AREA, Canvas, box, letters
from auditor.report.charts.clock import RIBBON, WIDTHS
from auditor.report.charts.figure import Kit, Picture, of_kit
from auditor.report.text import values
from auditor.store.chart_rows import TripKit

LANE = 58.0
HEAD_PX = 28.0
"""Above the first lane: months, and the name of its body below them."""


def kits_by_trip(counted: Sequence[TripKit], kits: Sequence[Kit]) -> Picture | None:
    """The newest trips, as many as fit; None for fewer than two.

    Parameters
    ----------
    counted
        Rows of `chart_rows.by_trip`.
    """
    drawn = {kit.kit_id: kit for kit in kits}
    shown = [row for row in counted if row.kit_id in drawn]
    trips = list(dict.fromkeys(row.trip_id for row in shown))
    if len(trips) < 2:
        return None
    behind = sum(row.frames for row in shown if drawn[row.kit_id].converted)
    frames = sum(row.frames for row in shown)
    title = f"A converter was on for {behind:,} of {frames:,} frames over {len(trips)} trips"
    words = (
        "A column a trip, a ribbon a body: hollow is the bare lens, fuller a stronger converter. Widths are "
        "shares of the body's frames."
    )
    drawings = tuple(
        _drawing(width, shown, trips, drawn).svg(f"trips-{kind}", title, words, kind)
        for kind, width in WIDTHS.items()
    )
    return Picture(key="trips", title=title, words=words, drawings=drawings, with_kits=True)


def _drawing(width: float, shown: Sequence[TripKit], trips: Sequence[int], drawn: dict[int, Kit]) -> Canvas:
    bodies = list(dict.fromkeys(kit.body for kit in drawn.values()))
    newest = trips[-int(width / (LEAST_AREA + 4)) :]
    column = width / len(newest)
    canvas = Canvas(width, HEAD_PX + 2 + LANE * len(bodies))
    for lane, body in enumerate(bodies):
        own = [kit for kit in drawn.values() if kit.body == body]
        y = HEAD_PX + LANE * lane
        canvas.text(0, y + 10, own[0].body_name)
        for place, trip_id in enumerate(newest):
            _column(
                canvas,
                [row for row in shown if row.trip_id == trip_id],
                own,
                place * column,
                y + 18,
                column,
            )
    free = 0.0
    for place, trip_id in enumerate(newest):
        year = next(row.first_at for row in shown if row.trip_id == trip_id)[:7]
        if place * column >= free:
            canvas.text(place * column, 14, year, kind="quiet")
            free = place * column + letters(year) + 10
    return canvas


def _column(
    canvas: Canvas, rows: Sequence[TripKit], own: Sequence[Kit], left: float, y: float, column: float
) -> None:
    by_kit: dict[int, TripKit] = {row.kit_id: row for row in rows}
    used = [(kit, by_kit[kit.kit_id]) for kit in own if kit.kit_id in by_kit]
    frames = sum(row.frames for _kit, row in used)
    if not frames:
        return
    x, counts = left, []
    parts: dict[int, str] = defaultdict(str)
    for kit, row in used:
        wide = (column - 4) * row.frames / frames
        full = RIBBON * kit.look.full
        parts[kit.kit_id] += (
            f'<g class="{kit.look.colour}">{box(x, y, wide, RIBBON, "ribbon")}'
            f"{box(x, y + RIBBON - full, wide, full, 'ribbon-full')}</g>"
        )
        counts.append(f"{kit.name}: {values.count(row.frames, 'frame')}, {row.hits:,} in focus")
        x += wide
    for kit_id, drawn in parts.items():
        canvas.add(of_kit(kit_id, drawn))
    name = rows[0].name
    canvas.tell(f"{name}. {'; '.join(counts)}.", None, (), (left, y - 6, column - 4, RIBBON + 12))
