"""Colours and shapes of kits, and small drawings as inline SVG: a kit's mark, an interval."""

from __future__ import annotations

from collections.abc import Iterable
from html import escape

from auditor.analysis.kit_table import KitRow
from auditor.report.text import values
from auditor.report.text.ledger import Loss

# Okabe and Ito, Color Universal Design (2008): told apart by colour-blind readers; black and yellow left
# out, since one vanishes on dark paper and the other on light.
COLOURS = ("#0072B2", "#E69F00", "#009E73", "#CC79A7", "#56B4E9", "#D55E00")
SHAPES = ("circle", "square", "diamond", "triangle", "cross", "bar")
"""Colour is never alone: each kit has its shape too."""


def colour_of(number: int) -> str:
    """The colour of a kit, by its number in the kit table."""
    return COLOURS[number % len(COLOURS)]


def shape_of(number: int) -> str:
    """Its shape: the seventh kit has the first colour again, but another shape."""
    return SHAPES[(number + number // len(COLOURS)) % len(SHAPES)]


def mark(number: int, x: float, y: float, size: float = 5.0) -> str:
    """The mark of a kit, by its number in the kit table."""
    colour, shape = colour_of(number), shape_of(number)
    s = size
    if shape == "circle":
        drawn = f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{s:.1f}"/>'
    elif shape == "square":
        drawn = f'<rect x="{x - s:.1f}" y="{y - s:.1f}" width="{2 * s:.1f}" height="{2 * s:.1f}"/>'
    else:
        corners = {
            "diamond": ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)),
            "triangle": ((0, -1.2), (1.2, 1), (-1.2, 1)),
            "cross": (
                (-0.4, -1.2), (0.4, -1.2), (0.4, -0.4), (1.2, -0.4), (1.2, 0.4), (0.4, 0.4),
                (0.4, 1.2), (-0.4, 1.2), (-0.4, 0.4), (-1.2, 0.4), (-1.2, -0.4), (-0.4, -0.4),
            ),
            "bar": ((-1.4, -0.5), (1.4, -0.5), (1.4, 0.5), (-1.4, 0.5)),
        }[shape]  # fmt: skip
        points = " ".join(f"{x + dx * s:.1f},{y + dy * s:.1f}" for dx, dy in corners)
        drawn = f'<polygon points="{points}"/>'
    return f'<g fill="{colour}">{drawn}</g>'


def legend_mark(number: int) -> str:
    """The mark by itself, for a table."""
    return f'<svg class="mark" viewBox="0 0 16 16" aria-hidden="true">{mark(number, 8, 8)}</svg>'


def interval(row: KitRow) -> str:
    """A hit rate and its interval on a line from 0 to 100 %; nothing where there is no rate."""
    if row.hit_rate is None or row.hit_rate_low is None or row.hit_rate_high is None:
        return ""
    low, rate, high = (2 + 96 * share for share in (row.hit_rate_low, row.hit_rate, row.hit_rate_high))
    ends = values.interval(row.hit_rate_low, row.hit_rate_high)
    told = f"{values.percent(row.hit_rate)}, 95 % interval {ends}"
    return (
        f'<svg class="interval" viewBox="0 0 100 12" role="img" aria-label="{escape(told)}">'
        '<line class="axis" x1="2" y1="6" x2="98" y2="6"/>'
        f'<line class="range" x1="{low:.1f}" y1="6" x2="{high:.1f}" y2="6"/>'
        f'<line class="rate" x1="{rate:.1f}" y1="1" x2="{rate:.1f}" y2="11"/></svg>'
    )


def loss(found: Loss, number: int, most: float, told: str) -> str:
    """A loss and its range around none, fewer frames to the left, with the mark of its kit.

    Parameters
    ----------
    most
        The loss or gain at which the line ends, as a share: the same for all kits, so that they compare.
    told
        The numbers in words.
    """
    low, likely, high = (
        80 - 72 * max(-1.0, min(1.0, one / most)) for one in (found.high, found.loss, found.low)
    )
    return (
        f'<svg class="loss" viewBox="0 0 160 18" role="img" aria-label="{escape(told)}">'
        '<line class="axis" x1="4" y1="9" x2="156" y2="9"/>'
        f'<line class="range" x1="{low:.1f}" y1="9" x2="{high:.1f}" y2="9"/>'
        '<line class="none-lost" x1="80" y1="1" x2="80" y2="17"/>'
        f"{mark(number, likely, 9, 5)}</svg>"
    )


def most_drawn(losses: Iterable[Loss | None]) -> float:
    """Where the lines of all these losses end, as a share: at least a tenth."""
    return max([0.1, *(abs(end) for one in losses if one for end in (one.low, one.high))])


def outline(area: tuple[float, float, float, float], width_px: int, height_px: int) -> str:
    """A focus area, outlined on a picture of that size; x, y (its centre), width, height are fractions."""
    x, y, width, height = area
    place = (
        f'x="{(x - width / 2) * width_px:.1f}" y="{(y - height / 2) * height_px:.1f}" '
        f'width="{width * width_px:.1f}" height="{height * height_px:.1f}"'
    )
    return f'<rect class="outline under" {place}/><rect class="outline" {place}/>'
