"""Detail as the width of the finest spot on an animal, and ISO with what the noise on the animal is like."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from statistics import median
from typing import Any

from auditor.analysis.answers import KitAnswer
from auditor.analysis.kit_table import KitRow
from auditor.report.charts.blur import DISTANCE_M, blur_mm
from auditor.report.charts.canvas import Canvas, kit_mark, line
from auditor.report.charts.figure import PANEL, Kit, Picture, lane_name, of_kit
from auditor.report.charts.scales import Scale, isos, nice
from auditor.report.text import values
from auditor.words import DetailOutcome

Measured = Mapping[int, Sequence[tuple[Any, ...]]]
"""Rows of `chart_rows.detail_and_noise`, by kit_id."""
LANE, TOP = 42.0, 4.0
MOST_NAMED = 2
"""Kits that a title names."""
_FINER = {
    DetailOutcome.GAIN: "{names} showed finer detail than the bare lens",
    DetailOutcome.NO_GAIN: "{names} showed no finer detail than a crop of the bare lens",
}


def detail_on_animal(measured: Measured, kits: Sequence[Kit], answers: Sequence[KitAnswer]) -> Picture | None:
    """The finest detail of each kit with its interval; None where no kit has three measured scenes.

    The title is that of the comparison in like conditions, not of how these intervals lie.
    """
    from auditor.statistics.scene_quantiles import scene_quantile

    finest_mm = {}
    for kit in kits:
        rows = measured.get(kit.kit_id, ())
        finest = scene_quantile([row[1] for row in rows], [row[0] for row in rows], 0.25)
        if finest is not None:
            finest_mm[kit.kit_id] = tuple(blur_mm(value) for value in finest)
    if not finest_mm:
        return None
    own = [kit for kit in kits if kit.kit_id in finest_mm]
    title = _title(kits, answers)
    words = (
        f"The finest spot on an animal {DISTANCE_M:g} m away, lens, camera and hands together: the sharper "
        "quarter of each kit's frames as used, with the 95 % interval."
    )
    low, high = min(ends[1] for ends in finest_mm.values()), max(ends[2] for ends in finest_mm.values())
    margin = 0.08 * (high - low or 1)
    across = Scale(max(0.0, low - margin), high + margin, 16, PANEL - 16)
    canvas = _lanes(own, across, nice(across.low, across.high, 7), "mm; further left is finer")
    for place, kit in enumerate(own):
        middle, least, most = finest_mm[kit.kit_id]
        y = TOP + LANE * place
        said = f"{middle:.2f} mm ({least:.2f} to {most:.2f})"
        lane_name(canvas, kit, y + 14, said)
        parts = line(across(least), y + 27, across(most), y + 27, "whisker")
        canvas.add(
            of_kit(
                kit.kit_id,
                f'<g class="{kit.look.colour}">{parts}</g>',
                kit_mark(kit.look, across(middle), y + 27),
            )
        )
        scenes = len({row[0] for row in measured[kit.kit_id]})
        summary = f"{kit.name}: {said}, {values.count(scenes, 'scene')}."
        canvas.tell(summary, kit.kit_id, (), (0, y + 2, PANEL, LANE - 8))
    return Picture(key="detail", title=title, words=words, drawings=(canvas.svg("detail", title, words),))


def _title(kits: Sequence[Kit], answers: Sequence[KitAnswer]) -> str:
    names = {kit.kit_id: kit.name for kit in kits}
    sentences = []
    for outcome, sentence in _FINER.items():
        named = [
            names[answer.kit_id]
            for answer in answers
            if answer.kit_id in names
            and answer.comparison is not None
            and answer.comparison.detail.outcome is outcome
        ]
        if named:
            many = f"{len(named)} kits with a converter"
            sentences.append(
                sentence.format(names=values.listed(named) if len(named) <= MOST_NAMED else many)
            )
    if sentences:
        return "; ".join(sentences)
    compared = any(answer.comparison is not None for answer in answers if answer.kit_id in names)
    return f"Detail on the animal{': not settled between converter and bare lens' if compared else ''}"


def iso_and_noise(measured: Measured, kit_rows: Sequence[KitRow], kits: Sequence[Kit]) -> Picture | None:
    """ISO as used, what the bare lens would have needed, and the ISO of the bare lens that is as noisy."""
    rows = {row.kit_id: row for row in kit_rows}
    own = [kit for kit in kits if (rows[kit.kit_id].median_iso or 0) > 0]
    if not own:
        return None
    alike = as_noisy_as_iso(measured, own)
    pushed = [kit for kit in own if (rows[kit.kit_id].median_forced_push_ev or 0) > 0]
    title = "No converter pushed ISO"
    if pushed:
        kit = max(pushed, key=lambda kit: rows[kit.kit_id].median_forced_push_ev or 0)
        row = rows[kit.kit_id]
        title = (
            f"{kit.name} was at ISO {values.typical_iso(row.median_iso)}; the bare lens would have needed up "
            f"to {values.typical_iso(row.median_iso_without_converter)}"
        )
    words = (
        "Mark: median ISO, with the middle half of the frames. Ring: the most that the bare lens would "
        "have needed. Cross: the ISO at which the bare lens would be as noisy on the animal, as measured; "
        "noise reduction in the camera makes it look lower."
    )
    ends = [
        value
        for kit in own
        for value in (
            rows[kit.kit_id].lower_iso, rows[kit.kit_id].upper_iso, rows[kit.kit_id].median_iso,
            rows[kit.kit_id].median_iso_without_converter, alike.get(kit.kit_id),
        )
        if value
    ]  # fmt: skip
    across = Scale(min(ends) / 1.3, max(ends) * 1.3, 16, PANEL - 16, doubling=True)
    canvas = _lanes(own, across, isos(across.low, across.high), "ISO")
    for place, kit in enumerate(own):
        _iso_lane(canvas, kit, rows[kit.kit_id], alike.get(kit.kit_id), across, TOP + LANE * place)
    drawing = canvas.svg("iso", title, words)
    return Picture(key="iso", title=title, words=words, drawings=(drawing,), folded=True)


def as_noisy_as_iso(measured: Measured, kits: Sequence[Kit]) -> dict[int, float]:
    """The ISO at which the bare lens would be as noisy on the animal, by kit_id; a median over frames.

    Noise of a pixel grows with the root of ISO, so each body's own frames tell its noise at any ISO. Behind a
    converter of factor m the animal covers m times as many pixels across, whose noise is averaged: it falls
    to 1/m (J. R. Janesick, Photon Transfer (2007), chapter 3: shot noise).
    """
    of_body: dict[str, list[float]] = {}
    for kit in kits:
        of_body.setdefault(kit.body, []).extend(
            row[2] ** 2 / row[4] for row in measured.get(kit.kit_id, ()) if row[2] and row[4]
        )
    noise_of = {}
    for kit in kits:
        noise = [row[2] for row in measured.get(kit.kit_id, ()) if row[2] and row[4]]
        if noise and kit.factor:
            noise_of[kit.kit_id] = (median(noise) / kit.factor) ** 2 / median(of_body[kit.body])
    return noise_of


def _iso_lane(canvas: Canvas, kit: Kit, row: KitRow, alike: float | None, across: Scale, y: float) -> None:
    used, bare = row.median_iso or 0.0, row.median_iso_without_converter
    pushed = bare is not None and bare < 0.97 * used
    said = f"ISO {values.typical_iso(used)}" + (f", bare up to {values.typical_iso(bare)}" if pushed else "")
    lane_name(canvas, kit, y + 14, said)
    middle = y + 27
    parts = [line(across(row.lower_iso or used), middle, across(row.upper_iso or used), middle, "whisker")]
    summary = f"{kit.name}: median {said}"
    if pushed and bare is not None:
        x = across(bare)
        parts.append(f'<circle class="ring" cx="{x:.1f}" cy="{middle:.1f}" r="4.5"/>')
    if alike is not None:
        x = across(alike)
        parts.append(line(x - 4, middle - 4, x + 4, middle + 4, "cross"))
        parts.append(line(x - 4, middle + 4, x + 4, middle - 4, "cross"))
        summary += f"; as noisy on the animal as the bare lens at ISO {values.typical_iso(alike)}"
    canvas.add(
        of_kit(
            kit.kit_id,
            f'<g class="{kit.look.colour}">{"".join(parts)}</g>',
            kit_mark(kit.look, across(used), middle),
        )
    )
    canvas.tell(f"{summary}.", kit.kit_id, (), (0, y + 2, PANEL, LANE - 8))


def _lanes(own: Sequence[Kit], across: Scale, ticks: Sequence[float], unit: str) -> Canvas:
    """A canvas with a lane a kit over an axis."""
    bottom = TOP + LANE * len(own)
    canvas = Canvas(PANEL, bottom + 40)
    for tick in ticks:
        canvas.line(across(tick), TOP, across(tick), bottom, "grid")
        canvas.text(across(tick), bottom + 16, f"{tick:g}", anchor="middle", kind="quiet")
    canvas.text(0, bottom + 34, unit, kind="quiet")
    return canvas
