"""What to mount: the plan, answering as its inputs change."""

from __future__ import annotations

from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route

from auditor.desk import forms
from auditor.desk.desk import Desk, page
from auditor.desk.kept import Kept
from auditor.desk.reports import state_of
from auditor.errors import LogbookError
from auditor.planning.outing import ANIMALS, LIGHTS, Outing, animal_named, light_named
from auditor.planning.own_kits import benched_kits, own_kits
from auditor.planning.plan import kit_map, plan
from auditor.planning.record import OwnRecord
from auditor.report.plan_page import answer_html
from auditor.report.text import desk as text
from auditor.store.kit_hits import kit_hits
from auditor.store.logbook import Logbook

USUAL_ANIMAL, USUAL_LIGHT, USUAL_DISTANCE_M = "heron", "overcast", 40.0
NEAREST_M, FARTHEST_M = 2, 300


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What the controls say."""

    animal: str
    light: str
    distance_m: float
    moving: bool


def routes(desk: Desk) -> list[Route]:
    """Routes of this part."""
    records: Kept[OwnRecord] = Kept()

    def record(book: Logbook) -> OwnRecord:
        """Each turn of a control asks for it, and it reads every encounter."""
        return records.of(None, state_of(desk.logbook_path, desk.settings), lambda: OwnRecord(kit_hits(book)))

    def mount(request: Request) -> Response:
        asked = _asked(request)
        with desk.book() as book:
            answer = _answer(book, record(book), asked)
            benches = [text.bench(result) for result in benched_kits(book)]
        return page(
            "mount.html",
            asked=asked,
            animals=list(ANIMALS),
            lights=[(word, f"{word}, EV {light_ev:g}") for word, (light_ev, _what) in LIGHTS.items()],
            nearest_m=NEAREST_M,
            farthest_m=FARTHEST_M,
            answer=answer,
            benches=benches,
        )

    def answer(request: Request) -> Response:
        with desk.book() as book:
            return HTMLResponse(_answer(book, record(book), _asked(request)))

    return [Route("/mount", forms.on_page(mount)), Route("/mount/answer", forms.on_page(answer))]


def _asked(request: Request) -> Asked:
    query = request.query_params
    try:
        distance_m = float(query.get("distance", USUAL_DISTANCE_M))
    except ValueError as error:
        raise LogbookError("A distance is a number of metres.") from error
    return Asked(
        animal=query.get("animal", USUAL_ANIMAL),
        light=query.get("light", USUAL_LIGHT),
        distance_m=distance_m,
        moving="moving" in query,
    )


def _answer(book: Logbook, record: OwnRecord, asked: Asked) -> str:
    own = own_kits(book)
    if not own.kits:
        raise LogbookError(
            "No kit in the logbook has a known sensor, lens and converter, so there is nothing to plan with. "
            "Read a card first."
        )
    try:
        animal = animal_named(asked.animal)
        outing = Outing(
            length_m=animal.length_m,
            height_m=animal.height_m,
            distance_m=asked.distance_m,
            light_ev=light_named(asked.light),
            speed_m_s=animal.speed_m_s if asked.moving else 0.0,
        )
        answer = plan(own.kits, outing, record.rates, phones=own.phones)
        return answer_html(answer, kit_map(own.kits, outing, record.rates))
    except ValueError as error:
        told = str(error).replace("distance_m", "the distance")
        raise LogbookError(f"That cannot be planned: {told}.") from error
