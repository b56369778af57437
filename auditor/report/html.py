"""The page itself: what its parts say and show, put into its template."""

from __future__ import annotations

import platform
import re
from collections.abc import Mapping, Sequence
from datetime import UTC, datetime
from functools import cache
from importlib import metadata, resources
from typing import TYPE_CHECKING

from auditor import __version__
from auditor.analysis.findings import Findings
from auditor.report import page_parts
from auditor.report import svg as drawing
from auditor.report.csp import content_security_policy, json_for_page
from auditor.report.frame_pictures import Cutter, FramePictures, here, true_sizes
from auditor.report.jinja import environment
from auditor.report.page_parts import Values
from auditor.report.pair import Pair
from auditor.report.text import comparisons, outcomes, values
from auditor.report.text import pair as pair_words
from auditor.settings import Settings
from auditor.store.logbook import Logbook
from auditor.store.trips import Trip

if TYPE_CHECKING:
    from jinja2 import Template

STYLES = ("first_screen.css", "kit_cards.css", "frames.css", "charts.css", "style.css", "print.css")
"""Rules of the whole page come last: those for phones and paper win."""
SCRIPTS = ("report.js", "frames.js")
_LIBRARIES = ("numpy", "scipy", "onnxruntime")


@cache
def _template() -> Template:
    """Read once for all pages: that takes longer than filling one in."""
    of_report = environment("auditor.report", _shown)
    of_report.globals.update(
        values=values,
        outcomes=outcomes,
        comparisons=comparisons,
        drawing=drawing,
        pair_words=pair_words,
        json_for_page=json_for_page,
    )
    return of_report.get_template("report.html")


def page_text(
    logbook: Logbook,
    trip: Trip | None,
    settings: Settings,
    findings: Findings,
    *,
    beside: list[str] | None = None,
    ways: Sequence[tuple[str, str]] = (),
    option: str = "",
    share: bool = False,
    cutter: Cutter = here,
) -> str:
    """The page as HTML.

    Parameters
    ----------
    trip
        A row of `store.trips.trips_newest_first`; None for all trips.
    beside
        Names of the tables that are written beside it.
    ways
        Address and name of the pages that stand beside it, where it is shown by the desk.
    option
        What commands on the page need behind them to reach this logbook.
    share
        Leave out what only the photographer should know: serial numbers, folders, the trip's name, commands.
    cutter
        Cuts pictures of frames that are not kept yet.
    """
    page = page_parts.page_of(logbook, trip, settings, findings, option=option, share=share, cutter=cutter)
    shown = page_parts.frames_of(page)
    pictures_of = page_parts.pictures_of(page, shown)
    pair = page_parts.pair_beside_answer(page)
    return _template().render(
        title=page_parts.title_of(page.trip),
        beside=beside or [],
        ways=ways,
        **_styles_and_scripts(pictures_of, pair),
        **_made(),
        **page_parts.for_first_screen(page, shown, pair),
        **page_parts.for_kits(page),
        **page_parts.for_charts(page),
        **page_parts.for_frame_lists(page, shown, pictures_of),
        **page_parts.for_method(page),
    )


def _styles_and_scripts(pictures_of: Mapping[int, FramePictures], pair: Pair | None) -> Values:
    """Everything that a browser runs or styles stands in the page, and its policy allows nothing else."""
    style = "".join(_template_text(name) for name in STYLES) + _true_sizes(pictures_of, pair)
    scripts = ["".join(_template_text(name) for name in SCRIPTS)]
    return {"policy": content_security_policy([style], scripts), "style": style, "scripts": scripts}


def _true_sizes(pictures_of: Mapping[int, FramePictures], pair: Pair | None) -> str:
    areas = [shown.area for shown in pictures_of.values()]
    return true_sizes([*areas, *((pair.converted.picture, pair.bare.picture) if pair else ())])


def _made() -> Values:
    """When the page was made, and by what."""
    libraries = (f"{name} {metadata.version(name)}" for name in _LIBRARIES)
    return {
        "made_at": datetime.now(UTC).strftime("%Y-%m-%d"),
        "version": __version__,
        "versions": ", ".join((f"Python {platform.python_version()}", *libraries)),
    }


def _shown(value: object) -> object:
    """Whatever text comes from a file shows as text; what the template calls safe is left as it is."""
    from markupsafe import Markup

    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return re.sub(r"(?<=\d) %", f"{values.NO_BREAK}%", values.plain(value))


def _template_text(name: str) -> str:
    return (resources.files("auditor.report") / "templates" / name).read_text(encoding="utf-8")
