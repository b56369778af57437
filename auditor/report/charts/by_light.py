"""In focus by light: one panel a body and lens, bare and converters together."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby

from auditor.report.charts.canvas import Canvas, curve, kit_mark, letters, line
from auditor.report.charts.figure import PANEL, Kit, Picture, heading, of_kit, outfits
from auditor.report.charts.scales import Scale, lights
from auditor.report.text import values
from auditor.store.chart_rows import LIGHT_STEP_EV, LightStep

MOST_PANELS = 4
LEFT, TOP, BOTTOM, HEIGHT = 34.0, 34.0, 206.0, 262.0
APART = 11.0
"""Between the marks of two kits in one step of light."""


@dataclass(frozen=True, slots=True)
class Share:
    """Frames in focus of one kit in one step of light."""

    kit: Kit
    light_ev: float
    """The lower end of the step."""
    share: float
    low: float
    """95 % interval, clustered by encounter."""
    high: float
    sure: tuple[float, float]
    """The interval with which it is compared: wider, since there are several comparisons (Bonferroni)."""
    frames: int


def hits_by_light(counted: Sequence[LightStep], kits: Sequence[Kit], *, whole_record: bool) -> Picture | None:
    """The picture; None where no step of light has enough encounters with any kit.

    Parameters
    ----------
    counted
        Rows of `chart_rows.hits_by_light`.
    whole_record
        Whether they are of all trips, where the page is of one.
    """
    shares = _shares(counted, kits)
    panels = [
        (group, own) for group in outfits(kits) if (own := [share for share in shares if share.kit in group])
    ]
    panels.sort(key=lambda panel: -sum(share.frames for share in panel[1]))
    if not panels:
        return None
    compared = any(kit.converted for kit in kits)
    title = _title([own for _group, own in panels]) if compared else "In focus by light"
    words = (
        f"Frames in focus of 100, with 95 % intervals{', over all your trips' if whole_record else ''}. "
        f"Not adjusted for distance or animal{'; the first table is' if compared else ''}."
    )
    ends = min(share.light_ev for share in shares), max(share.light_ev for share in shares) + LIGHT_STEP_EV
    drawings = tuple(
        _panel(own, ends).svg(f"by-light-{place}", f"{title}: {group[0].outfit}", words)
        for place, (group, own) in enumerate(panels[:MOST_PANELS])
    )
    return Picture(key="by-light", title=title, words=words, drawings=drawings)


def _shares(counted: Sequence[LightStep], kits: Sequence[Kit]) -> list[Share]:
    """One for each kit and step of light with enough encounters."""
    from auditor.analysis.rates import FEWEST_ENCOUNTERS
    from auditor.statistics.intervals import clustered_wilson, pooled_icc
    from auditor.statistics.telling import told

    cells: dict[tuple[Kit, float], tuple[list[float], list[int], list[float], list[float]]] = {}
    by_kit = []
    for kit in kits:
        own = [row for row in counted if row.kit_id == kit.kit_id]
        if own:
            by_kit.append(([row.hits for row in own], [row.judged for row in own]))
        for light_ev, cell in groupby(own, key=lambda row: row.light_ev):
            encounters = list(cell)
            if len(encounters) >= FEWEST_ENCOUNTERS:
                cells[kit, light_ev] = (
                    [row.hits for row in encounters],
                    [row.judged for row in encounters],
                    [row.base for row in encounters],
                    [row.told for row in encounters],
                )
    pool = pooled_icc(by_kit)
    comparisons = sum(kit.converted for kit, _light_ev in cells)
    sure = 1 - 0.05 / max(1, comparisons)
    shares = []
    for (kit, light_ev), (hits, frames, base, share) in cells.items():
        rate, wider = (
            told(
                clustered_wilson(hits, frames, pooled_icc=pool, confidence=confidence),
                sum(base) / sum(frames),
                sum(share) / sum(frames),
            )
            for confidence in (0.95, sure)
        )
        ends = wider.low, wider.high
        shares.append(Share(kit, light_ev, rate.estimate, rate.low, rate.high, ends, rate.frames))
    return shares


def _title(panels: Sequence[Sequence[Share]]) -> str:
    """The widest difference to the bare lens in one light whose intervals stand apart; else none."""
    apart, met = [], 0
    for own in panels:
        bare = {share.light_ev: share for share in own if share.kit.factor == 1.0}
        for share in own:
            other = bare.get(share.light_ev)
            if other is None or not share.kit.converted:
                continue
            met += 1
            if share.sure[1] < other.sure[0] or share.sure[0] > other.sure[1]:
                apart.append((abs(share.share - other.share), share, other))
    if apart:
        _by, share, other = max(apart, key=lambda pair: pair[0])
        fewer = "fewer" if share.share < other.share else "more"
        return (
            f"At EV {share.light_ev:g} to {share.light_ev + LIGHT_STEP_EV:g} {share.kit.name} had {fewer} in "
            f"focus: {100 * share.share:.0f} of 100, bare {100 * other.share:.0f}"
        )
    if met:
        return "In no light do converter and bare lens stand clearly apart"
    return "In focus by light: no light was shot often enough both with a converter and bare"


def _panel(own: Sequence[Share], ends: tuple[float, float]) -> Canvas:
    canvas = Canvas(PANEL, HEIGHT)
    heading(canvas, own[0].kit.outfit)
    light = Scale(ends[0], ends[1], LEFT + 6, PANEL - 46)
    share_y = Scale(0, 1, BOTTOM, TOP)
    for share in (0, 0.5, 1):
        canvas.line(LEFT, share_y(share), PANEL - 40, share_y(share), "grid" if share else "rule")
        canvas.text(LEFT - 6, share_y(share) + 4.5, f"{100 * share:.0f}", anchor="end", kind="quiet")
    for ev, word in lights(ends[0], ends[1], 8):
        canvas.text(light(ev), BOTTOM + 17, f"{ev:g}", anchor="middle", kind="" if word else "quiet")
        if word:
            canvas.line(light(ev), TOP, light(ev), BOTTOM, "grid")
            canvas.text(light(ev), BOTTOM + 33, word, anchor="middle")
    canvas.text(LEFT, HEIGHT - 6, "Light, EV at ISO 100", kind="quiet")
    kits = list(dict.fromkeys(share.kit for share in own))
    labels: list[tuple[float, Kit, float]] = []
    for place, kit in enumerate(kits):
        aside = APART * (place - (len(kits) - 1) / 2)
        mine = [share for share in own if share.kit is kit]
        places = [(light(share.light_ev + LIGHT_STEP_EV / 2) + aside, share_y(share.share)) for share in mine]
        parts = [curve(places, "trend", kit.look.dash)]
        parts += [
            line(x, share_y(share.low), x, share_y(share.high), "whisker")
            for share, (x, _y) in zip(mine, places, strict=True)
        ]
        parts += [kit_mark(kit.look, x, y, 6.5) for x, y in places]
        canvas.add(of_kit(kit.kit_id, f'<g class="{kit.look.colour}">{"".join(parts)}</g>'))
        labels.append((places[-1][1], kit, places[-1][0]))
    _label(canvas, labels)
    _tell(canvas, own, light)
    return canvas


def _label(canvas: Canvas, labels: list[tuple[float, Kit, float]]) -> None:
    """The name of each kit right of its last mark, moved apart where two would meet."""
    below = -99.0
    for y, kit, x in sorted(labels, key=lambda label: label[0]):
        y = max(y + 4.5, below + 15)
        below = y
        # Clear of the marks of other kits in the same step of light.
        beside = max(other for _y, _kit, other in labels if other - x < APART * len(labels))
        canvas.text(min(beside + 11, PANEL - letters(kit.behind)), y, kit.behind, kind="beside")


def _tell(canvas: Canvas, own: Sequence[Share], light: Scale) -> None:
    """The numbers of one step of light, all kits of the panel together."""
    for ev in sorted({share.light_ev for share in own}):
        inside = [share for share in own if share.light_ev == ev]
        numbers = "; ".join(
            f"{share.kit.name} {100 * share.share:.0f} of 100 in focus "
            f"({100 * share.low:.0f} to {100 * share.high:.0f}), {values.count(share.frames, 'frame')}"
            for share in inside
        )
        left, right = light(ev), light(ev + LIGHT_STEP_EV)
        kit_id = inside[0].kit.kit_id if len(inside) == 1 else None
        canvas.tell(
            f"EV {ev:g} to {ev + LIGHT_STEP_EV:g}: {numbers}.",
            kit_id,
            (),
            (left, TOP, right - left, BOTTOM - TOP),
        )
