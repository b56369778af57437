"""A drawing as SVG text: a ground that is only looked at, and marks that show their numbers.

Colours, letters and lines are classes of charts.css, so that a drawing follows light and dark paper.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from html import escape

from auditor.report.svg import Look, mark, number
from auditor.report.text import values

LEAST_AREA = 30.0
"""Side of what a finger can hit, in units: 24 px on a phone of 360 px (WCAG 2.2, 2.5.8)."""
LETTER = 6.6
"""Width of a letter in the mean, in units, at the size that drawings are lettered in."""


@dataclass(slots=True)
class Canvas:
    """A drawing while it is made; y runs downwards."""

    width: float
    height: float
    ground: list[str] = field(default_factory=list)
    marks: list[str] = field(default_factory=list)

    def text(self, x: float, y: float, text: str, *, anchor: str = "start", kind: str = "") -> None:
        """Letters on the ground; `anchor` is start, middle or end, `kind` a class of charts.css."""
        attributes = f' text-anchor="{anchor}"' if anchor != "start" else ""
        attributes += f' class="{kind}"' if kind else ""
        self.ground.append(f'<text x="{number(x)}" y="{number(y)}"{attributes}>{shown(text)}</text>')

    def line(self, x1: float, y1: float, x2: float, y2: float, kind: str = "rule") -> None:
        """A line on the ground."""
        self.ground.append(line(x1, y1, x2, y2, kind))

    def add(self, drawn: str) -> None:
        """Any drawing on the ground."""
        self.ground.append(drawn)

    def tell(
        self,
        summary: str,
        kit_id: int | None,
        drawn: Iterable[str],
        area: tuple[float, float, float, float],
    ) -> None:
        """A mark that shows its numbers when it is pointed at, tapped or reached by keys.

        Parameters
        ----------
        summary
            Its numbers, as one sentence.
        kit_id
            The kit that it belongs to; None for all.
        drawn
            The mark itself.
        area
            Left, top, width and height of what can be hit; it grows to the least that a finger needs.
        """
        left, top, width, height = area
        wide, high = max(width, LEAST_AREA), max(height, LEAST_AREA)
        left, top = left - (wide - width) / 2, top - (high - height) / 2
        of_kit = "" if kit_id is None else f' data-kit="{kit_id}"'
        self.marks.append(
            f'<g class="tells" role="img" aria-label="{escape(values.plain(summary))}"{of_kit}>'
            f'<rect class="reach" x="{number(left)}" y="{number(top)}" '
            f'width="{number(wide)}" height="{number(high)}"/>{"".join(drawn)}</g>'
        )

    def svg(self, key: str, title: str, description: str, kind: str = "") -> str:
        """The whole drawing.

        Parameters
        ----------
        key
            What its ids begin with, once on a page.
        title, description
            What a screen reader says in its place.
        kind
            A class of charts.css.
        """
        named = f"{key}-title", f"{key}-description"
        classes = f"drawing {kind}".strip()
        return (
            f'<svg class="{classes}" viewBox="0 0 {number(self.width)} {number(self.height)}" role="group" '
            f'aria-labelledby="{named[0]}" aria-describedby="{named[1]}">'
            f'<title id="{named[0]}">{shown(title)}</title><desc id="{named[1]}">{shown(description)}</desc>'
            f'<g aria-hidden="true">{"".join(self.ground)}</g>{"".join(self.marks)}</svg>'
        )


def shown(text: str) -> str:
    """Text of an element: what could be markup or turn the line shows as text."""
    return escape(values.plain(text), quote=False)


def line(x1: float, y1: float, x2: float, y2: float, kind: str, dash: str = "") -> str:
    """A line, for the ground or for a mark."""
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    ends = f'x1="{number(x1)}" y1="{number(y1)}" x2="{number(x2)}" y2="{number(y2)}"'
    return f'<line class="{kind}" {ends}{dashed}/>'


def box(x: float, y: float, width: float, height: float, kind: str) -> str:
    """A rectangle."""
    return (
        f'<rect class="{kind}" x="{number(x)}" y="{number(y)}" '
        f'width="{number(max(0.0, width))}" height="{number(max(0.0, height))}"/>'
    )


def boxes(places: Iterable[tuple[float, float]], y: float, height: float, kind: str) -> str:
    """Rectangles side by side as one path; `places` are left and width of each. Empty where none is high."""
    path = "".join(
        f"M{number(x)} {number(y)}h{number(width)}v{number(height)}h{number(-width)}z" for x, width in places
    )
    return f'<path class="{kind}" d="{path}"/>' if path and height else ""


def ticks(places: Iterable[float], y: float, height: float, kind: str) -> str:
    """Upright ticks as one path."""
    path = "".join(f"M{number(x)} {number(y)}v{number(height)}" for x in places)
    return f'<path class="{kind}" d="{path}"/>' if path else ""


def dots(places: Iterable[tuple[float, float]], kind: str) -> str:
    """Round dots as one path: a line of no length with round ends; charts.css gives their size."""
    path = "".join(f"M{number(x)} {number(y)}h0" for x, y in places)
    return f'<path class="{kind}" d="{path}"/>' if path else ""


def curve(places: Iterable[tuple[float, float]], kind: str, dash: str = "") -> str:
    """Places joined by straight lines."""
    path = " ".join(f"{number(x)} {number(y)}" for x, y in places)
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path class="{kind}" d="M{path}"{dashed}/>' if path else ""


def kit_mark(look: Look, x: float, y: float, size: float = 6.0) -> str:
    """The mark of a kit."""
    return mark(look, x, y, size)


def letters(text: str) -> float:
    """About how wide a text is, in units."""
    return LETTER * len(text)
