"""Shutter speeds of each kit, with one over the focal length."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Sequence
from statistics import median

from auditor.report.charts.canvas import Canvas
from auditor.report.charts.figure import PANEL, Kit, Picture, lane_name, of_kit
from auditor.report.charts.scales import Scale, shutters
from auditor.report.svg import number
from auditor.report.text import values
from auditor.store.chart_rows import ShutterCount

LANE, TOP = 46.0, 4.0
SLOWER = 1.06
"""A shutter is slower than 1 / focal length only by more than cameras round (1/512 is written 1/500)."""


def shutter(counted: Sequence[ShutterCount], kits: Sequence[Kit]) -> Picture | None:
    """A lane a kit, a dot a third stop; None where no frame records its exposure.

    Parameters
    ----------
    counted
        Rows of `chart_rows.shutter_by_focal_length`.
    """
    by_kit: dict[int, list[ShutterCount]] = defaultdict(list)
    for row in counted:
        by_kit[row.kit_id].append(row)
    own = [kit for kit in kits if by_kit[kit.kit_id]]
    if not own:
        return None
    title, words = _words([row for kit in own for row in by_kit[kit.kit_id]])
    reach = {kit.kit_id: 1 / median(row.focal_length_mm for row in by_kit[kit.kit_id]) for kit in own}
    times = [row.exposure_time_s for kit in own for row in by_kit[kit.kit_id]] + list(reach.values())
    across = Scale(min(times) / 1.2, max(times) * 1.2, PANEL - 12, 12, doubling=True)
    bottom = TOP + LANE * len(own)
    canvas = Canvas(PANEL, bottom + 24)
    for time_s in shutters(across.low, across.high, 7):
        canvas.line(across(time_s), TOP, across(time_s), bottom, "grid")
        said = values.exposure_time(time_s).removesuffix(" s")
        canvas.text(across(time_s), bottom + 16, said, anchor="middle", kind="quiet")
    most = max(sum(cell.values()) for cell in (_cells(by_kit[kit.kit_id]) for kit in own))
    for place, kit in enumerate(own):
        _lane(canvas, kit, by_kit[kit.kit_id], across, reach[kit.kit_id], most, TOP + LANE * place)
    drawing = canvas.svg("shutter", title, words)
    return Picture(key="shutter", title=title, words=words, drawings=(drawing,), folded=True)


def _words(rows: Sequence[ShutterCount]) -> tuple[str, str]:
    slow, fast = [0, 0, 0], [0, 0, 0]
    for row in rows:
        side = slow if row.exposure_time_s > SLOWER / row.focal_length_mm else fast
        for place, count in enumerate((row.frames, row.smeared, row.measured)):
            side[place] += count
    frames = slow[0] + fast[0]
    verb = "was" if 1 in (slow[0], frames) else "were"
    title = f"{slow[0]:,} of {values.count(frames, 'frame')} {verb} slower than 1 / focal length"
    words = (
        f"Blurred by motion: {slow[1]:,} of {slow[2]:,} measured at slower speeds, {fast[1]:,} of "
        f"{fast[2]:,} at faster ones. Larger dots are more frames; the upright line is 1 / focal length "
        "(on a smaller sensor many multiply by its crop factor)."
    )
    return title, words


def _cells(rows: Sequence[ShutterCount]) -> dict[float, int]:
    """Frames by third stop."""
    frames_of: dict[float, int] = defaultdict(int)
    for row in rows:
        frames_of[values.marked_exposure_time_s(row.exposure_time_s)] += row.frames
    return dict(frames_of)


def _lane(
    canvas: Canvas, kit: Kit, rows: Sequence[ShutterCount], across: Scale, reach_s: float, most: int, y: float
) -> None:
    slow, frames, smeared = 0, 0, 0
    for row in rows:
        frames += row.frames
        smeared += row.smeared
        slow += row.frames * (row.exposure_time_s > SLOWER / row.focal_length_mm)
    lane_name(canvas, kit, y + 14, f"{slow:,} of {frames:,} slower")
    circles = "".join(
        f'<circle class="weighed" cx="{number(across(time_s))}" cy="{number(y + 30)}" '
        f'r="{number(2.5 + 7 * math.sqrt(count / most))}"/>'
        for time_s, count in sorted(_cells(rows).items())
    )
    canvas.add(of_kit(kit.kit_id, f'<g class="{kit.look.colour}">{circles}</g>'))
    canvas.line(across(reach_s), y + 19, across(reach_s), y + 41, "limit")
    summary = (
        f"{kit.name}: {slow:,} of {values.count(frames, 'frame')} slower than 1 / focal length, {smeared:,} "
        "blurred by motion."
    )
    canvas.tell(summary, kit.kit_id, (), (0, y + 4, PANEL, LANE - 8))
