"""One picture of the report, its words, and the kits that it draws."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from auditor.report.charts.canvas import Canvas, kit_mark
from auditor.report.svg import Look

PANEL = 400.0
"""Width of a drawing, in units: between a phone's width and a third of a laptop's, letters stay readable."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A kit as the pictures draw it."""

    kit_id: int
    name: str
    """Its short name."""
    look: Look
    outfit: str
    """Body and lens as drawings name them: without converter, and without what all kits have in common."""
    body: str
    """What tells its body from others."""
    body_name: str
    """What its body's outfits begin with; body and lens where it had only one."""

    @property
    def factor(self) -> float | None:
        """1 for bare; None where the converter is not known."""
        return self.look.factor

    @property
    def behind(self) -> str:
        """The converter alone: "bare", "x 1.4"."""
        if self.factor is None:
            return "x ?"
        return f"x {self.factor:g}" if self.factor > 1 else "bare"

    @property
    def label(self) -> str:
        """What a drawing calls it."""
        return self.outfit if self.behind == "bare" else f"{self.outfit} {self.behind}"

    @property
    def converted(self) -> bool:
        """Whether a converter was on, as far as is known."""
        return (self.factor or 1.0) > 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Picture:
    """A picture with its words."""

    key: str
    title: str
    """What it shows, no firmer than its numbers."""
    words: str
    """How to read it."""
    drawings: tuple[str, ...]
    """SVG texts, side by side where there is room."""
    folded: bool = False
    """Whether it is shown only when more is asked for."""
    with_kits: bool = False
    """Whether the marks of kits need a list that names them."""


def outfits(kits: Iterable[Kit]) -> list[list[Kit]]:
    """Kits by body and lens, each from bare to the strongest converter."""
    by_outfit: dict[str, list[Kit]] = {}
    for kit in kits:
        by_outfit.setdefault(kit.outfit, []).append(kit)
    return [sorted(group, key=lambda kit: kit.factor or 99.0) for group in by_outfit.values()]


def lane_name(canvas: Canvas, kit: Kit, y: float, said: str, *, short: bool = False) -> None:
    """A kit's mark and name above its lane, and at the right end what is said of it."""
    canvas.add(of_kit(kit.kit_id, kit_mark(kit.look, 8, y - 4.5)))
    canvas.text(20, y, kit.behind if short else kit.label)
    canvas.text(canvas.width, y, said, anchor="end", kind="quiet")


def of_kit(kit_id: int, *drawn: str) -> str:
    """Parts that fade while another kit is chosen."""
    return f'<g data-kit="{kit_id}">{"".join(drawn)}</g>'


def heading(canvas: Canvas, text: str) -> None:
    """What a panel is of, above it."""
    canvas.text(0, 14, text, kind="head")


def listed(parts: Sequence[str]) -> str:
    """Parts as one sentence."""
    return "; ".join(parts)
