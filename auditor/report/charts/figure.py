"""One picture of the report: what is drawn, and its words."""

from __future__ import annotations

from dataclasses import dataclass

from auditor.report.charts import specs as charts
from auditor.report.charts.specs import Spec

LONGEST_NAME = 56
"""Of a kit, in letters: more would not fit a lane on a phone."""


@dataclass(frozen=True, slots=True)
class Picture:
    """A picture with its words."""

    key: str
    title: str
    shows: str
    seen: str
    spec: Spec
    svg: str
    with_legend: bool = False


def picture(key: str, title: str, shows: str, seen: str, spec: Spec, *, with_legend: bool = False) -> Picture:
    """A picture, drawn once without JavaScript too."""
    return Picture(key, title, shows, seen, spec, charts.static_svg(spec), with_legend)


def kits_have(count: int) -> str:
    """How the sentence on a number of kits begins."""
    return "1 kit has" if count == 1 else f"{count} kits have"
