"""What no file says, settled on one page: converters, clocks, names and ends of trips, test shots."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import partial
from hashlib import sha256
from itertools import groupby
from typing import TypeVar

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from auditor.analysis.hint_kinds import ConverterHint, Hint
from auditor.analysis.hints import hints
from auditor.analysis.marking import cloud_over, converter_on
from auditor.derive.declaring import Effect, declare, undo
from auditor.derive.regrouping import days_name
from auditor.desk import forms
from auditor.desk.desk import Desk, page, page_in_parts
from auditor.desk.forms import Fields
from auditor.desk.said import said_at_once
from auditor.errors import LogbookError
from auditor.frames import typed_times
from auditor.frames.body_names import body_names
from auditor.report.text import hints as hint_text
from auditor.report.text import values
from auditor.store import declarations, derived
from auditor.store.bursts import BurstLight, bursts_of_trip
from auditor.store.crops import crop_path
from auditor.store.declared_facts import ClockFacts, ExcludeFacts, Said, TripFacts
from auditor.store.logbook import Logbook
from auditor.store.trips import Trip, trip_numbered, trip_of_any, trips_newest_first

T = TypeVar("T")
SaidOn = Callable[[Logbook, Trip, Fields], Sequence[Said]]
QUESTION = "question_"
YES, NO = "yes", "no"
CLOUD = "cloud"
LEAVE_OUT = "leave out"
SHOWN_SAID = 5
"""What was said last stands open; what was said before is a press away."""
COLUMN_PX = 64
CHART_PX = 150
LABELS_PX = 44
"""At the left, for the labels of the lines; the style sheet moves the pictures by as much."""
EDGE_PX = 18
LEAST_RANGE_EV = 4.0
"""A chart shows at least so much light from its lowest to its highest line: a flat day must look flat."""

WIDE_RANGE_EV = 7.0
"""Over a wider range every second line is drawn: their labels would touch."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """A burst on the chart."""

    burst: BurstLight
    suspected: bool
    """A hint is about it."""
    x: float
    y: float | None
    """None where its light is not known."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LightChart:
    """The light that one body read along one day."""

    body: str
    day: str
    columns: list[Column]
    lines: list[tuple[float, int]]
    """Height and EV of each line across."""
    stop_px: float
    """The height of one stop."""

    @property
    def width_px(self) -> int:
        """Of the whole drawing."""
        return LABELS_PX + COLUMN_PX * len(self.columns)


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    place = "/trips/{trip_id:int}/settle"
    return [
        Route(place, forms.on_page(partial(_settle, desk))),
        *(
            Route(f"{place}/{name}", forms.on_form(partial(_declare, desk, said)), methods=["POST"])
            for name, said in _SAID_ON.items()
        ),
        Route(f"{place}/undo", forms.on_form(partial(_take_back, desk)), methods=["POST"]),
    ]


def _settle(desk: Desk, request: Request) -> Response:
    with desk.book() as book:
        trip = trip_numbered(book, request.path_params["trip_id"])
        noticed = hints(book, trip.trip_id)
        bursts = bursts_of_trip(book, trip.trip_id)
        names = body_names(derived.kits(book))
        said = said_at_once(declarations.history(book), names)
        read_only = book.read_only
    return page_in_parts(
        "settle.html",
        trip=trip,
        questions=[
            (QUESTION + _mark_of(hint), hint, hint_text.question(hint), hint_text.answer(hint))
            for hint in noticed
        ],
        heading=hint_text.heading,
        bodies=sorted({burst.body for burst in bursts}),
        names=names,
        charts=light_charts(bursts, noticed),
        pictured={burst.burst_id for burst in bursts if _is_pictured(desk, burst)},
        no_light=any(burst.light_value_ev is None for burst in bursts),
        not_known=any(burst.converter_factor is None for burst in bursts),
        column_px=COLUMN_PX,
        chart_px=CHART_PX,
        done=next((each for each in said if str(each.number) == request.query_params.get("done")), None),
        changed=request.query_params.get("changed", ""),
        said=[each for each in said if not each.taken_back],
        first_said=SHOWN_SAID,
        read_only=read_only,
    )


def _declare(desk: Desk, said: SaidOn, request: Request, fields: Fields) -> Response:
    """Declare what a form of the page says of its trip."""
    with desk.book() as book:
        trip = trip_numbered(book, request.path_params["trip_id"])
        statements = said(book, trip, fields)
        if not statements:
            raise LogbookError("Nothing was chosen.")
        number, effect = declare(book, desk.settings, statements)
        # Of a trip that is cut, the other part may have the number now.
        new_ends = any(isinstance(each.facts, TripFacts) and each.facts.fixed for each in statements)
        return _done(book, trip.trip_id, number, effect, new_ends=new_ends)


def _take_back(desk: Desk, request: Request, fields: Fields) -> Response:
    number = forms.number(fields, "number")
    with desk.book() as book:
        if number is None:
            raise LogbookError("That is not the number of a declaration.")
        if any(each.declaration_id == number and each.undone_at for each in declarations.history(book)):
            raise LogbookError("That was taken back already, perhaps in another window.")
        undone, effect = undo(book, desk.settings, number)
        return _done(book, request.path_params["trip_id"], undone[0].declaration_id, effect)


def _done(book: Logbook, trip_id: int, number: int, effect: Effect, *, new_ends: bool = False) -> Response:
    """To the page of the trip, which tells what was said or taken back."""
    could = effect.concerned or effect.changed
    changed = f"&changed={len(effect.changed)}" if could else ""
    there = {trip.trip_id for trip in trips_newest_first(book)}
    now = trip_of_any(book, effect.changed) if new_ends or trip_id not in there else trip_id
    if now is not None:
        return RedirectResponse(f"/trips/{now}/settle?done={number}{changed}", 303)
    said = said_at_once(declarations.history(book), body_names(derived.kits(book)))
    return page(
        "gone.html",
        done=next(each for each in said if each.number == number),
        changed=len(effect.changed),
        place=f"/trips/{trip_id}/settle",
    )


def _answers(book: Logbook, trip: Trip, fields: Fields) -> Sequence[Said]:
    """What was noticed, accepted or rejected; what the page leaves for later is not among it."""
    questions = {QUESTION + _mark_of(hint): hint for hint in hints(book, trip.trip_id)}
    words = {name: forms.field(fields, name) for name in fields if name.startswith(QUESTION)}
    statements = [
        _answered(questions.get(name), accept=word == YES)
        for name, word in words.items()
        if word in (YES, NO)
    ]
    if not statements:
        raise LogbookError("Nothing was answered: say Yes or No to a question first.")
    return statements


def _marks(book: Logbook, trip: Trip, fields: Fields) -> Sequence[Said]:
    """What was mounted for the marked bursts."""
    burst_ids = set(forms.numbers(fields, "burst"))
    bursts = [burst for burst in bursts_of_trip(book, trip.trip_id) if burst.burst_id in burst_ids]
    if not bursts:
        raise LogbookError("Mark the bursts first: press their pictures.")
    return _marked(book, bursts, forms.field(fields, "what"))


def _name(_book: Logbook, trip: Trip, fields: Fields) -> Sequence[Said]:
    name = forms.field(fields, "name")
    if not name:
        raise LogbookError("A trip's name cannot be empty.")
    return [Said(facts=TripFacts(name=name), from_at=trip.first_at, to_at=trip.last_at)]


def _ends(book: Logbook, trip: Trip, fields: Fields) -> Sequence[Said]:
    """The trip's own first and last moment, under its name."""
    first, last = (forms.field(fields, name) for name in ("first", "last"))
    from_at, to_at = _typed(typed_times.moment, first), _typed(typed_times.last_moment, last)
    if from_at > to_at:
        raise LogbookError("The first moment lies after the last.")
    name, span = trip.name, (from_at.isoformat(), to_at.isoformat())
    frames = declarations.trips_in_span(book, *span)
    if frames and name == days_name(trip.first_at, trip.last_at):
        name = days_name(frames[0].taken_at, frames[-1].taken_at)
    return [Said(facts=TripFacts(name=name, fixed=True), from_at=span[0], to_at=span[1])]


def _clock(book: Logbook, trip: Trip, fields: Fields) -> Sequence[Said]:
    """A body's clock that was off on this trip: by that clock, from its first frame to its last."""
    body = forms.field(fields, "body")
    body_bursts = [burst for burst in bursts_of_trip(book, trip.trip_id) if burst.body == body]
    if not body_bursts:
        raise LogbookError("That body has no frames on this trip.")
    return [
        Said(
            facts=ClockFacts(offset_s=_typed(typed_times.offset_s, forms.field(fields, "offset"))),
            body=body,
            from_at=min(burst.camera_first_at for burst in body_bursts),
            to_at=max(burst.camera_last_at for burst in body_bursts),
        )
    ]


_SAID_ON: dict[str, SaidOn] = {
    "answer": _answers,
    "mark": _marks,
    "name": _name,
    "ends": _ends,
    "clock": _clock,
}
"""The forms of the page, and what each says of the trip."""


def _typed(read: Callable[[str], T], text: str) -> T:
    try:
        return read(text)
    except ValueError as error:
        raise LogbookError(values.capital(f"{error}.")) from error


def _mark_of(hint: Hint) -> str:
    """What a page calls a question by: what either answer declares.

    A number would be another question's once one is answered, and a page stays open or comes back.
    """
    return sha256(repr((hint.said, hint.rejected)).encode()).hexdigest()[:12]


def _answered(hint: Hint | None, *, accept: bool) -> Said:
    if hint is None:
        raise LogbookError("That question is settled already, or has changed: load the page again.")
    statement = hint.said if accept else hint.rejected
    if statement is None:
        raise LogbookError("That question has nothing to accept.")
    return statement


def _marked(book: Logbook, bursts: Sequence[BurstLight], what: str) -> Sequence[Said]:
    from auditor.store.frame_files import files_of_bursts

    if what == LEAVE_OUT:
        paths = files_of_bursts(book, [burst.burst_id for burst in bursts if burst.burst_id is not None])
        return [Said(facts=ExcludeFacts(paths=tuple(paths)))]
    try:
        if what == CLOUD:
            return cloud_over(bursts)
        return [converter_on(bursts, float(what))]
    except ValueError as error:
        raise LogbookError(f"Say what was mounted for bursts of one body ({error}).") from error


def _is_pictured(desk: Desk, burst: BurstLight) -> bool:
    return crop_path(desk.logbook_path.absolute(), burst.burst_id or 0).is_file()


def light_charts(bursts: Sequence[BurstLight], noticed: Sequence[Hint]) -> list[LightChart]:
    """A chart for each body and day, in order of body and time."""
    suspected = {
        (hint.body, burst.first_at)
        for hint in noticed
        if isinstance(hint, ConverterHint)
        for burst in hint.bursts
    }
    in_order = sorted(bursts, key=lambda burst: (burst.body, burst.first_at))
    return [
        _chart(body, day, list(members), suspected)
        for (body, day), members in groupby(in_order, key=lambda burst: (burst.body, burst.first_at[:10]))
    ]


def _chart(body: str, day: str, bursts: Sequence[BurstLight], suspected: set[tuple[str, str]]) -> LightChart:
    lights_ev = [burst.light_value_ev for burst in bursts if burst.light_value_ev is not None] or [0.0]
    middle = (max(lights_ev) + min(lights_ev)) / 2
    half = max(LEAST_RANGE_EV, max(lights_ev) - min(lights_ev) + 2) / 2  # a stop of room for what is marked
    stop_px = (CHART_PX - 2 * EDGE_PX) / (2 * half)

    def height(light_ev: float) -> float:
        return EDGE_PX + (middle + half - light_ev) * stop_px

    return LightChart(
        body=body,
        day=day,
        columns=[
            Column(
                burst=burst,
                suspected=(body, burst.first_at) in suspected,
                x=LABELS_PX + COLUMN_PX * (number + 0.5),
                y=None if burst.light_value_ev is None else height(burst.light_value_ev),
            )
            for number, burst in enumerate(bursts)
        ],
        lines=[
            (height(ev), ev)
            for ev in range(round(middle - half), round(middle + half) + 1)
            if half < WIDE_RANGE_EV / 2 or ev % 2 == 0
        ],
        stop_px=stop_px,
    )
