"""The blur of every frame as a dot, with the limit of sharp: a panel a body and lens, a lane a kit."""

from __future__ import annotations

import math
from collections import defaultdict
from collections.abc import Mapping, Sequence

from auditor.optics.sensor import CRITERION_SHARE
from auditor.report.charts.canvas import Canvas, dots
from auditor.report.charts.figure import PANEL, Kit, Picture, heading, lane_name, of_kit, outfits
from auditor.report.charts.scales import Scale, round_doublings
from auditor.report.text import values
from auditor.store.chart_rows import BlurCount

DISTANCE_M = 30.0
"""An animal so far away: angles as a length that a photographer can picture."""
FINEST_MM = 0.2
"""What is finer is drawn here: no one sees it."""
MOST_PANELS = 4
STEP, STACK = 6.0, 7
"""Units between dots, and dots above each other at most; then one dot stands for several frames."""
LANE, TOP = 70.0, 24.0
HALF_LABEL = 32.0
"""Half the width of the limit's label, which may not leave the drawing."""


def blur_mm(blur_urad: float) -> float:
    """The width of a blur spot on the animal: a disc of sigma s is 4 s wide."""
    return 4 * blur_urad * DISTANCE_M / 1000


def blur_of_frames(
    counted: Sequence[BlurCount], sensor_over_reach: Mapping[int, float], kits: Sequence[Kit], crop: float
) -> Picture | None:
    """The picture; None where nothing was measured.

    Parameters
    ----------
    counted
        Rows of `chart_rows.blurs`.
    sensor_over_reach
        By kit_id, of `chart_rows.sensor_over_reach`.
    crop
        The crop that the photographer means to make.
    """
    by_kit: dict[int, list[BlurCount]] = defaultdict(list)
    for row in counted:
        by_kit[row.kit_id].append(row)
    panels = [
        (group, own) for group in outfits(kits) if (own := [kit for kit in group if by_kit[kit.kit_id]])
    ]
    panels.sort(key=lambda panel: -sum(row.frames for kit in panel[1] for row in by_kit[kit.kit_id]))
    if not panels:
        return None
    shown = [row for _group, own in panels for kit in own for row in by_kit[kit.kit_id]]
    title = _title(shown)
    limits_mm = [_limit_of(own, sensor_over_reach, crop) for _group, own in panels[:MOST_PANELS]]
    # The limit has its place too: where all is sharp it lies beyond the widest blur.
    places_mm = [blur_mm(row.blur_urad) for row in shown] + [limit for limit in limits_mm if limit]
    finest, widest = min(places_mm), max(places_mm)
    across = Scale(
        max(FINEST_MM, finest / 1.1), max(widest * 1.1, 2 * FINEST_MM), 6, PANEL - 6, doubling=True
    )
    each = max(_frames_a_dot(by_kit[kit.kit_id], across) for _group, own in panels for kit in own)
    words = (
        "Further left is sharper. Filled: in focus; rings: missed; small: unclear. "
        + (f"One dot is up to {each} frames. " if each > 1 else "")
        + "The limit is one angle for all of a lens."
    )
    drawings = []
    for place, ((_group, own), limit_mm) in enumerate(zip(panels, limits_mm, strict=False)):
        canvas = _panel(own, by_kit, across, limit_mm, each)
        drawings.append(canvas.svg(f"blur-{place}", f"{title}: {own[0].outfit}", words))
    return Picture(key="blur", title=title, words=words, drawings=tuple(drawings))


def _limit_of(kits: Sequence[Kit], sensor_over_reach: Mapping[int, float], crop: float) -> float | None:
    """The limit of a lens, mm; None where the sensor or the focal length is not known."""
    ratios = [sensor_over_reach[kit.kit_id] for kit in kits if kit.kit_id in sensor_over_reach]
    return _limit_mm(sum(ratios) / len(ratios), crop) if ratios else None


def _limit_mm(ratio: float, crop: float) -> float:
    """The widest blur spot that is sharp, on the animal: diagonal / 1500 / focal length is an angle."""
    return ratio / CRITERION_SHARE / crop * DISTANCE_M * 1000


def _title(rows: Sequence[BlurCount]) -> str:
    count = {word: sum(row.frames for row in rows if row.verdict == word) for word in ("hit", "miss")}
    frames = sum(row.frames for row in rows)
    unclear = frames - sum(count.values())
    near = sum(row.near for row in rows)
    parts = [f", {near:,} too near the limit to tell"] if near else []
    if unclear > near:
        parts.append(f", {unclear - near:,} unclear for other reasons" if near else f", {unclear:,} unclear")
    were = "was" if count["miss"] == 1 else "were"
    read = f"Of {values.count(frames, 'frame')} whose blur could be read"
    return f"{read}, {count['miss']:,} {were} not sharp on the animal{''.join(parts)}"


def _bins(rows: Sequence[BlurCount], across: Scale) -> dict[int, dict[str, int]]:
    """Frames by step of the axis and verdict."""
    steps: dict[int, dict[str, int]] = defaultdict(lambda: {"hit": 0, "unclear": 0, "miss": 0})
    for row in rows:
        place = round(across(max(blur_mm(row.blur_urad), FINEST_MM)) / STEP)
        steps[place][row.verdict or "unclear"] += row.frames
    return steps


def _frames_a_dot(rows: Sequence[BlurCount], across: Scale) -> int:
    """How many frames one dot must stand for, so that no stack is too high."""
    tallest = max(sum(step.values()) for step in _bins(rows, across).values())
    return math.ceil(tallest / STACK)


def _panel(
    own: Sequence[Kit],
    by_kit: Mapping[int, Sequence[BlurCount]],
    across: Scale,
    limit_mm: float | None,
    each: int,
) -> Canvas:
    bottom = TOP + LANE * len(own)
    canvas = Canvas(PANEL, bottom + 56)
    heading(canvas, own[0].outfit)
    canvas.line(0, bottom, PANEL, bottom, "rule")
    for mm in round_doublings(across.low, across.high):
        canvas.line(across(mm), bottom, across(mm), bottom + 4, "rule")
        canvas.text(across(mm), bottom + 18, f"{mm:g}", anchor="middle", kind="quiet")
    canvas.text(0, bottom + 52, f"Width of the blur on an animal {DISTANCE_M:g} m away, mm", kind="quiet")
    limit = None if limit_mm is None else across(limit_mm)
    for place, kit in enumerate(own):
        _lane(canvas, kit, by_kit[kit.kit_id], across, limit, TOP + LANE * place, each)
    if limit is not None and limit_mm is not None:
        for place in range(len(own)):
            y = TOP + LANE * place
            canvas.line(limit, y + 20, limit, y + LANE, "limit")
        within = min(max(limit, HALF_LABEL), PANEL - HALF_LABEL)
        canvas.text(within, bottom + 35, f"limit {limit_mm:.1f}", anchor="middle")
    return canvas


def _lane(
    canvas: Canvas,
    kit: Kit,
    rows: Sequence[BlurCount],
    across: Scale,
    limit: float | None,
    y: float,
    each: int,
) -> None:
    middle = y + 20 + (LANE - 22) / 2
    places: dict[str, list[tuple[float, float]]] = {"hit": [], "unclear": [], "miss": []}
    for step, count in _bins(rows, across).items():
        stack = [word for word, frames in count.items() for _dot in range(math.ceil(frames / each))][
            : STACK + 2
        ]
        for height, word in enumerate(stack):
            places[word].append((step * STEP, middle + STEP * (height - (len(stack) - 1) / 2)))
    canvas.add(
        of_kit(
            kit.kit_id,
            f'<g class="{kit.look.colour}">{dots(places["hit"], "dot")}{dots(places["miss"], "dot")}'
            f"{dots(places['miss'], 'dot-inside')}{dots(places['unclear'], 'dot-small')}</g>",
        )
    )
    total = _count(rows)
    lane_name(canvas, kit, y + 14, _said(total), short=True)
    for left, right, side, own in _sides(rows, limit, across):
        canvas.tell(
            f"{kit.name}{side}: {_said(_count(own))}.",
            kit.kit_id,
            (),
            (left, y + 20, right - left, LANE - 22),
        )


def _sides(
    rows: Sequence[BlurCount], limit: float | None, across: Scale
) -> list[tuple[float, float, str, list[BlurCount]]]:
    """Left and right of the limit, or all where there is none: ends, words, frames."""
    if limit is None:
        return [(0.0, PANEL, "", list(rows))]
    sharper: list[BlurCount] = []
    softer: list[BlurCount] = []
    for row in rows:
        (sharper if across(max(blur_mm(row.blur_urad), FINEST_MM)) <= limit else softer).append(row)
    return [
        (left, right, words, own)
        for left, right, words, own in (
            (0.0, limit, ", sharper than the limit", sharper),
            (limit, PANEL, ", softer than the limit", softer),
        )
        if own
    ]


def _count(rows: Sequence[BlurCount]) -> dict[str, int]:
    count = {"hit": 0, "unclear": 0, "miss": 0}
    for row in rows:
        count[row.verdict or "unclear"] += row.frames
    return count


def _said(count: Mapping[str, int]) -> str:
    unclear = f", {count['unclear']:,} unclear" if count["unclear"] else ""
    return f"{count['hit']:,} in focus, {count['miss']:,} missed{unclear}"
