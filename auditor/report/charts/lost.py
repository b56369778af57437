"""What was lost: bursts with no sharp frame, frames over the ISO ceiling, and why frames were missed."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence

from auditor.analysis.kit_table import KitRow
from auditor.report.charts.canvas import Canvas, box
from auditor.report.charts.figure import PANEL, Kit, Picture, heading, lane_name, of_kit
from auditor.report.charts.scales import Scale
from auditor.report.text import values
from auditor.store.chart_rows import LostBursts, MissCount
from auditor.words import BlurKind

LANE, MISSED_LANE, TOP, BAR = 42.0, 58.0, 24.0, 12.0
REASONS = (
    ("soft", "out of focus", (BlurKind.SOFT,)),
    ("moved", "blurred by motion", (BlurKind.SMEARED,)),
    ("elsewhere", "sharper elsewhere", (BlurKind.ELSEWHERE,)),
    ("by the camera's word", "by the camera's word", (None,)),
    ("not told", "not told why", (BlurKind.SHARP, BlurKind.UNDETERMINED)),
)
"""Why a frame was missed: short, in full, and the words of the reading."""


def what_was_lost(
    bursts: Sequence[LostBursts], missed: Sequence[MissCount], kit_rows: Sequence[KitRow], kits: Sequence[Kit]
) -> Picture | None:
    """The picture; None where nothing was judged.

    Parameters
    ----------
    bursts, missed
        Rows of `chart_rows.lost_bursts` and `chart_rows.why_missed`.
    kit_rows
        Of the kit table, for frames over the ISO ceiling.
    """
    drawn = {kit.kit_id: kit for kit in kits}
    burst_rows = {row.kit_id: row for row in bursts if row.kit_id in drawn}
    rows = {row.kit_id: row for row in kit_rows if row.kit_id in drawn}
    reasons = _reasons(missed, drawn)
    pushed = [kit for kit in kits if kit.converted and rows[kit.kit_id].iso_pushed_frames]
    if not burst_rows and not reasons and not pushed:
        return None
    title = _title(burst_rows, rows)
    told = {
        "Bursts of two frames or more.": burst_rows,
        "Over the ceiling: the bare lens would have stayed under it.": pushed,
    }
    words = " ".join(sentence for sentence, drawn_here in told.items() if drawn_here)
    panels = [
        _bursts(burst_rows, kits) if burst_rows else None,
        _pushed(rows, pushed) if pushed else None,
        _missed(reasons, kits) if reasons else None,
    ]
    drawings = tuple(
        canvas.svg(f"lost-{place}", title, words) for place, canvas in enumerate(panels) if canvas is not None
    )
    return Picture(key="lost", title=title, words=words, drawings=drawings)


def _title(bursts: Mapping[int, LostBursts], rows: Mapping[int, KitRow]) -> str:
    lost = sum(row.none_sharp for row in bursts.values())
    of = sum(row.bursts for row in bursts.values())
    pushed = sum(row.iso_pushed_frames for row in rows.values())
    maybe = sum(row.open for row in bursts.values())
    title = f"{lost:,} of {values.count(of, 'burst')} {'has' if lost == 1 else 'have'} no sharp frame"
    if not of:
        title = "Why frames were missed"
    elif not lost:
        title = (
            f"{maybe:,} of {of:,} bursts may have no sharp frame"
            if maybe
            else "Every burst has a sharp frame"
        )
    if pushed:
        title += f", and converters took {values.count(pushed, 'frame')} over your ISO ceiling"
    return title


def _reasons(missed: Sequence[MissCount], drawn: Mapping[int, Kit]) -> dict[int, dict[str, int]]:
    """Missed frames by kit and reason."""
    frames_of: dict[int, dict[str, int]] = defaultdict(lambda: {short: 0 for short, _full, _kinds in REASONS})
    for row in missed:
        if row.kit_id in drawn:
            short = next((short for short, _full, kinds in REASONS if row.kind in kinds), "not told")
            frames_of[row.kit_id][short] += row.frames
    return dict(frames_of)


def _bursts(rows: Mapping[int, LostBursts], kits: Sequence[Kit]) -> Canvas:
    own = [kit for kit in kits if kit.kit_id in rows]
    canvas = Canvas(PANEL, TOP + LANE * len(own))
    heading(canvas, "Bursts with no sharp frame")
    across = Scale(0, max(row.bursts for row in rows.values()), 0, PANEL)
    for place, kit in enumerate(own):
        row, y = rows[kit.kit_id], TOP + LANE * place
        maybe = f", {row.open:,} unclear" if row.open else ""
        said = f"{row.none_sharp:,} of {row.bursts:,}{maybe}"
        parts = [
            box(0, y + 20, across(row.bursts), BAR, "bar-all"),
            box(0, y + 20, across(row.none_sharp + row.open), BAR, "bar-open"),
            box(0, y + 20, across(row.none_sharp), BAR, "bar"),
        ]
        _bar(canvas, kit, y, said, parts, f"{kit.name}: {said} bursts have no sharp frame.")
    return canvas


def _pushed(rows: Mapping[int, KitRow], own: Sequence[Kit]) -> Canvas:
    canvas = Canvas(PANEL, TOP + LANE * len(own))
    heading(canvas, "Over your ISO ceiling, bare not")
    across = Scale(0, max(rows[kit.kit_id].frames for kit in own), 0, PANEL)
    for place, kit in enumerate(own):
        row, y = rows[kit.kit_id], TOP + LANE * place
        said = f"{row.iso_pushed_frames:,} of {values.count(row.frames, 'frame')}"
        parts = [
            box(0, y + 20, across(row.frames), BAR, "bar-all"),
            box(0, y + 20, across(row.iso_pushed_frames), BAR, "bar"),
        ]
        _bar(
            canvas, kit, y, said, parts, f"{kit.name}: {said} over the ISO ceiling because of the converter."
        )
    return canvas


def _bar(canvas: Canvas, kit: Kit, y: float, said: str, parts: Sequence[str], summary: str) -> None:
    lane_name(canvas, kit, y + 14, said)
    canvas.add(of_kit(kit.kit_id, f'<g class="{kit.look.colour}">{"".join(parts)}</g>'))
    canvas.tell(summary, kit.kit_id, (), (0, y + 2, PANEL, LANE - 8))


def _missed(reasons: Mapping[int, Mapping[str, int]], kits: Sequence[Kit]) -> Canvas:
    """A bar a kit, cut by reason, the most frequent first; below it the reasons in the same order."""
    own = [kit for kit in kits if kit.kit_id in reasons]
    canvas = Canvas(PANEL, TOP + MISSED_LANE * len(own))
    heading(canvas, "Why missed")
    across = Scale(0, max(sum(count.values()) for count in reasons.values()), 0, PANEL)
    full = {short: words for short, words, _kinds in REASONS}
    for place, kit in enumerate(own):
        count, y = reasons[kit.kit_id], TOP + MISSED_LANE * place
        cut = sorted(((frames, short) for short, frames in count.items() if frames), reverse=True)
        lane_name(canvas, kit, y + 14, f"{sum(count.values()):,} missed")
        parts, before = [], 0
        for tone, (frames, _short) in enumerate(cut):
            left, right = across(before), across(before + frames)
            parts.append(box(left, y + 20, max(1.5, right - left - 1.5), BAR, f"bar tone-{min(tone, 3)}"))
            before += frames
        canvas.add(of_kit(kit.kit_id, f'<g class="{kit.look.colour}">{"".join(parts)}</g>'))
        canvas.text(0, y + 46, ", ".join(f"{frames:,} {short}" for frames, short in cut), kind="quiet")
        by_reason = ", ".join(f"{frames:,} {full[short]}" for frames, short in cut)
        summary = f"{kit.name}, missed frames: {by_reason}."
        canvas.tell(summary, kit.kit_id, (), (0, y + 2, PANEL, MISSED_LANE - 8))
    return canvas
