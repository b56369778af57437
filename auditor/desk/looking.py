"""Keepers by eye: one encounter at a time, burst by burst."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import JSONResponse, Response
from starlette.routing import Route

from auditor.desk import forms
from auditor.desk.desk import Desk, page
from auditor.desk.forms import Fields
from auditor.errors import AuditorError, LogbookError
from auditor.keepers.by_eye import SHOWN_PX, bursts_of
from auditor.report.text import desk as text
from auditor.report.text import values
from auditor.store.choices import choose_frame
from auditor.store.derived import kits_in_use
from auditor.store.encounter_frames import encounters_of_trip, trip_of_encounter
from auditor.store.selection import converters_used
from auditor.store.trips import trip_numbered
from auditor.words import Choice

if TYPE_CHECKING:
    from auditor.store.logbook import Logbook


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    return [
        Route("/trips/{trip_id:int}/encounters", forms.on_page(partial(_encounters, desk))),
        Route("/encounters/{encounter_id:int}", forms.on_page(partial(_encounter, desk))),
        Route("/frames/{frame_id:int}/choice", forms.on_form(partial(_choose, desk)), methods=["POST"]),
    ]


def _encounters(desk: Desk, request: Request) -> Response:
    with desk.book() as book:
        trip = trip_numbered(book, request.path_params["trip_id"])
        lines = encounters_of_trip(book, trip.trip_id)
        converters = converters_used(book)
    return page(
        "encounters.html",
        trip=trip,
        converters=converters,
        lines=list(zip(lines, text.encounter_names(lines), strict=True)),
        kept=sum(line.kept for line in lines),
        left=sum(line.left for line in lines),
        frames=sum(line.frames for line in lines),
    )


def _encounter(desk: Desk, request: Request) -> Response:
    encounter_id = request.path_params["encounter_id"]
    with desk.book() as book:
        trip_id = _trip_of(book, encounter_id)
        trip = trip_numbered(book, trip_id)
        lines = encounters_of_trip(book, trip_id)
        bursts = bursts_of(book, encounter_id)
        names = _kit_names(book)
        read_only = book.read_only
    place = next(at for at, line in enumerate(lines) if line.encounter_id == encounter_id)
    return page(
        "encounter.html",
        trip=trip,
        line=lines[place],
        heading=text.encounter_names(lines)[place],
        place=place + 1,
        lines=len(lines),
        before=lines[place - 1].encounter_id if place else None,
        after=lines[place + 1].encounter_id if place + 1 < len(lines) else None,
        bursts=bursts,
        names=names,
        text=text,
        shown_px=SHOWN_PX,
        one_angle=all(burst.one_angle for burst in bursts),
        pictured=any(each.placed for burst in bursts for each in burst.frames),
        read_only=read_only,
    )


def _choose(desk: Desk, request: Request, fields: Fields) -> Response:
    """Keep one choice; the answer is what the logbook holds now."""
    choice = forms.field(fields, "choice")
    if choice not in ("", *Choice):
        return JSONResponse({"said": f"{values.plain(choice)!r} is not a choice."}, 400)
    try:
        with desk.book() as book:
            choose_frame(book, request.path_params["frame_id"], Choice(choice) if choice else None)
    except AuditorError as error:
        return JSONResponse({"said": str(error)}, 409)
    return JSONResponse({"choice": choice, "said": ""})


def _trip_of(book: Logbook, encounter_id: int) -> int:
    trip_id = trip_of_encounter(book, encounter_id)
    if trip_id is None:
        raise LogbookError(
            f"There is no encounter {encounter_id} any more: its frames were grouped anew. "
            "Go back to the trip."
        )
    return trip_id


def _kit_names(book: Logbook) -> dict[int, str]:
    from auditor.frames.kit_names import short_names

    return short_names(kits_in_use(book))
