"""How kits look, and small drawings as inline SVG: a kit's mark, an interval, a loss."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape

from auditor.analysis.kit_table import KitRow
from auditor.records import KnownKit
from auditor.report.text import values
from auditor.report.text.ledger import Loss

SHAPES = ("circle", "square", "diamond", "triangle", "cross", "bar")
"""One for each body and lens."""
COLOURS = {1.0: "k-bare", 1.25: "k-125", 1.4: "k-14", 1.7: "k-17", 2.0: "k-2"}
"""One for each converter, as a class of charts.css, where light and dark paper have their own tones."""
OTHER_COLOUR = "k-other"
FULL = {1.0: 0.0, 1.25: 0.4, 1.4: 0.55, 1.7: 0.75, 2.0: 1.0}
"""How much of its mark a converter fills, so that it can be seen without colour too: hollow is bare."""
DASHES = {1.0: "", 1.25: "10 4", 1.4: "6 4", 1.7: "8 3 2 3", 2.0: "2 3"}
"""How its lines are dashed."""
_CORNERS = {
    "square": ((-1, -1), (1, -1), (1, 1), (-1, 1)),
    "diamond": ((0, -1.3), (1.3, 0), (0, 1.3), (-1.3, 0)),
    "triangle": ((0, -1.3), (1.25, 0.95), (-1.25, 0.95)),
    "cross": (
        (-0.45, -1.25), (0.45, -1.25), (0.45, -0.45), (1.25, -0.45), (1.25, 0.45), (0.45, 0.45),
        (0.45, 1.25), (-0.45, 1.25), (-0.45, 0.45), (-1.25, 0.45), (-1.25, -0.45), (-0.45, -0.45),
    ),
    "bar": ((-1.45, -0.65), (1.45, -0.65), (1.45, 0.65), (-1.45, 0.65)),
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Look:
    """How a kit is drawn: the shape stands for body and lens, colour and fill for the converter."""

    shape: str
    factor: float | None
    """1 for bare; None where the converter is not known."""

    @property
    def colour(self) -> str:
        """The class that gives its colour."""
        return COLOURS.get(self.factor or 0.0, OTHER_COLOUR)

    @property
    def full(self) -> float:
        """How much of its mark is filled, 0 to 1."""
        return FULL.get(self.factor or 0.0, 0.2 if self.factor is None else 0.65)

    @property
    def dash(self) -> str:
        """The dashes of its lines; empty for an unbroken one."""
        return DASHES.get(self.factor or 0.0, "1 5")


def looks(kits: Iterable[KnownKit]) -> dict[int, Look]:
    """The look of each kit by its kit_id; body and lens together have one shape, in the order of the kits."""
    outfits: dict[tuple[str | None, ...], int] = {}
    look_of = {}
    for kit in kits:
        outfit = (kit.body_make, kit.body_model, kit.body_serial, kit.lens_name)
        place = outfits.setdefault(outfit, len(outfits))
        look_of[kit.kit_id] = Look(SHAPES[place % len(SHAPES)], kit.converter_factor)
    return look_of


def mark(look: Look, x: float, y: float, size: float = 5.0) -> str:
    """The mark of a kit.

    Parameters
    ----------
    x, y, size
        Its middle, and half of its width, in units of the drawing.
    """
    edge = max(1.2, 0.28 * size)
    half = size - edge / 2
    outer = _shape(look.shape, x, y, half, 'fill="var(--paper)"')
    inner = ""
    if look.factor is None:  # a mark within a mark: something is on, and not known
        inner = _shape(look.shape, x, y, 0.4 * half, 'fill="none"')
    elif look.full:
        inner = _shape(look.shape, x, y, half * look.full, 'fill="currentColor" stroke="none"')
    return f'<g class="{look.colour}" stroke="currentColor" stroke-width="{number(edge)}">{outer}{inner}</g>'


def _shape(shape: str, x: float, y: float, size: float, attributes: str) -> str:
    if shape == "circle":
        return f'<circle cx="{number(x)}" cy="{number(y)}" r="{number(1.05 * size)}" {attributes}/>'
    points = " ".join(f"{number(x + dx * size)},{number(y + dy * size)}" for dx, dy in _CORNERS[shape])
    return f'<polygon points="{points}" {attributes}/>'


def number(value: float) -> str:
    """A coordinate, to a tenth of a unit."""
    return f"{round(value, 1) + 0.0:g}"


def legend_mark(look: Look) -> str:
    """The mark by itself, for a table."""
    return f'<svg class="mark" viewBox="0 0 16 16" aria-hidden="true">{mark(look, 8, 8, 6)}</svg>'


def interval(row: KitRow) -> str:
    """A hit rate and its interval on a line from 0 to 100 %; nothing where there is no rate."""
    if row.hit_rate is None or row.hit_rate_low is None or row.hit_rate_high is None:
        return ""
    low, rate, high = (2 + 96 * share for share in (row.hit_rate_low, row.hit_rate, row.hit_rate_high))
    ends = values.interval(row.hit_rate_low, row.hit_rate_high)
    label = f"{values.percent(row.hit_rate)}, 95 % interval {ends}"
    return (
        f'<svg class="interval" viewBox="0 0 100 12" role="img" aria-label="{escape(label)}">'
        '<line class="axis" x1="2" y1="6" x2="98" y2="6"/>'
        f'<line class="range" x1="{low:.1f}" y1="6" x2="{high:.1f}" y2="6"/>'
        f'<line class="rate" x1="{rate:.1f}" y1="1" x2="{rate:.1f}" y2="11"/></svg>'
    )


def loss(kit_loss: Loss, look: Look, most: float, label: str) -> str:
    """A loss and its range around none, fewer frames to the left, with the mark of its kit.

    Parameters
    ----------
    most
        The loss or gain at which the line ends, as a share: the same for all kits, so that they compare.
    label
        The numbers in words.
    """
    low, likely, high = (
        80 - 72 * max(-1.0, min(1.0, end / most)) for end in (kit_loss.high, kit_loss.loss, kit_loss.low)
    )
    return (
        f'<svg class="loss" viewBox="0 0 160 18" role="img" aria-label="{escape(label)}">'
        '<line class="axis" x1="4" y1="9" x2="156" y2="9"/>'
        f'<line class="range" x1="{low:.1f}" y1="9" x2="{high:.1f}" y2="9"/>'
        '<line class="none-lost" x1="80" y1="1" x2="80" y2="17"/>'
        f"{mark(look, likely, 9, 5)}</svg>"
    )


def most_drawn(losses: Iterable[Loss | None]) -> float:
    """Where the lines of all these losses end, as a share: at least a tenth."""
    return max([0.1, *(abs(end) for kit_loss in losses if kit_loss for end in (kit_loss.low, kit_loss.high))])


def outline(area: Sequence[float], width_px: int, height_px: int) -> str:
    """A focus area, outlined on a picture of that size; x, y (its centre), width, height are fractions."""
    x, y, width, height = area
    place = (
        f'x="{(x - width / 2) * width_px:.1f}" y="{(y - height / 2) * height_px:.1f}" '
        f'width="{width * width_px:.1f}" height="{height * height_px:.1f}"'
    )
    return f'<rect class="outline under" {place}/><rect class="outline" {place}/>'
