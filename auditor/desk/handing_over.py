"""Handing keepers over: the plan before anything is written, then the run, receipts and taking back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, get_args

from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from auditor.desk import forms
from auditor.desk.desk import Desk, page
from auditor.desk.forms import Fields
from auditor.errors import OutputError
from auditor.keepers.choose import Passed, choose
from auditor.keepers.plan import Plan, plan_keepers
from auditor.report.text import desk as text
from auditor.store import receipts
from auditor.store.choices import ChoiceCounts, choice_counts
from auditor.store.conditions import Conditions
from auditor.store.receipts import Way
from auditor.store.selection import Selection
from auditor.store.trips import trip_numbered
from auditor.words import Choice, Verdict

if TYPE_CHECKING:
    from auditor.desk.work import Tell
    from auditor.keepers.undo import TakenBack
    from auditor.store.logbook import Logbook

WAYS: tuple[Way, ...] = get_args(Way)
CHOSEN, SHARPEST, EVERY_HIT = "chosen", "sharpest", "hits"
SHOWN_FILES = 12
MOST_RECEIPTS = 20
HIGHEST_RATING = 5


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a form asks to be handed over."""

    trip_id: int
    which: str
    way: Way
    folder: str
    beside: bool
    """Sidecars beside the originals."""
    rating: int | None
    keyword: str


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    place = "/trips/{trip_id:int}/hand-over"
    return [
        Route(place, forms.on_page(partial(_hand_over, desk))),
        Route(f"{place}/plan", forms.on_question(partial(_show_plan, desk))),
        Route(f"{place}/begin", forms.on_form(partial(_begin, desk)), methods=["POST"]),
        Route(f"{place}/undo", forms.on_form(partial(_take_back, desk)), methods=["POST"]),
    ]


def _hand_over(desk: Desk, request: Request) -> Response:
    with desk.book() as book:
        trip = trip_numbered(book, request.path_params["trip_id"])
        counts = choice_counts(book).get(trip.trip_id, ChoiceCounts())
        latest_receipts = receipts.all_receipts(book)[-MOST_RECEIPTS:][::-1]
        read_only = book.read_only
    return page(
        "hand_over.html",
        trip=trip,
        counts=counts,
        receipts=[(receipt, _receipt_line(receipt)) for receipt in latest_receipts if receipt.files],
        progress=desk.work.progress,
        said=request.query_params.get("said", ""),
        read_only=read_only,
    )


def _show_plan(desk: Desk, request: Request, fields: Fields) -> Response:
    asked = _asked(request, fields)
    with desk.book() as book:
        trip = trip_numbered(book, asked.trip_id)
        passed, plan = _planned(book, asked)
    new = [move for move in plan.moves if not move.there_already]
    return page(
        "plan_hand_over.html",
        trip=trip,
        asked=asked,
        plan=plan,
        said=text.plan(
            asked.way,
            len(passed.kept),
            len(new),
            sum(move.size_bytes for move in new),
            len(plan.moves) - len(new),
        ),
        gone=len(passed.gone),
        shown=[(str(move.source), str(move.target)) for move in new[:SHOWN_FILES]],
        more=len(new) - SHOWN_FILES,
        nothing=not new,
    )


def _begin(desk: Desk, request: Request, fields: Fields) -> Response:
    asked = _asked(request, fields)
    if not desk.work.begin("Handing over", lambda tell: _run(desk, asked, tell)):
        raise OutputError("Something is running already: wait for it to end, or stop it.")
    return RedirectResponse(f"/trips/{asked.trip_id}/hand-over", 303)


def _take_back(desk: Desk, request: Request, fields: Fields) -> Response:
    from auditor.keepers.undo import take_back

    number = forms.number(fields, "receipt")
    if number is None:
        raise OutputError("That is not the number of a receipt.")
    with desk.book() as book:
        taken = take_back(book, number)
    desk.work.forget()  # "30 files copied" would be untrue now
    trip_id = request.path_params["trip_id"]
    return page("taken_back.html", trip_id=trip_id, left=taken.left, said=_taken_back_line(taken))


def _asked(request: Request, fields: Fields) -> Asked:
    """What a form asks for, checked."""
    which, way = forms.field(fields, "which"), forms.field(fields, "way")
    if which not in (CHOSEN, SHARPEST, EVERY_HIT):
        raise OutputError("Say which frames: those you chose, the sharpest of each burst, or all in focus.")
    chosen_way = next((each for each in WAYS if each == way), None)
    if chosen_way is None:
        raise OutputError("Say how: copies, hard links, symbolic links or sidecars.")
    rating = forms.field(fields, "rating")
    if rating and rating not in [str(number) for number in range(HIGHEST_RATING + 1)]:
        raise OutputError(f"A rating is a whole number from 0 to {HIGHEST_RATING}.")
    asked = Asked(
        trip_id=request.path_params["trip_id"],
        which=which,
        way=chosen_way,
        folder=forms.folder(fields),
        beside=chosen_way == "sidecar" and bool(forms.field(fields, "beside")),
        rating=int(rating) if rating else None,
        keyword=forms.field(fields, "keyword"),
    )
    if not asked.folder and not asked.beside:
        raise OutputError("Name the folder to hand over to.")
    if chosen_way == "sidecar" and asked.rating is None and not asked.keyword:
        raise OutputError("Say what the sidecars should hold: a rating or a keyword.")
    if not asked.keyword.isprintable():
        raise OutputError("Write a keyword in plain words.")
    return asked


def _planned(book: Logbook, asked: Asked) -> tuple[Passed, Plan]:
    """The frames that are asked for, and what would be made of them."""
    passed = choose(
        book,
        _conditions(asked.which),
        Selection(trip_id=asked.trip_id),
        at_most=1 if asked.which == SHARPEST else None,
    )
    folder = None if asked.beside else Path(asked.folder).expanduser()
    if asked.way != "sidecar":
        assert folder is not None
        return passed, plan_keepers(book, passed.kept, folder, way=asked.way)
    from auditor.keepers.sidecars import Marks, plan_sidecars

    keywords = (asked.keyword,) if asked.keyword else ()
    return passed, plan_sidecars(book, passed.kept, Marks(rating=asked.rating, keywords=keywords), folder)


def _conditions(which: str) -> Conditions:
    if which == CHOSEN:
        return Conditions(verdicts=tuple(Verdict), chosen=Choice.KEEP)
    return Conditions()


def _run(desk: Desk, asked: Asked, tell: Tell) -> str:
    from auditor.keepers.handover import hand_over

    with desk.book() as book:
        passed, plan = _planned(book, asked)
        files = sum(not move.there_already for move in plan.moves)
        done = hand_over(book, plan, progress=lambda number: tell("Handing over", "files", number, files))
    return text.handed_over(
        plan.way, len(done.made), len(done.there_already), len(done.failed) + len(passed.gone)
    )


def _receipt_line(receipt: receipts.Receipt) -> str:
    state = ", taken back" if receipt.undone_at else "" if receipt.finished_at else ", cut off"
    started_at = datetime.fromisoformat(receipt.started_at).astimezone().isoformat()
    return text.receipt(receipt.what, receipt.files, receipt.folder, started_at, state=state)


def _taken_back_line(taken: TakenBack) -> str:
    numbers = map(len, (taken.removed, taken.restored, taken.gone_already, taken.folders_removed))
    return text.taken_back(*numbers)
