"""The page itself: everything it says and shows, put into its template."""

from __future__ import annotations

import platform
import re
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import fields
from datetime import UTC, datetime
from functools import cache
from importlib import metadata, resources
from typing import TYPE_CHECKING, Any

from auditor import __version__
from auditor.analysis.findings import Findings
from auditor.analysis.hints import hints
from auditor.analysis.kit_table import KitRow
from auditor.frames.kit_names import short_names
from auditor.records import KnownKit
from auditor.report import svg as drawing
from auditor.report.charts.figures import MOST_KITS, pictures
from auditor.report.csp import content_security_policy, json_for_page
from auditor.report.frame_pictures import Cutter, FramePictures, frame_pictures, here, true_sizes
from auditor.report.frame_table import frame_table
from auditor.report.jinja import environment
from auditor.report.listing import MOST_BEST, ShownFrames, below, shown_frames
from auditor.report.pair import Pair, pair_of
from auditor.report.sharing import named_by_dates, without_serials
from auditor.report.short_names import with_short_names
from auditor.report.text import comparisons, outcomes, values
from auditor.report.text import pair as pair_words
from auditor.report.text.cards import cards
from auditor.report.text.first_screen import first_screen
from auditor.report.text.hints import kits_that_may_be_mixed, mixed_kits
from auditor.report.text.ledger import by_loss
from auditor.report.text.measuring import in_place_of_answer, not_measured_yet
from auditor.settings import Settings
from auditor.statistics.scene_quantiles import RESAMPLES
from auditor.store import listed_frames, scans
from auditor.store.counts import counts
from auditor.store.derived import kits_in_use
from auditor.store.logbook import Logbook
from auditor.store.trip_summaries import encounters_of
from auditor.store.trips import Trip
from auditor.store.unreadable import unreadable_files

if TYPE_CHECKING:
    from jinja2 import Template

MOST_UNREADABLE = 200
MOST_SCENES = 400
"""More scenes than this are too many for a list to choose from."""
MOST_UNFOLDED = 6
"""Cards of more kits than this show their answers alone until one is opened."""
STYLES = ("first_screen.css", "kit_cards.css", "frames.css", "charts.css", "style.css", "print.css")
"""Rules of the whole page come last: those for phones and paper win."""
SCRIPTS = ("report.js", "frames.js")
_NAMED_BY_DATES = re.compile(r"\d{4}-\d\d-\d\d( to \d{4}-\d\d-\d\d)?")
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
    trip_id = None if trip is None else trip.trip_id
    folders = [] if share else scans.folders(logbook)  # of a file in none of them its name alone is shown
    in_use = kits_in_use(logbook)
    if share:
        in_use = without_serials(in_use)
        trip = None if trip is None else named_by_dates(trip)
    names = short_names(in_use)
    findings = with_short_names(findings, names)
    kits = findings.table
    screen = first_screen(findings.kits)
    kit_looks = drawing.looks(in_use)
    shown = shown_frames(logbook, trip_id, folders, kit_looks, names)
    frame_ids = {row.frame_id for row in (*shown.flagged, *shown.best)}
    to_show = listed_frames.to_show(logbook, frame_ids)
    pictures_shown = frame_pictures(logbook.path, to_show, cutter)
    pair = _pair(logbook, trip_id, findings, names, cutter)
    drawn = pictures(logbook, trip_id, findings, in_use, kit_looks, settings)
    asked = [] if share else hints(logbook, trip_id)
    unreadable = unreadable_files(logbook)
    style = "".join(_template_text(name) for name in STYLES) + _true_sizes(pictures_shown, pair)
    scripts = ["".join(_template_text(name) for name in SCRIPTS)]
    return _template().render(
        policy=content_security_policy([style], scripts),
        style=style,
        scripts=scripts,
        version=__version__,
        versions=_versions(),
        made_at=datetime.now(UTC).strftime("%Y-%m-%d"),
        title=title_of(trip),
        facts=_facts(trip, shown, encounters_of(logbook, trip_id)),
        pair=pair,
        looks=counts(logbook)["trips"] if trip is None else 0,
        unfinished=in_place_of_answer(findings.measuring, option),
        screen=screen,
        most_lost=drawing.most_drawn(line.loss for line in screen.lines),
        may_be_mixed=mixed_kits(asked, trip_id, option),
        mixed_kit_ids=kits_that_may_be_mixed(asked),
        not_measured_yet=not_measured_yet(findings.measuring, option),
        kits=kits,
        kit_looks=kit_looks,
        full_names=_full_names(in_use, kits),
        cards=cards(findings.kits, findings.alternatives, of_trip=trip is not None),
        pictures=drawn.pictures,
        kits_drawn=drawn.kits,
        most_kits=MOST_KITS,
        most_best=MOST_BEST,
        most_unfolded=MOST_UNFOLDED,
        shown=shown,
        pictures_of=pictures_shown,
        frame_table=frame_table(shown.rows),
        **_choices(kits, shown),
        unreadable=[
            {"path": below(file.path, folders), "reason": file.reason}
            for file in unreadable[:MOST_UNREADABLE]
        ],
        unreadable_in_all=len(unreadable),
        settings=[(field.name, getattr(settings, field.name)) for field in fields(settings)],
        crop=settings.crop,
        resamples=RESAMPLES,
        command=None if share else command_of(trip) + option,
        beside=beside or [],
        ways=ways,
    )


def title_of(trip: Trip | None) -> str:
    """What the page is called: a trip by its name, which may begin with "trip" already."""
    if trip is None:
        return "All trips"
    return values.capital(values.trip_named(trip.name))


def command_of(trip: Trip | None) -> str:
    """The command that writes this page again: a trip's name is quoted for the shell."""
    if trip is None:
        return "auditor report --all-trips"
    name = trip.name
    plain = re.fullmatch(r"[\w .,:-]+", name) is not None  # in double quotes it is right in every shell
    quoted = f'"{name}"' if plain else shlex.quote(name)
    return f"auditor report --trip {quoted}"


def _facts(trip: Trip | None, shown: ShownFrames, encounters: int) -> list[str]:
    """What the page is of, in its first line; a trip that is named by its dates says them once, in words."""
    facts = []
    days = values.days(shown.first_at, shown.last_at) if shown.first_at and shown.last_at else None
    if trip is None or days is None or not _NAMED_BY_DATES.fullmatch(trip.name):
        facts.append(values.shortened(title_of(trip), 120))
    if days is not None:
        facts.append(days)
    facts.append(values.count(shown.frames_in_all, "frame"))
    if encounters:
        facts.append(values.count(encounters, "encounter"))
    if shown.without_time:
        facts.append(f"{values.whole(shown.without_time)} without a time")
    return facts


def _pair(
    logbook: Logbook, trip_id: int | None, findings: Findings, names: Mapping[int, str], cutter: Cutter
) -> Pair | None:
    """The pair of the converter that the answer begins with, or of whichever was used beside a bare lens."""
    against = [
        (answer.kit_id, answer.comparison.bare_kit_id)
        for answer in sorted(findings.kits, key=by_loss)
        if answer.comparison is not None
    ]
    return pair_of(logbook, trip_id, against, names, cutter)


def _full_names(in_use: Sequence[KnownKit], kits: Sequence[KitRow]) -> dict[int, str]:
    """Full names by kit_id, each given once: that of a bare kit says enough for its converters too."""
    shown = {row.kit_id for row in kits}
    names = {kit.kit_id: kit.kit_name for kit in in_use if kit.kit_id in shown}
    bare = set(names.values())
    return {kit_id: name for kit_id, name in names.items() if name.rpartition(" + ")[0] not in bare}


def _true_sizes(pictures_shown: Mapping[int, FramePictures], pair: Pair | None) -> str:
    areas = [shown.area for shown in pictures_shown.values()]
    return true_sizes([*areas, *((pair.converted.picture, pair.bare.picture) if pair else ())])


def _shown(value: object) -> object:
    """Whatever text comes from a file shows as text; what the template calls safe is left as it is."""
    from markupsafe import Markup

    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    return re.sub(r"(?<=\d) %", f"{values.NO_BREAK}%", values.plain(value))


def _template_text(name: str) -> str:
    return (resources.files("auditor.report") / "templates" / name).read_text(encoding="utf-8")


def _versions() -> str:
    libraries = (f"{name} {metadata.version(name)}" for name in _LIBRARIES)
    return ", ".join((f"Python {platform.python_version()}", *libraries))


def _choices(kits: list[KitRow], shown: ShownFrames) -> dict[str, list[tuple[Any, str]]]:
    """What the lists of frames can be filtered by, under the names that the template reads."""
    flags = sorted({flag for row in shown.rows for flag in row.flags})
    verdicts = [word for word in ("hit", "miss", "unclear") if any(row.verdict == word for row in shown.rows)]
    scenes: dict[int, str] = {}
    for row in shown.rows:
        if row.scene_id is not None:
            scenes.setdefault(row.scene_id, f"{row.taken_at[:16]}, {values.shortened(row.kit_name, 40)}")
    return {
        "kit_options": [(kit.kit_id, values.shortened(kit.kit_name, 60)) for kit in kits],
        "flag_options": [(flag, outcomes.flag_label(flag)) for flag in flags],
        "verdict_options": [(word, outcomes.verdict(word)) for word in verdicts],
        "scene_options": list(scenes.items())[:MOST_SCENES],
    }
