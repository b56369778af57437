"""The trips of the logbook, a trip's page, and reading a card."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from concurrent.futures import Future
from contextlib import suppress
from dataclasses import asdict
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from auditor.desk import forms
from auditor.desk.desk import Desk, as_json, page
from auditor.desk.forms import Fields
from auditor.desk.kept import Kept
from auditor.desk.reports import Reports, State, state_of
from auditor.desk.work import StopAskedError, Tell
from auditor.errors import FolderError
from auditor.jobs.cards import cards
from auditor.report.text import desk as text
from auditor.settings import Settings
from auditor.store.choices import ChoiceCounts, choice_counts
from auditor.store.selection import converters_used
from auditor.store.trip_summaries import trip_summaries
from auditor.store.trips import Trip, trip_numbered

if TYPE_CHECKING:
    from auditor.analysis.trips import RecordByTrips
    from auditor.store.logbook import Logbook

EVENT_EVERY_S = 0.3
WAITED_S = 300.0
"""No report takes so long; a page that waits longer asks again."""
NONE_CHOSEN = ChoiceCounts()


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    reports = Reports()
    lines = _Lines(desk)
    return [
        Route("/", forms.on_page(partial(_trips, desk))),
        Route("/trips/{trip_id:int}", forms.on_page(partial(_trip, desk, reports))),
        Route("/trips/{trip_id:int}/written", forms.on_page(partial(_written, desk, reports))),
        Route("/trips/{trip_id:int}/answer", forms.on_page(lines.answer)),
        Route("/read", forms.on_form(partial(_read, desk)), methods=["POST"]),
        Route("/progress", partial(_progress, desk)),
        Route("/stop", forms.on_form(partial(_stop, desk)), methods=["POST"]),
        Route("/close", forms.on_form(partial(_close, desk)), methods=["POST"]),
    ]


def _trips(desk: Desk, _request: Request) -> Response:
    with desk.book() as book:
        rows = trip_summaries(book)
        chosen = choice_counts(book)
        converters = converters_used(book)
        read_only = book.read_only
    return page(
        "trips.html",
        rows=[(row, text.trip_line(row), chosen.get(row.trip_id, NONE_CHOSEN)) for row in rows],
        cards=[str(card) for card in cards()],
        progress=desk.work.progress,
        converters=converters,
        logbook=str(desk.logbook_path),
        read_only=read_only,
    )


class _Lines:
    """What each trip of the list added, in a line."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._lines: Kept[str] = Kept()
        self._records: Kept[RecordByTrips] = Kept()

    def answer(self, request: Request) -> Response:
        """The line of one trip, as JSON."""
        trip_id = request.path_params["trip_id"]
        settings = self._desk.settings
        with self._desk.book() as book:
            state = state_of(self._desk.logbook_path, settings)
            said = self._lines.of(trip_id, state, lambda: self._line(book, trip_id, settings, state))
        return JSONResponse({"said": said})

    def _line(self, book: Logbook, trip_id: int, settings: Settings, state: State) -> str:
        from auditor.analysis.trips import RecordByTrips
        from auditor.report.text.losses import what_it_added

        # The trips that a list shows are asked for one after another.
        record = self._records.of("record", state, lambda: RecordByTrips(book, settings))
        added = record.added_by(trip_id)
        return "" if added is None else what_it_added(added)


def _trip(desk: Desk, reports: Reports, request: Request) -> Response:
    trip, shown = _report_begun(desk, reports, request)
    if not shown.done():
        return page("waiting.html", trip=trip)
    # The page has a policy of its own, for exactly its parts; the desk adds that none may frame it.
    return HTMLResponse(shown.result(), headers={"Content-Security-Policy": "frame-ancestors 'none'"})


def _written(desk: Desk, reports: Reports, request: Request) -> Response:
    """Answers once the page of a trip is written."""
    _report_begun(desk, reports, request)[1].exception(WAITED_S)
    return Response(status_code=204)


def _report_begun(desk: Desk, reports: Reports, request: Request) -> tuple[Trip, Future[str]]:
    with desk.book() as book:  # what follows from its frames is brought up to date first
        trip = trip_numbered(book, request.path_params["trip_id"])
    settings = desk.settings
    state = state_of(desk.logbook_path, settings)
    return trip, reports.begin(trip.trip_id, state, lambda: _report(desk, trip, settings))


def _read(desk: Desk, _request: Request, fields: Fields) -> Response:
    from auditor.jobs.scan import check_folder

    typed = forms.folder(fields)
    if not typed:
        raise FolderError(
            "Name the folder that holds the frames, or plug the card in and load the page again."
        )
    folder = check_folder(Path(typed).expanduser(), desk.logbook_path)
    again = "Read the folder again to go on from there."
    if not desk.work.begin("Reading", lambda tell: _read_card(desk, folder, tell), to_go_on=again):
        raise FolderError("Something is running already: wait for it to end, or stop it.")
    return RedirectResponse("/", 303)


async def _progress(desk: Desk, request: Request) -> Response:
    return StreamingResponse(
        _progress_events(desk, request),
        media_type="text/event-stream",
        headers={"X-Accel-Buffering": "no"},
    )


def _stop(desk: Desk, _request: Request, _fields: Fields) -> Response:
    desk.work.stop()
    return RedirectResponse("/", 303)


def _close(desk: Desk, _request: Request, _fields: Fields) -> Response:
    desk.work.stop()
    desk.close_asked = True
    return page("message.html", title="The desk is closed", said=text.CLOSED)


def _report(desk: Desk, trip: Trip, settings: Settings) -> str:
    """The report's own page, as `auditor report` writes it, with ways to the rest of the desk."""
    from auditor.analysis.findings import findings
    from auditor.jobs.colour_cuts import by_workers
    from auditor.report.html import page_text

    place = f"/trips/{trip.trip_id}"
    ways = [
        ("/", "Trips"),
        (f"{place}/encounters", "Choose"),
        (f"{place}/settle", "Settle"),
        (f"{place}/hand-over", "Hand over"),
        ("/mount", "What to mount"),
    ]
    with desk.book() as book:
        trip_findings = findings(book, trip.trip_id, settings)
        return page_text(book, trip, settings, trip_findings, ways=ways, cutter=by_workers(settings))


def _read_card(desk: Desk, folder: Path, tell: Tell) -> str:
    """Scan a folder and measure what is new: what `auditor audit` does but for the report."""
    from auditor.jobs.measure import measure, waiting_frames
    from auditor.jobs.scan import scan
    from auditor.readers.folder import walk

    settings = desk.settings
    files = sum(1 for _file in walk(folder))
    (outcome,) = scan(
        desk.logbook_path,
        [folder],
        settings,
        jobs=desk.jobs,
        progress=lambda done, _read: tell("Reading", "files", done, files),
    )
    with desk.book() as book:
        waiting = waiting_frames(book, settings)
        tell("Measuring", "frames", 0, waiting)
        measured = measure(
            book,
            settings,
            jobs=desk.jobs,
            progress=lambda done: _tell_measuring(tell, done, waiting),
            stop=desk.work.stop_asked,
        )
    not_decoded = dict(outcome.undecodable) | dict(measured.unreadable)
    return text.read_card(
        outcome.read, measured.measured, len(outcome.unreadable), len(not_decoded), outcome.passed_over
    )


def _tell_measuring(tell: Tell, done: int, waiting: int) -> None:
    """Tell how far measuring is.

    A stop that was asked for does not end it here, but where all that is measured is kept.
    """
    with suppress(StopAskedError):
        tell("Measuring", "frames", done, waiting)


async def _progress_events(desk: Desk, request: Request) -> AsyncIterator[str]:
    """Server-sent events (HTML standard, 9.2): how far the work is, whenever that has changed."""
    before = None
    while not desk.close_asked and not await request.is_disconnected():
        now = desk.work.progress
        if now != before:
            before = now
            line = text.progress(now.doing, now.things, now.done, now.total, now.a_second, now.left_s)
            yield f"data: {as_json(asdict(now) | {'line': line})}\n\n"
        await asyncio.sleep(EVENT_EVERY_S)
