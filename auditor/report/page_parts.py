"""What fills each part of the page: a function for each template that `report.html` includes.

Each gives the values by the names under which its template reads them.
"""

from __future__ import annotations

import re
import shlex
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from auditor.analysis.findings import Findings
from auditor.analysis.hints import hints
from auditor.analysis.kit_table import KitRow
from auditor.frames.kit_names import short_names
from auditor.records import KnownKit
from auditor.report import svg as drawing
from auditor.report.charts.figures import MOST_KITS, pictures
from auditor.report.frame_pictures import Cutter, FramePictures, frame_pictures
from auditor.report.frame_table import frame_table
from auditor.report.listing import MOST_BEST, ShownFrames, below, shown_frames
from auditor.report.pair import Pair, pair_of
from auditor.report.sharing import named_by_dates, without_serials
from auditor.report.short_names import with_short_names
from auditor.report.text import outcomes, values
from auditor.report.text.cards import cards
from auditor.report.text.first_screen import first_screen
from auditor.report.text.hints import kits_that_may_be_mixed, unsettled
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

Values = dict[str, Any]

MOST_UNREADABLE = 200
MOST_SCENES = 400
"""More scenes than this are too many for a list to choose from."""
MOST_UNFOLDED = 6
"""Cards of more kits than this show their answers alone until one is opened."""
_NAMED_BY_DATES = re.compile(r"\d{4}-\d\d-\d\d( to \d{4}-\d\d-\d\d)?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """What a page is about; its kits have the names that this page gives them."""

    logbook: Logbook
    trip: Trip | None
    """None for all trips."""
    settings: Settings
    findings: Findings
    kits: Sequence[KnownKit]
    """All that are in use, whether this trip used them or not."""
    kit_names: dict[int, str]
    kit_looks: dict[int, drawing.Look]
    folders: list[str]
    """Those that were scanned, to shorten paths by; a file in none of them is shown by its name alone."""
    option: str
    """What commands on the page need behind them to reach this logbook."""
    share: bool
    """Leave out what only the photographer should know."""
    cutter: Cutter

    @property
    def trip_id(self) -> int | None:
        """None for all trips."""
        return None if self.trip is None else self.trip.trip_id


def page_of(
    logbook: Logbook,
    trip: Trip | None,
    settings: Settings,
    findings: Findings,
    *,
    option: str,
    share: bool,
    cutter: Cutter,
) -> Page:
    """What a page is about; the parameters are those of `html.page_text`."""
    kits = kits_in_use(logbook)
    if share:
        kits = without_serials(kits)
        trip = None if trip is None else named_by_dates(trip)
    names = short_names(kits)
    return Page(
        logbook=logbook,
        trip=trip,
        settings=settings,
        findings=with_short_names(findings, names),
        kits=kits,
        kit_names=names,
        kit_looks=drawing.looks(kits),
        folders=[] if share else scans.folders(logbook),
        option=option,
        share=share,
        cutter=cutter,
    )


def for_first_screen(page: Page, shown: ShownFrames, pair: Pair | None) -> Values:
    """The answer of the page, the pair of pictures beside it, and what makes the answer uncertain."""
    screen = first_screen(page.findings.kits)
    return {
        "facts": _facts(page.trip, shown, encounters_of(page.logbook, page.trip_id)),
        "unfinished": in_place_of_answer(page.findings.measuring, page.option),
        "screen": screen,
        "most_lost": drawing.most_drawn(line.loss for line in screen.lines),
        "pair": pair,
    }


def for_kits(page: Page) -> Values:
    """The kit table, the cards of kits, which of them may be two, and what else no file says."""
    asked = [] if page.share else hints(page.logbook, page.trip_id)
    return {
        "kits": page.findings.table,
        "kit_looks": page.kit_looks,
        "full_names": _full_names(page.kits, page.findings.table),
        "unsettled": unsettled(asked, page.trip_id, page.option),
        "mixed_kit_ids": kits_that_may_be_mixed(asked),
        "not_measured_yet": not_measured_yet(page.findings.measuring, page.option),
        "cards": cards(page.findings.kits, page.findings.alternatives, of_trip=page.trip is not None),
        "most_unfolded": MOST_UNFOLDED,
    }


def for_charts(page: Page) -> Values:
    """The charts, and which kits they have room for."""
    drawn = pictures(page.logbook, page.trip_id, page.findings, page.kits, page.kit_looks, page.settings)
    return {"pictures": drawn.pictures, "kits_drawn": drawn.kits, "most_kits": MOST_KITS}


def for_frame_lists(page: Page, shown: ShownFrames, pictures_of: Mapping[int, FramePictures]) -> Values:
    """The walls of focus areas, the table of frames, and what both can be filtered by."""
    return {
        "shown": shown,
        "most_best": MOST_BEST,
        "pictures_of": pictures_of,
        "frame_table": frame_table(shown.rows),
        **_choices(page.findings.table, shown),
    }


def for_method(page: Page) -> Values:
    """What could not be read, how the numbers were worked out, and the command that makes the page anew."""
    unreadable = unreadable_files(page.logbook)
    return {
        "unreadable": [
            {"path": below(file.path, page.folders), "reason": file.reason}
            for file in unreadable[:MOST_UNREADABLE]
        ],
        "unreadable_in_all": len(unreadable),
        "trips_in_all": counts(page.logbook)["trips"] if page.trip is None else 0,
        "settings": [(field.name, getattr(page.settings, field.name)) for field in fields(page.settings)],
        "crop": page.settings.crop,
        "resamples": RESAMPLES,
        "command": None if page.share else command_of(page.trip) + page.option,
    }


def frames_of(page: Page) -> ShownFrames:
    """The frames that the page shows."""
    return shown_frames(page.logbook, page.trip_id, page.folders, page.kit_looks, page.kit_names)


def pictures_of(page: Page, shown: ShownFrames) -> dict[int, FramePictures]:
    """The pictures of frames that are shown with one, by frame_id."""
    frame_ids = {row.frame_id for row in (*shown.flagged, *shown.best)}
    to_show = listed_frames.to_show(page.logbook, frame_ids)
    return frame_pictures(page.logbook.path, to_show, page.cutter)


def pair_beside_answer(page: Page) -> Pair | None:
    """The pair of the converter that the answer begins with, or of whichever was used beside a bare lens."""
    against = [
        (answer.kit_id, answer.comparison.bare_kit_id)
        for answer in sorted(page.findings.kits, key=by_loss)
        if answer.comparison is not None
    ]
    return pair_of(page.logbook, page.trip_id, against, page.kit_names, page.cutter)


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


def _full_names(in_use: Sequence[KnownKit], kits: Sequence[KitRow]) -> dict[int, str]:
    """Full names by kit_id, each given once: that of a bare kit says enough for its converters too."""
    shown = {row.kit_id for row in kits}
    names = {kit.kit_id: kit.kit_name for kit in in_use if kit.kit_id in shown}
    bare = set(names.values())
    return {kit_id: name for kit_id, name in names.items() if name.rpartition(" + ")[0] not in bare}


def _choices(kits: list[KitRow], shown: ShownFrames) -> Values:
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
