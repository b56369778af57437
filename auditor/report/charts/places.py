"""Where focus areas lay, drawn only where the middle of the picture and the rest stand apart."""

from __future__ import annotations

import math
from collections.abc import Sequence

from auditor.report.charts.canvas import Canvas, box
from auditor.report.charts.figure import PANEL, Picture
from auditor.report.svg import number
from auditor.report.text import values
from auditor.statistics.intervals import Interval, clustered_wilson
from auditor.store.chart_rows import PLACES_ACROSS, PLACES_DOWN, FocusInMiddle, FocusPlace

CELL = PANEL / PLACES_ACROSS
FEWEST_ENCOUNTERS = 8
"""Of either kind, as comparisons of kits ask for."""


def focus_places(counted: Sequence[FocusPlace], by_encounter: Sequence[FocusInMiddle]) -> Picture | None:
    """The picture; None where middle and rest are not clearly apart, or frames are too few.

    Parameters
    ----------
    counted, by_encounter
        Rows of `chart_rows.focus_places` and of `chart_rows.focus_in_middle`.
    """
    middle, rest = (_share([row for row in by_encounter if row.middle == inside]) for inside in (1, 0))
    if middle is None or rest is None or not (middle.low > rest.high or rest.low > middle.high):
        return None
    way = "fewer" if rest.estimate < middle.estimate else "more"
    title = (
        f"Away from the middle of the picture {way} were in focus: {100 * rest.estimate:.0f} of 100, "
        f"{100 * middle.estimate:.0f} in the middle"
    )
    words = (
        f"95 % intervals {values.interval(rest.low, rest.high)} and "
        f"{values.interval(middle.low, middle.high)}. "
        "Larger circles are more frames, the filled part those in focus. Animals and kits differ too."
    )
    drawing = _drawing(counted, middle, rest).svg("places", title, words)
    return Picture(key="places", title=title, words=words, drawings=(drawing,), folded=True)


def _share(rows: Sequence[FocusInMiddle]) -> Interval | None:
    if len(rows) < FEWEST_ENCOUNTERS:
        return None
    return clustered_wilson([row.hits for row in rows], [row.judged for row in rows])


def _drawing(counted: Sequence[FocusPlace], middle: Interval, rest: Interval) -> Canvas:
    canvas = Canvas(PANEL, CELL * PLACES_DOWN)
    most = max(row.judged for row in counted)
    canvas.add(box(0.5, 0.5, PANEL - 1, canvas.height - 1, "frame"))
    inner = (
        PLACES_ACROSS / 3 * CELL,
        PLACES_DOWN / 4 * CELL,
        PLACES_ACROSS / 3 * CELL,
        PLACES_DOWN / 2 * CELL,
    )
    canvas.add(box(*inner, "frame"))
    for row in counted:
        hits, judged = row.hits, row.judged
        x, y = number((row.across + 0.5) * CELL), number((row.down + 0.5) * CELL)
        radius = 2 + (CELL / 2 - 3) * math.sqrt(judged / most)
        canvas.add(f'<circle class="ring" cx="{x}" cy="{y}" r="{number(radius)}"/>')
        canvas.add(
            f'<circle class="weighed" cx="{x}" cy="{y}" r="{number(radius * math.sqrt(hits / judged))}"/>'
        )
    canvas.tell(f"Away from the middle: {_summary(rest)}.", None, (), (0, 0, PANEL, canvas.height))
    canvas.tell(f"In the middle: {_summary(middle)}.", None, (), inner)
    return canvas


def _summary(share: Interval) -> str:
    ends = values.interval(share.low, share.high)
    frames = values.count(share.frames, "frame")
    return f"{values.percent(share.estimate)} of {frames} in focus (95 % interval {ends})"
